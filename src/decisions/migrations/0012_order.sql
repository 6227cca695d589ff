-- The order of the queue and the count of each picture, read from an index alone; and which pictures are still to be
-- gone through when the rules change, so that what was stopped goes on where it was.
DROP TABLE standing;
CREATE TABLE standing (
    mark INTEGER PRIMARY KEY REFERENCES sightings (id),
    picture INTEGER NOT NULL REFERENCES pictures (id),
    -- Order of the states in the queue.
    rank INTEGER NOT NULL,
    until TEXT,
    worth REAL NOT NULL,
    again INTEGER NOT NULL,
    -- 1: a place to look at, asked with the others of its picture.
    place INTEGER NOT NULL,
    state TEXT NOT NULL,
    doubts TEXT NOT NULL
);
CREATE INDEX standing_in_order ON standing (rank, worth DESC, mark, picture, place, until);
CREATE INDEX standing_of_picture ON standing (picture, rank, until, place, again);
CREATE INDEX standing_again ON standing (mark) WHERE again;
CREATE TABLE unranked (picture INTEGER PRIMARY KEY REFERENCES pictures (id));
DELETE FROM settings WHERE name = 'standing rules';
-- The lines of a mark as they stand, a person's before the program's, so that copies of it are found without reading it.
ALTER TABLE traits ADD COLUMN lines TEXT NOT NULL DEFAULT '';
ALTER TABLE traits ADD COLUMN by_person INTEGER NOT NULL DEFAULT 0;
