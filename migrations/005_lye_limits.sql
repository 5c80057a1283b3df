-- How sure the superfat has to be, the step of the scales that plans are rounded to, and the degrees that a formula speaks in.
-- The defaults are what an entry that does not name them stands for.

alter table shop
    add column scale_step numeric not null default 0.1,  -- g
    add column fine_step  numeric not null default 0.01, -- g, for what weighs less than ten grams
    add column lye_warn   numeric not null default 0.05, -- chance of lye-heavy soap
    add column lye_stop   numeric not null default 0.2;

alter table formula_version
    add column lye_warn numeric,
    add column lye_stop numeric;

alter table batch
    add column temp_unit text not null default 'C';
