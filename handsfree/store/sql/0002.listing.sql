-- What a program made of a record: its line in a list and what else it folds. A cache of rooms and reviewers for each
-- version of the program; a row counts only while its head is that of the record, and may be taken away at any time.
-- depends: 0001.records

create table handsfree.listing (
    visit bigint not null references handsfree.visits,
    program text not null,
    head bytea not null,
    summary jsonb not null,
    lots text[] not null,
    started text not null generated always as (coalesce(summary ->> 'started', '')) stored,
    primary key (program, visit)
);
create index listing_by_start on handsfree.listing (program, started);
create index listing_by_lot on handsfree.listing using gin (lots);

create table handsfree.folded (
    visit bigint not null references handsfree.visits,
    program text not null,
    kind text not null,
    head bytea not null,
    learnt text not null,
    primary key (visit, program, kind)
);

-- The procedures that records carry, each once.
create table handsfree.procedures (
    sha256 bytea primary key,
    content bytea not null,
    check (sha256(content) = sha256)
);
create trigger kept before update or delete on handsfree.procedures
    for each row execute function handsfree.refuse_change();
create trigger whole before truncate on handsfree.procedures for each statement execute function handsfree.refuse_change();

alter table handsfree.listing enable row level security;
alter table handsfree.folded enable row level security;
grant select on handsfree.listing, handsfree.folded, handsfree.procedures
    to handsfree_room, handsfree_reviewer, handsfree_trainer;
grant insert, update on handsfree.listing, handsfree.folded to handsfree_room, handsfree_reviewer;
grant insert on handsfree.procedures to handsfree_room, handsfree_reviewer;

create policy room_reads on handsfree.listing for select to handsfree_room
    using (exists (select from handsfree.visits one where one.visit = listing.visit and one.room = current_user));
create policy room_adds on handsfree.listing for insert to handsfree_room
    with check (exists (select from handsfree.visits one where one.visit = listing.visit and one.room = current_user));
create policy room_renews on handsfree.listing for update to handsfree_room
    using (exists (select from handsfree.visits one where one.visit = listing.visit and one.room = current_user));
create policy reviewer_reads on handsfree.listing for select to handsfree_reviewer using (true);
create policy reviewer_adds on handsfree.listing for insert to handsfree_reviewer with check (true);
create policy reviewer_renews on handsfree.listing for update to handsfree_reviewer using (true);
create policy trainer_reads on handsfree.listing for select to handsfree_trainer
    using (exists (select from handsfree.visits one where one.visit = listing.visit and one.practice));

create policy room_reads on handsfree.folded for select to handsfree_room
    using (exists (select from handsfree.visits one where one.visit = folded.visit and one.room = current_user));
create policy room_adds on handsfree.folded for insert to handsfree_room
    with check (exists (select from handsfree.visits one where one.visit = folded.visit and one.room = current_user));
create policy room_renews on handsfree.folded for update to handsfree_room
    using (exists (select from handsfree.visits one where one.visit = folded.visit and one.room = current_user));
create policy reviewer_reads on handsfree.folded for select to handsfree_reviewer using (true);
create policy reviewer_adds on handsfree.folded for insert to handsfree_reviewer with check (true);
create policy reviewer_renews on handsfree.folded for update to handsfree_reviewer using (true);
create policy trainer_reads on handsfree.folded for select to handsfree_trainer
    using (exists (select from handsfree.visits one where one.visit = folded.visit and one.practice));
