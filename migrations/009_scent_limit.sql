-- The highest share of a scent in the finished product, as the certificate of its lot states it. The defaults are what an
-- entry that does not name them stands for.

alter table lot
    add column limit_share numeric,                 -- mass fraction of the finished bar
    add column limit_note  text not null default ''; -- by which certificate
