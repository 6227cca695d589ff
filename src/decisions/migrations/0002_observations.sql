-- Observations beside the lettering, made by a person on the object itself: a journal like that of
-- decisions, about a picture. Undoing adds an entry.
CREATE TABLE observations (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    picture INTEGER NOT NULL REFERENCES pictures (id),
    at TEXT NOT NULL,
    by TEXT NOT NULL CHECK (trim(by) <> ''),
    why TEXT NOT NULL,
    seen TEXT NOT NULL,
    undoes INTEGER REFERENCES observations (id)
);
CREATE INDEX observations_of_picture ON observations (picture);
CREATE TRIGGER observations_stay BEFORE UPDATE ON observations
BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END;
CREATE TRIGGER observations_are_kept BEFORE DELETE ON observations
BEGIN SELECT RAISE(ABORT, 'the journal is never cut'); END;
