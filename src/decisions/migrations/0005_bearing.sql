-- What a mark may lie on, proposed from the photograph: parts with chances, and the one that it may
-- bridge to (JSON). NULL where nothing was proposed, as in all readings from before.
ALTER TABLE readings ADD COLUMN bearing TEXT;
