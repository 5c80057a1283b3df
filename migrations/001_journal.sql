-- The journal: every write is an entry; nothing here is ever changed or removed.

create sequence entry_seq;
-- One sequence numbers every thing that can be named in an entry (person, lot, batch, ...), so that one number is
-- enough to lock it and to say which thing is meant.
create sequence subject_seq start with 1001;

create table entry (
    id          bigint      primary key,
    kind        text        not null,
    format      smallint    not null,
    happened_at timestamptz not null,
    recorded_at timestamptz not null,
    person_id   bigint      not null,
    corrects    bigint      unique references entry (id),
    reason      text        not null default '',
    key         text,
    key_digest  bytea,
    body        text        not null,
    unique (person_id, key),
    check (corrects < id),
    check (corrects is null or reason <> ''),
    check ((key is null) = (key_digest is null))
);
comment on table entry is 'append-only; body is the exact text that was recorded';
create index on entry (kind, id);

create table posting (
    entry_id bigint   not null references entry (id) deferrable initially deferred,
    line     smallint not null,
    lot_id   bigint   not null,
    place    text     not null,
    place_id bigint   not null,
    amount   numeric  not null check (amount <> 0),
    primary key (entry_id, line)
);
comment on table posting is 'append-only; per lot the amounts sum to zero';
create index on posting (lot_id, place);

-- The amount of each lot at each place. Matter cannot be taken from where it is not: only the three books that
-- stand for the world outside (supplier, made, count) may go below zero.
create table balance (
    lot_id   bigint  not null,
    place    text    not null check (place in
        ('supplier', 'made', 'count', 'shelf', 'pot', 'rack', 'ready', 'sent', 'kept', 'waste', 'air')),
    place_id bigint  not null,
    amount   numeric not null,
    primary key (lot_id, place, place_id),
    constraint balance_not_below_zero check (amount >= 0 or place in ('supplier', 'made', 'count'))
);
-- The lots that hold material are few beside those that were ever bought. There is no index that begins with the place:
-- it would be taken for the one that finds the row of a lot, and lead through every lot of the shelf.
create index on balance (lot_id) where place = 'shelf' and amount > 0;

create function refuse_change() returns trigger language plpgsql as $$
begin
    raise exception 'the journal is append-only: % on % is refused', tg_op, tg_table_name
        using errcode = 'insufficient_privilege', hint = 'record a correcting entry instead';
end $$;

create trigger entry_append_only before update or delete on entry
    for each row execute function refuse_change();
create trigger entry_no_truncate before truncate on entry
    for each statement execute function refuse_change();
create trigger posting_append_only before update or delete on posting
    for each row execute function refuse_change();
create trigger posting_no_truncate before truncate on posting
    for each statement execute function refuse_change();
