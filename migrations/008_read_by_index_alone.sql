-- An answer about a lot looks at rows that were written over years and lie all over their tables. What these indexes
-- hold besides their keys spares it the tables themselves.

-- Where all of a lot is. An update of the amount had to write to every index before as well: the index of the shelf
-- depends on the amount.
alter table balance drop constraint balance_pkey;
alter table balance add constraint balance_pkey primary key (lot_id, place, place_id) include (amount);

-- What a lot went into.
drop index weighing_lot_id_idx;
create index weighing_lot_id_idx on weighing (lot_id) include (batch_id, portion) where struck_by is null;

-- Lists of lots: those that are on hand are few beside those that ever were, and the first to expire stand first.
create index balance_on_hand_idx on balance (lot_id) where place in ('shelf', 'rack', 'ready') and amount > 0;
create index lot_by_date_idx on lot (coalesce(best_before, 'infinity'), id) where struck_by is null;
