-- The step of a named scale is the finest that was typed on it of late; this finds its last weighings.
create index weighing_scale_idx on weighing (scale, entry_id) where struck_by is null;
