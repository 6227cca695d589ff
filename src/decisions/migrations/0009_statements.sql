-- What a sighting states by itself (JSON): role, value, words, chance, entry. NULL in readings from before.
ALTER TABLE readings ADD COLUMN statements TEXT;
