-- Attempts of learners: the chained file of each installation where practice is scored, append-only as records are.
-- depends: 0002.listing

create table handsfree.attempt_books (
    book bigint generated always as identity primary key,
    owner text not null default current_user,
    name text not null check (name <> ''),
    lines integer not null default 0,
    head bytea not null default '\x0000000000000000000000000000000000000000000000000000000000000000',
    unique (owner, name)
);
create table handsfree.attempt_pieces (
    book bigint not null references handsfree.attempt_books,
    first_line integer not null check (first_line >= 0),
    raw bytea not null check (octet_length(raw) > 0),
    received timestamptz not null default now(),
    primary key (book, first_line)
);

create function handsfree.take_attempts() returns trigger
    language plpgsql security definer set search_path = pg_catalog, pg_temp as $$
declare
    known handsfree.attempt_books%rowtype;
    found record;
begin
    select * into strict known from handsfree.attempt_books where book = new.book for update;
    select count(*) as lines, (array_agg(hash order by seq desc))[1] as head,
        min(seq) filter (where not coalesce(stated -> 'seq' = to_jsonb(seq) and stated ->> 'prev' = due
            and stated ->> 'kind' in ('attempt_scored', 'attempt_rated', 'assessor_signed'), false)) as broken
    into strict found from handsfree.chained(new.raw, new.first_line, known.lines, known.head);
    if found.broken is not null then
        raise exception 'line % does not go on from the line before it', found.broken + 1 using errcode = 'HF003';
    end if;
    update handsfree.attempt_books set lines = known.lines + found.lines, head = found.head where book = new.book;
    return null;
end
$$;
create function handsfree.refuse_change_of_book() returns trigger
    language plpgsql set search_path = pg_catalog, pg_temp as $$
begin
    if tg_op = 'UPDATE' and pg_trigger_depth() > 1 then
        if (new.book, new.owner, new.name) = (old.book, old.owner, old.name) and new.lines > old.lines then
            return new;
        end if;
    end if;
    raise exception 'table % is kept by the database', tg_table_name using errcode = 'HF005';
end
$$;
create trigger take_attempts after insert on handsfree.attempt_pieces
    for each row execute function handsfree.take_attempts();
create trigger kept before update or delete on handsfree.attempt_books
    for each row execute function handsfree.refuse_change_of_book();
create trigger kept before update or delete on handsfree.attempt_pieces
    for each row execute function handsfree.refuse_change();
create trigger whole before truncate on handsfree.attempt_books
    for each statement execute function handsfree.refuse_change();
create trigger whole before truncate on handsfree.attempt_pieces
    for each statement execute function handsfree.refuse_change();

alter table handsfree.attempt_books enable row level security;
alter table handsfree.attempt_pieces enable row level security;
revoke all on function handsfree.take_attempts(), handsfree.refuse_change_of_book() from public;
grant select on handsfree.attempt_books, handsfree.attempt_pieces
    to handsfree_room, handsfree_reviewer, handsfree_trainer;
grant insert (name) on handsfree.attempt_books to handsfree_room, handsfree_trainer;
grant insert (book, first_line, raw) on handsfree.attempt_pieces to handsfree_room, handsfree_trainer;

create policy own_reads on handsfree.attempt_books for select to handsfree_room using (owner = current_user);
create policy own_begins on handsfree.attempt_books for insert to handsfree_room, handsfree_trainer
    with check (owner = current_user);
create policy all_read on handsfree.attempt_books for select to handsfree_reviewer, handsfree_trainer using (true);
create policy own_reads on handsfree.attempt_pieces for select to handsfree_room
    using (exists (select from handsfree.attempt_books one where one.book = attempt_pieces.book and one.owner = current_user));
create policy own_appends on handsfree.attempt_pieces for insert to handsfree_room, handsfree_trainer
    with check (exists (select from handsfree.attempt_books one
        where one.book = attempt_pieces.book and one.owner = current_user));
create policy all_read on handsfree.attempt_pieces for select to handsfree_reviewer, handsfree_trainer using (true);
