-- The tables that pages and queries read. Each row follows from entries: replaying the journal into empty tables
-- gives the same rows, which the verify command checks.

create table shop (
    id            smallint primary key check (id = 1),
    name          text    not null,
    address       text[]  not null,
    contact       text    not null,
    timezone      text    not null,
    currency      text    not null,
    label_style   text    not null,
    cure_days     integer not null,
    loss_per_week numeric not null,
    entry_id      bigint  not null
);

create table person (
    id       bigint  primary key,
    login    text    not null unique,
    name     text    not null,
    role     text    not null,
    active   boolean not null,
    entry_id bigint  not null
);

-- The last serial given to a kind of printed code on a day.
create table serial (
    kind text    not null,
    day  date    not null,
    last integer not null,
    primary key (kind, day)
);

create table supplier (
    id       bigint primary key,
    name     text   not null unique,
    note     text   not null,
    entry_id bigint not null
);

create table material (
    id           bigint  primary key,
    name         text    not null unique,
    kind         text    not null,
    us_name      text    not null,
    eu_name      text    not null,
    cas          text    not null,
    sap_min      numeric,
    sap_max      numeric,
    sap_source   text    not null,
    no_glycerol  boolean not null,
    alkali       text    not null,
    density      numeric,
    caution      text    not null,
    invented     boolean not null,
    entry_id     bigint  not null
);

-- What a prepared material is made of, as planned.
create table material_part (
    material_id bigint  not null,
    part_id     bigint  not null,
    share       numeric not null,
    primary key (material_id, part_id)
);

create table formula (
    id       bigint primary key,
    name     text   not null unique,
    entry_id bigint not null
);

create table formula_version (
    id            bigint  primary key,
    formula_id    bigint  not null,
    version       integer not null,
    name          text    not null,
    oil_grams     numeric not null,
    superfat      numeric not null,
    concentration numeric not null,
    alkali_id     bigint  not null,
    alkali_purity numeric not null,
    water_id      bigint  not null,
    stock_lye_id  bigint,
    temp_min_c    numeric,
    temp_max_c    numeric,
    mould_hours   integer not null,
    cure_days     integer not null,
    bars          integer not null,
    note          text    not null,
    entry_id      bigint  not null,
    unique (formula_id, version)
);

create table formula_portion (
    version_id bigint   not null,
    portion    text     not null,
    line       smallint not null,
    share      numeric  not null,
    primary key (version_id, portion)
);

create table formula_line (
    version_id  bigint   not null,
    line        smallint not null,
    material_id bigint   not null,
    portion     text     not null,
    basis       text     not null,
    amount      numeric  not null,
    unit        text     not null,
    per_unit    text     not null,
    grams       numeric  not null,
    primary key (version_id, line)
);

-- All that is to be weighed at the formula's own size, alkali and water included.
create table formula_plan (
    version_id  bigint   not null,
    line        smallint not null,
    material_id bigint   not null,
    portion     text     not null,
    grams       numeric  not null,
    tolerance   numeric  not null,
    primary key (version_id, line)
);

create table batch (
    id                 bigint  primary key,
    code               text    not null unique,
    purpose            text    not null,
    name               text    not null,
    formula_version_id bigint,
    material_id        bigint,
    stage              text    not null,
    planned_on         date    not null,
    temp_min_c         numeric,
    temp_max_c         numeric,
    mould_hours        integer not null,
    cure_days          integer not null,
    superfat           numeric,
    poured_at          timestamptz,
    cut_at             timestamptz,
    entry_id           bigint  not null
);
create index on batch (formula_version_id);
create index on batch (stage);

create table batch_portion (
    batch_id bigint   not null,
    portion  text     not null,
    line     smallint not null,
    share    numeric  not null,
    grams    numeric,
    primary key (batch_id, portion)
);

create table batch_line (
    batch_id    bigint   not null,
    line        smallint not null,
    material_id bigint   not null,
    portion     text     not null,
    planned     numeric  not null,
    tolerance   numeric  not null,
    primary key (batch_id, line)
);

create table lot (
    id           bigint  primary key,
    code         text    not null unique,
    what         text    not null check (what in ('bought', 'prepared', 'bars', 'remnants')),
    name         text    not null,
    unit         text    not null check (unit in ('g', 'piece')),
    amount       numeric not null check (amount > 0),
    material_id  bigint,
    supplier_id  bigint,
    supplier_lot text    not null,
    batch_id     bigint,
    portion      text    not null,
    made_on      date    not null,
    best_before  date,
    cost         numeric,
    purity       numeric,
    sap_value    numeric,
    grams        numeric not null,
    poured_grams numeric not null,
    pour_share   numeric not null, -- of what its batch poured; 0 for what was bought or prepared
    held         boolean not null,
    hold_reason  text    not null,
    struck_by    bigint,
    entry_id     bigint  not null
);
create index on lot (material_id);
create index on lot (batch_id) where batch_id is not null;
create index on lot (lower(supplier_lot)) where supplier_lot <> '';

