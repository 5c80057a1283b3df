-- How a reading was taken: the temperature that goes with it, how far it may be off, and what a test came to. The defaults are
-- what an entry that does not name them stands for.

alter table reading
    add column at_typed     text    not null default '', -- the temperature that goes with it, as read
    add column at_unit      text    not null default '',
    add column at_c         numeric,
    add column within       numeric,                     -- half the width of the range around the figure, in its own unit
    add column uncertainty  numeric,                     -- standard uncertainty of value
    add column verdict      text    not null default '', -- as worked out: pass, fail, too close to call
    add column words        text    not null default '';

alter table shop
    add column free_alkali_limit numeric not null default 0.05; -- % as NaOH
