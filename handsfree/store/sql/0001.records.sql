-- Records of many rooms, append-only. A piece is what a room sent: whole lines as they stand in its file. Whatever else
-- is known of a record (facts, what the visit is) is derived from the pieces by the database itself, as they arrive.
-- depends:

create schema if not exists handsfree;

do $$
declare
    wanted text;
begin
    foreach wanted in array array['handsfree_room', 'handsfree_reviewer', 'handsfree_trainer'] loop
        if not exists (select from pg_catalog.pg_roles where rolname = wanted) then
            execute format('create role %I nologin', wanted);
        end if;
    end loop;
end
$$;

create table handsfree.visits (
    visit bigint generated always as identity primary key,
    record_id text not null unique check (record_id <> ''),
    room text not null default current_user,
    name text not null check (name <> ''),
    received timestamptz not null default now(),
    -- Kept by the database from the lines, and by nobody else.
    lines integer not null default 0,
    head bytea not null default '\x0000000000000000000000000000000000000000000000000000000000000000',
    bytes bigint not null default 0,
    form integer,
    procedure text,
    started text,
    day date,
    begun_practice boolean not null default false,
    closed_practice boolean not null default false,
    declared text,
    practice boolean not null generated always as
        (begun_practice or closed_practice or coalesce(declared = 'practice', false)) stored,
    sealed boolean not null default false
);
create index visits_by_start on handsfree.visits (started, visit);
create index visits_by_day on handsfree.visits (day);

create table handsfree.pieces (
    visit bigint not null references handsfree.visits,
    first_line integer not null check (first_line >= 0),
    raw bytea not null check (octet_length(raw) > 0),
    pushed_by text not null default current_user,
    room_clock timestamptz not null,
    received timestamptz not null default now(),
    primary key (visit, first_line)
);

-- The note of the end beside a record, as often as one was sent.
create table handsfree.end_notes (
    visit bigint not null references handsfree.visits,
    note bytea not null check (octet_length(note) between 1 and 4096),
    received timestamptz not null default now(),
    primary key (visit, note)
);

create table handsfree.clips (
    visit bigint not null references handsfree.visits,
    sha256 bytea not null,
    flac bytea not null,
    primary key (visit, sha256),
    check (sha256(flac) = sha256)
);

-- What was refused, whole and with the reason: it is the only copy of the room besides its disk.
create table handsfree.kept_aside (
    id bigint generated always as identity primary key,
    record_id text not null,
    name text not null,
    room text not null default current_user,
    reason text not null check (reason <> ''),
    raw bytea not null,
    sha256 bytea not null generated always as (sha256(raw)) stored,
    received timestamptz not null default now(),
    unique (record_id, room, sha256)
);

create function handsfree.number_of(written text) returns numeric
    language sql immutable parallel safe
    return case when written ~ '^-?[0-9]{1,30}(\.[0-9]{1,30})?([eE][-+]?[0-9]{1,2})?$' then written::numeric end;

create function handsfree.date_of(written text) returns date
    language sql immutable parallel safe
    return case when written ~ '^[0-9]{4}-[0-9]{2}-[0-9]{2}$'
        then make_date(left(written, 4)::integer, substr(written, 6, 2)::integer, substr(written, 9, 2)::integer) end;

create function handsfree.texts_of(written jsonb) returns text[]
    language plpgsql immutable strict parallel safe as $$
begin
    if jsonb_typeof(written) = 'array' then
        return array(select jsonb_array_elements_text(written));
    end if;
    return null;
end
$$;