create table document (
    id         bigint primary key,
    lot_id     bigint not null,
    kind       text   not null,
    title      text   not null,
    media_type text   not null,
    digest     bytea  not null,
    size       bigint not null,
    expires_on date,
    entry_id   bigint not null
);
create index on document (lot_id);

create table weighing (
    entry_id     bigint  primary key,
    batch_id     bigint  not null,
    line         smallint,
    lot_id       bigint  not null,
    portion      text    not null,
    planned      numeric,
    tolerance    numeric,
    amount       numeric not null,
    grams        numeric not null,
    poured_grams numeric not null,
    leaves       boolean not null,
    partial      boolean not null default false, -- more of the line was to follow
    typed        text    not null,
    unit         text    not null,
    scale        text    not null,
    second_check text    not null,
    checked_by   bigint,
    person_id    bigint  not null,
    happened_at  timestamptz not null,
    struck_by    bigint
);
create index on weighing (batch_id);
create index on weighing (lot_id) where struck_by is null;

create table reading (
    entry_id    bigint  primary key,
    batch_id    bigint,
    lot_id      bigint,
    kind        text    not null,
    value       numeric not null,
    unit        text    not null,
    typed       text    not null,
    typed_unit  text    not null,
    method      text    not null,
    instrument  text    not null,
    sample      text    not null,
    passed      boolean,
    person_id   bigint  not null,
    happened_at timestamptz not null,
    struck_by   bigint
);
create index on reading (batch_id);
create index on reading (lot_id);

create table step (
    entry_id    bigint primary key,
    batch_id    bigint not null,
    step        text   not null,
    note        text   not null,
    person_id   bigint not null,
    happened_at timestamptz not null,
    struck_by   bigint
);
create index on step (batch_id);

create table gate_pass (
    entry_id  bigint primary key,
    batch_id  bigint,
    lot_id    bigint,
    gate      text   not null,
    rules     text[] not null,
    reason    text   not null,
    person_id bigint not null
);
create index on gate_pass (batch_id);

create table deviation (
    id        bigint primary key,
    batch_id  bigint not null,
    what      text   not null,
    decision  text   not null,
    opened_by bigint not null,
    closed_by bigint
);
create index on deviation (batch_id);

create table release (
    entry_id    bigint  primary key,
    batch_id    bigint  not null,
    decision    text    not null,
    statement   text    not null,
    person_id   bigint  not null,
    happened_at timestamptz not null,
    reopened_by bigint
);
create index on release (batch_id);

create table buyer (
    id       bigint primary key,
    kind     text   not null,
    entry_id bigint not null
);

create table dispatch (
    id        bigint primary key,
    code      text   not null unique,
    channel   text   not null,
    buyer_id  bigint,
    occasion  text   not null,
    reference text   not null,
    sent_on   date   not null,
    entry_id  bigint not null,
    struck_by bigint
);
create index on dispatch (buyer_id);
create index on dispatch (sent_on);
create index on dispatch (reference) where reference <> '';

create table dispatch_line (
    dispatch_id bigint   not null,
    line        smallint not null,
    lot_id      bigint   not null,
    pieces      numeric  not null,
    primary key (dispatch_id, line)
);
create index on dispatch_line (lot_id);

create table dispatch_return (
    entry_id    bigint  not null,
    dispatch_id bigint  not null,
    lot_id      bigint  not null,
    pieces      numeric not null,
    decision    text    not null,
    reason      text    not null,
    struck_by   bigint,
    primary key (entry_id)
);
create index on dispatch_return (dispatch_id);

create table stock_move (
    entry_id   bigint  primary key,
    lot_id     bigint  not null,
    from_place text    not null,
    to_place   text    not null,
    amount     numeric not null,
    why        text    not null,
    person_id  bigint  not null,
    struck_by  bigint
);
create index on stock_move (lot_id);

create table label (
    id         bigint  primary key,
    lot_id     bigint  not null,
    batch_id   bigint  not null,
    style      text    not null,
    proof      boolean not null,
    copies     integer not null,
    digest     bytea   not null,
    inputs     bytea   not null,
    person_id  bigint  not null,
    happened_at timestamptz not null,
    entry_id   bigint  not null
);
create index on label (lot_id);
create index on label (batch_id);

create table drill (
    id          bigint  primary key,
    subject     text    not null,
    started_at  timestamptz not null,
    ended_at    timestamptz not null,
    lots        integer not null,
    made        numeric not null,
    accounted   numeric not null,
    findings    text    not null,
    entry_id    bigint  not null
);
