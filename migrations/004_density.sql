-- At which temperature a density was measured, what a drop weighs, and how far the figures of a certificate may be off.

alter table material
    add column density_at_c   numeric not null default 20,
    add column grams_per_drop numeric;

alter table lot
    add column sap_half    numeric,
    add column purity_half numeric;
