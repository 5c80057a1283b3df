-- What is not replayed: secrets, personal data that must be erasable, and bytes that are named by their digest.

create table credential (
    person_id     bigint primary key,
    password_hash text   not null,
    must_change   boolean not null,
    changed_at    timestamptz not null
);

-- Sessions of the pages, in the layout that the session library expects.
create table sessions (
    token  text primary key,
    data   bytea not null,
    expiry timestamptz not null
);
create index on sessions (expiry);

-- Names and addresses of buyers. Erasing one leaves the journal, which holds only the number, whole.
create table contact (
    subject_id bigint primary key,
    name       text not null,
    address    text not null,
    email      text not null,
    phone      text not null
);
create index on contact (lower(name) text_pattern_ops);

-- Files and labels by SHA-256; insert only.
create table attachment (
    digest bytea primary key check (length(digest) = 32),
    bytes  bytea not null
);
create trigger attachment_append_only before update or delete on attachment
    for each row execute function refuse_change();
create trigger attachment_no_truncate before truncate on attachment
    for each statement execute function refuse_change();