-- Every line but events, with its data under the published schema (`handsfree schema record`). All columns after `data`
-- are generated from it; lines of an older form keep its data, and leave columns empty that it has under other names.
create table handsfree.facts (
    visit bigint not null,
    seq integer not null,
    kind text not null,
    at text not null,
    data jsonb not null,
    step text generated always as (data ->> 'step') stored,
    field text generated always as (data ->> 'field') stored,
    label text generated always as (data ->> 'label') stored,
    side text generated always as (data ->> 'side') stored,
    timing text generated always as (data ->> 'timing') stored,
    unit text generated always as (data ->> 'unit') stored,
    value_type text generated always as (coalesce(data #>> '{value,type}', data #>> '{now,value,type}')) stored,
    value_number numeric generated always as (handsfree.number_of(coalesce(
        data #>> '{value,value}', data #>> '{value,limit}', data #>> '{value,low}',
        data #>> '{now,value,value}', data #>> '{now,value,limit}', data #>> '{now,value,low}'))) stored,
    value_to numeric generated always as (handsfree.number_of(coalesce(
        data #>> '{value,high}', data #>> '{now,value,high}'))) stored,
    value_text text generated always as (coalesce(
        data #>> '{value,text}', data #>> '{now,value,text}',
        case when data #>> '{value,type}' = 'option' then data #>> '{value,value}' end,
        case when data #>> '{now,value,type}' = 'option' then data #>> '{now,value,value}' end)) stored,
    value_date date generated always as (handsfree.date_of(coalesce(
        data #>> '{value,value}', data #>> '{now,value,value}'))) stored,
    severity text generated always as (data ->> 'severity') stored,
    hold text generated always as (data ->> 'hold') stored,
    zone text generated always as (data ->> 'zone') stored,
    lit_s numeric generated always as (handsfree.number_of(data ->> 'lit_s')) stored,
    possible_s numeric generated always as (handsfree.number_of(data ->> 'possible_s')) stored,
    target_s numeric generated always as (handsfree.number_of(data ->> 'target_s')) stored,
    over_from_s numeric generated always as (handsfree.number_of(data ->> 'over_from_s')) stored,
    credited_s numeric generated always as (handsfree.number_of(data ->> 'credited_s')) stored,
    dose_j_cm2 numeric generated always as (handsfree.number_of(data ->> 'dose_j_cm2')) stored,
    flags text[] generated always as (handsfree.texts_of(data -> 'flags')) stored,
    primary key (visit, seq)
);
create index facts_by_text on handsfree.facts (value_text)
    where value_text is not null and kind in ('reading_confirmed', 'reading_amended', 'amended');
create index facts_red_or_amber on handsfree.facts (severity, visit)
    where severity in ('red', 'amber') and kind in ('reading_confirmed', 'reading_amended', 'reading_classed_again');
create index facts_over_target on handsfree.facts (visit)
    where kind = 'zone_totalled' and lit_s >= over_from_s;
create index facts_holds on handsfree.facts (kind, visit)
    where kind in ('hold_set', 'hold_lifted', 'gaps_accepted', 'zone_left', 'amended', 'clip_deleted');

-- The lines of a piece, each with its hash and with the one that it must name: that of the line before it. Refused is a
-- piece that does not begin where the next line is due, or ends inside a line.
create function handsfree.chained(raw bytea, first_line integer, lines integer, head bytea)
    returns table (seq bigint, stated jsonb, hash bytea, due text)
    language plpgsql set search_path = pg_catalog, pg_temp as $$
declare
    written text := convert_from(raw, 'UTF8');
begin
    if first_line <> lines then
        raise exception 'begins with line % where line % is due', first_line, lines using errcode = 'HF001';
    end if;
    if right(written, 1) <> E'\n' then
        raise exception 'ends inside a line' using errcode = 'HF002';
    end if;
    return query
    with split as (
        select lines + number - 1 as at, line::jsonb as said, sha256(convert_to(line, 'UTF8')) as own
        from unnest(string_to_array(left(written, -1), E'\n')) with ordinality as one (line, number)
    )
    select at, said, own, encode(lag(own, 1, head) over (order by at), 'hex') from split;
end
$$;

-- A piece is taken only where it goes on from what is there, line by line; the facts are made from its own lines.
create function handsfree.take_piece() returns trigger
    language plpgsql security definer set search_path = pg_catalog, pg_temp as $$
declare
    known handsfree.visits%rowtype;
    found record;
begin
    select * into strict known from handsfree.visits where visit = new.visit for update;
    with chained as materialized (
        select * from handsfree.chained(new.raw, new.first_line, known.lines, known.head)
    ), put as (
        insert into handsfree.facts (visit, seq, kind, at, data)
        select new.visit, seq, stated ->> 'kind', stated ->> 'at', stated -> 'data' from chained
        where stated ->> 'kind' <> 'event'
    )
    select count(*) as lines,
        min(seq) filter (where not coalesce(stated -> 'seq' = to_jsonb(seq), false)) as misplaced,
        min(seq) filter (where not coalesce(stated ->> 'prev' = due, false)) as broken,
        min(seq) filter (where stated ->> 'kind' is null or stated ->> 'at' is null
            or not coalesce(jsonb_typeof(stated -> 'data') = 'object', false)) as formless,
        min(seq) filter (where stated ->> 'kind' = 'header' and (seq <> 0 or stated #>> '{data,record_id}' <> known.record_id)
            or seq = 0 and stated ->> 'kind' <> 'header') as foreign_header,
        min(seq) filter (where stated ->> 'kind' not in ('amended', 'clip_deleted', 'sealed', 'attested', 'form_raised')) as of_visit,
        min(seq) filter (where stated ->> 'kind' in ('sealed', 'attested')
            and (stated #> '{data,lines}' <> to_jsonb(seq + 1) or stated #>> '{data,head}' <> due)) as miscounted,
        (array_agg(hash order by seq desc))[1] as head,
        (array_agg(stated -> 'data' order by seq) filter (where seq = 0))[1] as header,
        max((stated #>> '{data,form}')::integer) filter (where stated ->> 'kind' in ('header', 'form_raised')) as form,
        bool_or(stated ->> 'kind' = 'sealed') as sealed,
        (array_agg(stated #> '{data,event}' order by seq) filter (
            where stated ->> 'kind' = 'event' and lower(replace(stated #>> '{data,event,type}', '_', '')) = 'sessionstarted'))[1] as begun,
        (array_agg(stated #> '{data,practice}' order by seq desc) filter (
            where stated ->> 'kind' in ('visit_closed', 'session_closed')))[1] as closed_practice,
        (array_agg(stated #>> '{data,declared}' order by seq desc) filter (where stated ->> 'kind' = 'kind_declared'))[1] as declared
    into strict found from chained;
    if found.misplaced is not null or found.broken is not null then
        raise exception 'line % does not go on from the line before it', least(found.misplaced, found.broken) + 1
            using errcode = 'HF003';
    end if;
    if found.formless is not null or found.foreign_header is not null or found.miscounted is not null then
        raise exception 'line % is no line of this record',
            least(found.formless, found.foreign_header, found.miscounted) + 1 using errcode = 'HF003';
    end if;
    if new.pushed_by <> known.room and (found.of_visit is not null or not known.sealed) then
        raise exception 'belongs to %, and only what follows the end of a visit may come from elsewhere', known.room
            using errcode = 'HF004';
    end if;
    if known.sealed and found.of_visit is not null then
        raise exception 'line % stands after the end of the visit', found.of_visit + 1 using errcode = 'HF003';
    end if;
    update handsfree.visits set
        lines = known.lines + found.lines,
        head = found.head,
        bytes = known.bytes + octet_length(new.raw),
        form = coalesce(found.form, form),
        procedure = coalesce(procedure, found.header ->> 'procedure'),
        started = coalesce(found.begun ->> 'wall', started, found.header ->> 'started'),
        day = coalesce(day, handsfree.date_of(found.begun ->> 'today')),
        begun_practice = begun_practice or coalesce((found.header -> 'practice')::boolean, false)
            or coalesce((found.begun -> 'practice')::boolean, false),
        closed_practice = coalesce((found.closed_practice)::boolean, closed_practice),
        declared = coalesce(found.declared, declared),
        sealed = sealed or coalesce(found.sealed, false)
    where visit = new.visit;
    delete from handsfree.clips using (
        select decode(jsonb_array_elements_text(data -> 'clips_sha256'), 'hex') as gone
        from handsfree.facts where visit = new.visit and kind = 'clip_deleted' and seq >= known.lines
    ) as deleted where clips.visit = new.visit and clips.sha256 = deleted.gone;
    return null;
end
$$;
create trigger take_piece after insert on handsfree.pieces for each row execute function handsfree.take_piece();

create function handsfree.refuse_change() returns trigger
    language plpgsql set search_path = pg_catalog, pg_temp as $$
begin
    raise exception 'table % is append-only', tg_table_name using errcode = 'HF005';
end
$$;
create function handsfree.refuse_change_by_hand() returns trigger
    language plpgsql set search_path = pg_catalog, pg_temp as $$
begin
    if tg_op = 'UPDATE' and pg_trigger_depth() > 1 then
        if (new.visit, new.record_id, new.room, new.name, new.received)
            = (old.visit, old.record_id, old.room, old.name, old.received) and new.lines > old.lines then
            return new;
        end if;
    end if;
    raise exception 'table % is kept by the database', tg_table_name using errcode = 'HF005';
end
$$;
create function handsfree.refuse_deletion_by_hand() returns trigger
    language plpgsql set search_path = pg_catalog, pg_temp as $$
begin
    if tg_op = 'DELETE' and pg_trigger_depth() > 1 then
        return old;
    end if;
    raise exception 'sound goes with the line that says so' using errcode = 'HF005';
end
$$;
create function handsfree.only_from_pieces() returns trigger
    language plpgsql set search_path = pg_catalog, pg_temp as $$
begin
    if pg_trigger_depth() > 1 then
        return null;
    end if;
    raise exception 'facts are made from the pieces' using errcode = 'HF005';
end
$$;
create trigger kept before update or delete on handsfree.visits
    for each row execute function handsfree.refuse_change_by_hand();
create trigger kept before update or delete on handsfree.pieces for each row execute function handsfree.refuse_change();
create trigger kept before update or delete on handsfree.facts for each row execute function handsfree.refuse_change();
create trigger made before insert on handsfree.facts for each statement execute function handsfree.only_from_pieces();
create trigger kept before update or delete on handsfree.end_notes for each row execute function handsfree.refuse_change();
create trigger kept before update or delete on handsfree.kept_aside for each row execute function handsfree.refuse_change();
create trigger kept before update or delete on handsfree.clips
    for each row execute function handsfree.refuse_deletion_by_hand();
create trigger whole before truncate on handsfree.visits for each statement execute function handsfree.refuse_change();
create trigger whole before truncate on handsfree.pieces for each statement execute function handsfree.refuse_change();
create trigger whole before truncate on handsfree.facts for each statement execute function handsfree.refuse_change();
create trigger whole before truncate on handsfree.end_notes for each statement execute function handsfree.refuse_change();
create trigger whole before truncate on handsfree.clips for each statement execute function handsfree.refuse_change();
create trigger whole before truncate on handsfree.kept_aside for each statement execute function handsfree.refuse_change();

-- How far a record is, for whoever has a copy of it: no word of it.
create function handsfree.standing(wanted text) returns table (visit bigint, room text, lines integer, head text, sealed boolean)
    language sql stable security definer set search_path = pg_catalog, pg_temp as $$
    select visit, room, lines, encode(head, 'hex'), sealed from handsfree.visits where record_id = wanted
$$;
-- Which of many records are not there as far as somebody remembers to have sent them.
create function handsfree.lacking(ids text[], counts integer[]) returns setof text
    language sql stable security definer set search_path = pg_catalog, pg_temp as $$
    select wanted.id from unnest(ids, counts) as wanted (id, lines)
    left join handsfree.visits on visits.record_id = wanted.id
    where visits.lines is null or visits.lines < wanted.lines
$$;
create function handsfree.hash_of_line(wanted bigint, line integer) returns text
    language plpgsql stable security definer set search_path = pg_catalog, pg_temp as $$
declare
    found record;
begin
    select raw, first_line into found from handsfree.pieces
        where visit = wanted and first_line <= line order by first_line desc limit 1;
    return encode(sha256(convert_to(
        (string_to_array(convert_from(found.raw, 'UTF8'), E'\n'))[line - found.first_line + 1], 'UTF8')), 'hex');
end
$$;

alter table handsfree.visits enable row level security;
alter table handsfree.pieces enable row level security;
alter table handsfree.facts enable row level security;
alter table handsfree.end_notes enable row level security;
alter table handsfree.clips enable row level security;
alter table handsfree.kept_aside enable row level security;

revoke all on all functions in schema handsfree from public;
grant usage on schema handsfree to handsfree_room, handsfree_reviewer, handsfree_trainer;
grant select on handsfree.visits, handsfree.pieces, handsfree.facts, handsfree.end_notes, handsfree.clips
    to handsfree_room, handsfree_reviewer, handsfree_trainer;
grant select on handsfree.kept_aside to handsfree_room, handsfree_reviewer;
grant insert (record_id, name) on handsfree.visits to handsfree_room;
grant insert (visit, first_line, raw, room_clock) on handsfree.pieces to handsfree_room, handsfree_reviewer;
grant insert (visit, note) on handsfree.end_notes to handsfree_room, handsfree_reviewer;
grant insert (visit, sha256, flac) on handsfree.clips to handsfree_room;
grant insert (record_id, name, reason, raw) on handsfree.kept_aside to handsfree_room, handsfree_reviewer;
grant execute on function handsfree.standing(text), handsfree.hash_of_line(bigint, integer),
    handsfree.lacking(text[], integer[])
    to handsfree_room, handsfree_reviewer;
grant execute on function handsfree.number_of(text), handsfree.date_of(text), handsfree.texts_of(jsonb)
    to handsfree_room, handsfree_reviewer, handsfree_trainer;

create policy room_reads on handsfree.visits for select to handsfree_room using (room = current_user);
create policy room_begins on handsfree.visits for insert to handsfree_room with check (room = current_user);
create policy reviewer_reads on handsfree.visits for select to handsfree_reviewer using (true);
create policy trainer_reads on handsfree.visits for select to handsfree_trainer using (practice);

create policy room_reads on handsfree.pieces for select to handsfree_room
    using (exists (select from handsfree.visits one where one.visit = pieces.visit and one.room = current_user));
create policy room_appends on handsfree.pieces for insert to handsfree_room
    with check (pushed_by = current_user
        and exists (select from handsfree.visits one where one.visit = pieces.visit and one.room = current_user));
create policy reviewer_reads on handsfree.pieces for select to handsfree_reviewer using (true);
create policy reviewer_appends on handsfree.pieces for insert to handsfree_reviewer with check (pushed_by = current_user);
create policy trainer_reads on handsfree.pieces for select to handsfree_trainer
    using (exists (select from handsfree.visits one where one.visit = pieces.visit and one.practice));

create policy room_reads on handsfree.facts for select to handsfree_room
    using (exists (select from handsfree.visits one where one.visit = facts.visit and one.room = current_user));
create policy reviewer_reads on handsfree.facts for select to handsfree_reviewer using (true);
create policy trainer_reads on handsfree.facts for select to handsfree_trainer
    using (exists (select from handsfree.visits one where one.visit = facts.visit and one.practice));

create policy room_reads on handsfree.end_notes for select to handsfree_room
    using (exists (select from handsfree.visits one where one.visit = end_notes.visit and one.room = current_user));
create policy room_appends on handsfree.end_notes for insert to handsfree_room
    with check (exists (select from handsfree.visits one where one.visit = end_notes.visit and one.room = current_user));
create policy reviewer_reads on handsfree.end_notes for select to handsfree_reviewer using (true);
create policy reviewer_appends on handsfree.end_notes for insert to handsfree_reviewer with check (true);
create policy trainer_reads on handsfree.end_notes for select to handsfree_trainer
    using (exists (select from handsfree.visits one where one.visit = end_notes.visit and one.practice));

create policy room_reads on handsfree.clips for select to handsfree_room
    using (exists (select from handsfree.visits one where one.visit = clips.visit and one.room = current_user));
create policy room_appends on handsfree.clips for insert to handsfree_room
    with check (exists (select from handsfree.visits one where one.visit = clips.visit and one.room = current_user));
create policy reviewer_reads on handsfree.clips for select to handsfree_reviewer using (true);
create policy trainer_reads on handsfree.clips for select to handsfree_trainer
    using (exists (select from handsfree.visits one where one.visit = clips.visit and one.practice));

create policy room_reads on handsfree.kept_aside for select to handsfree_room using (room = current_user);
create policy room_appends on handsfree.kept_aside for insert to handsfree_room with check (room = current_user);
create policy reviewer_reads on handsfree.kept_aside for select to handsfree_reviewer using (true);
create policy reviewer_appends on handsfree.kept_aside for insert to handsfree_reviewer with check (room = current_user);
