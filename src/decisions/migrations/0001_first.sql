-- First schema. Never edited: a change is a new migration.
--
-- Photographs are known by the SHA-256 of their bytes; paths are only where they were last seen,
-- and no pixels are kept. What a run found is never changed afterwards: each run adds sightings of
-- marks. What people decided is a journal: undoing adds an entry.

CREATE TABLE pictures (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL COLLATE NOCASE UNIQUE CHECK (trim(name) <> ''),
    named_by_person INTEGER NOT NULL CHECK (named_by_person IN (0, 1)),
    added_at TEXT NOT NULL
);

CREATE TABLE photographs (
    id INTEGER PRIMARY KEY,
    picture INTEGER NOT NULL REFERENCES pictures (id),
    sha256 TEXT NOT NULL UNIQUE CHECK (length(sha256) = 64),
    width INTEGER NOT NULL,
    height INTEGER NOT NULL,
    added_at TEXT NOT NULL
);
CREATE INDEX photographs_of_picture ON photographs (picture);

CREATE TABLE files (
    photograph INTEGER NOT NULL REFERENCES photographs (id),
    path TEXT NOT NULL,
    seen_at TEXT NOT NULL,
    PRIMARY KEY (photograph, path)
);

CREATE TABLE runs (
    id INTEGER PRIMARY KEY,
    at TEXT NOT NULL,
    by TEXT NOT NULL,
    program TEXT NOT NULL
);

CREATE TABLE run_photographs (
    run INTEGER NOT NULL REFERENCES runs (id),
    photograph INTEGER NOT NULL REFERENCES photographs (id),
    picture INTEGER NOT NULL REFERENCES pictures (id),
    skew_degrees REAL NOT NULL,
    PRIMARY KEY (run, photograph)
);
CREATE INDEX runs_of_photograph ON run_photographs (photograph);

CREATE TABLE marks (
    id INTEGER PRIMARY KEY,
    photograph INTEGER NOT NULL REFERENCES photographs (id),
    run INTEGER NOT NULL REFERENCES runs (id)
);
CREATE INDEX marks_of_photograph ON marks (photograph);

-- One mark as one run saw and read it.
CREATE TABLE readings (
    id INTEGER PRIMARY KEY,
    run INTEGER NOT NULL REFERENCES runs (id),
    mark INTEGER NOT NULL REFERENCES marks (id),
    label TEXT NOT NULL,
    kind TEXT NOT NULL,
    outline TEXT NOT NULL,
    lettering REAL NOT NULL,
    reading TEXT NOT NULL,
    UNIQUE (run, mark)
);
CREATE INDEX readings_of_mark ON readings (mark);

CREATE TABLE rivals (
    reading INTEGER NOT NULL REFERENCES readings (id),
    place INTEGER NOT NULL,
    list TEXT NOT NULL,
    unlisted REAL NOT NULL,
    PRIMARY KEY (reading, place)
);

CREATE TABLE proposals (
    reading INTEGER NOT NULL,
    rivals INTEGER NOT NULL,
    place INTEGER NOT NULL,
    entry TEXT NOT NULL,
    probability REAL NOT NULL,
    proposal TEXT NOT NULL,
    PRIMARY KEY (reading, rivals, place),
    FOREIGN KEY (reading, rivals) REFERENCES rivals (reading, place)
);

-- The journal. `reading` is the newest one when the person decided.
CREATE TABLE decisions (
    id INTEGER PRIMARY KEY AUTOINCREMENT,
    mark INTEGER NOT NULL REFERENCES marks (id),
    reading INTEGER REFERENCES readings (id),
    at TEXT NOT NULL,
    by TEXT NOT NULL CHECK (trim(by) <> ''),
    why TEXT NOT NULL,
    act TEXT NOT NULL,
    undoes INTEGER REFERENCES decisions (id)
);
CREATE INDEX decisions_of_mark ON decisions (mark);

CREATE TABLE settings (
    name TEXT PRIMARY KEY,
    value TEXT NOT NULL
);

CREATE TRIGGER decisions_stay BEFORE UPDATE ON decisions
BEGIN SELECT RAISE(ABORT, 'the journal is never changed'); END;
CREATE TRIGGER decisions_are_kept BEFORE DELETE ON decisions
BEGIN SELECT RAISE(ABORT, 'the journal is never cut'); END;
CREATE TRIGGER readings_stay BEFORE UPDATE ON readings
BEGIN SELECT RAISE(ABORT, 'readings are never changed'); END;
CREATE TRIGGER readings_are_kept BEFORE DELETE ON readings
BEGIN SELECT RAISE(ABORT, 'readings are never deleted'); END;
CREATE TRIGGER rivals_stay BEFORE UPDATE ON rivals
BEGIN SELECT RAISE(ABORT, 'proposals are never changed'); END;
CREATE TRIGGER rivals_are_kept BEFORE DELETE ON rivals
BEGIN SELECT RAISE(ABORT, 'proposals are never deleted'); END;
CREATE TRIGGER proposals_stay BEFORE UPDATE ON proposals
BEGIN SELECT RAISE(ABORT, 'proposals are never changed'); END;
CREATE TRIGGER proposals_are_kept BEFORE DELETE ON proposals
BEGIN SELECT RAISE(ABORT, 'proposals are never deleted'); END;
CREATE TRIGGER marks_stay BEFORE UPDATE ON marks
BEGIN SELECT RAISE(ABORT, 'marks are never changed'); END;
CREATE TRIGGER marks_are_kept BEFORE DELETE ON marks
BEGIN SELECT RAISE(ABORT, 'marks are never deleted'); END;
CREATE TRIGGER runs_stay BEFORE UPDATE ON runs
BEGIN SELECT RAISE(ABORT, 'runs are never changed'); END;
CREATE TRIGGER runs_are_kept BEFORE DELETE ON runs
BEGIN SELECT RAISE(ABORT, 'runs are never deleted'); END;
CREATE TRIGGER photographs_are_kept BEFORE DELETE ON photographs
BEGIN SELECT RAISE(ABORT, 'photographs are never deleted'); END;
CREATE TRIGGER photographs_stay BEFORE UPDATE OF id, sha256, width, height, added_at ON photographs
BEGIN SELECT RAISE(ABORT, 'a photograph''s identity is never changed'); END;
CREATE TRIGGER run_photographs_stay BEFORE UPDATE ON run_photographs
BEGIN SELECT RAISE(ABORT, 'runs are never changed'); END;
CREATE TRIGGER run_photographs_are_kept BEFORE DELETE ON run_photographs
BEGIN SELECT RAISE(ABORT, 'runs are never deleted'); END;
