-- What of a material reacts and what dries out. The defaults are what an entry that does not name them stands for.

alter table material
    add column free_acid       boolean not null default false, -- an oil that is free fatty acid
    add column acid_equivalent numeric,                        -- g of pure acid that take one mol of alkali
    add column acid_share      numeric,                        -- mass fraction of acid
    add column water_share     numeric;                        -- mass fraction of water that can dry out
