-- A mark belongs to the picture; what one photograph shows of it is a sighting. A mark has the number
-- of its first sighting, so that every number given out before still names it.
ALTER TABLE marks RENAME TO sightings;

-- Where a photograph lies on the plan of its picture: JSON of nine numbers, px of the photograph to px
-- of `ground`. NULL: it couldn't be placed. The newest row of a photograph counts.
CREATE TABLE places (
    id INTEGER PRIMARY KEY,
    run INTEGER NOT NULL REFERENCES runs (id),
    photograph INTEGER NOT NULL REFERENCES photographs (id),
    face INTEGER,
    ground INTEGER REFERENCES photographs (id),
    to_plan TEXT,
    error_px REAL,
    chance REAL
);
CREATE INDEX places_of_photograph ON places (photograph);

-- The chance that two sightings are one mark, as the program has it. The newest row of a pair counts.
CREATE TABLE joins (
    id INTEGER PRIMARY KEY,
    run INTEGER NOT NULL REFERENCES runs (id),
    a INTEGER NOT NULL REFERENCES sightings (id),
    b INTEGER NOT NULL REFERENCES sightings (id),
    chance REAL NOT NULL,
    -- 1: they lie apart, so that a person has to say whether a mark was moved.
    moved INTEGER NOT NULL,
    why TEXT NOT NULL,
    CHECK (a < b)
);
CREATE INDEX joins_of_pair ON joins (a, b);
CREATE INDEX joins_of_second ON joins (b);

-- A sighting that shows no mark of its own but a piece of the one that another sighting shows whole. The
-- newest row of a sighting counts; `of` NULL: it is no piece after all.
CREATE TABLE pieces (
    id INTEGER PRIMARY KEY,
    run INTEGER NOT NULL REFERENCES runs (id),
    piece INTEGER NOT NULL REFERENCES sightings (id),
    of INTEGER REFERENCES sightings (id)
);
CREATE INDEX pieces_of_sighting ON pieces (piece);

-- What a mark reads and names by all its sightings. `made_of`: JSON, the numbers of the readings, in
-- order. The newest row of a mark counts while it is made of the readings that count.
CREATE TABLE wholes (
    id INTEGER PRIMARY KEY,
    mark INTEGER NOT NULL REFERENCES sightings (id),
    at TEXT NOT NULL,
    program TEXT NOT NULL,
    made_of TEXT NOT NULL,
    seen TEXT NOT NULL
);
CREATE INDEX wholes_of_mark ON wholes (mark);

-- Worked out from joins and the journal, and written anew with each change of theirs; they hold
-- nothing that can't be worked out again.
CREATE TABLE members (
    sighting INTEGER PRIMARY KEY REFERENCES sightings (id),
    mark INTEGER NOT NULL REFERENCES sightings (id),
    joined REAL NOT NULL
);
CREATE INDEX members_of_mark ON members (mark);
INSERT INTO members SELECT id, id, 1 FROM sightings;
CREATE TABLE doubtful_joins (
    a INTEGER NOT NULL REFERENCES sightings (id),
    b INTEGER NOT NULL REFERENCES sightings (id),
    chance REAL NOT NULL,
    why TEXT NOT NULL,
    PRIMARY KEY (a, b)
);
CREATE INDEX doubtful_joins_of_second ON doubtful_joins (b);
-- Marks with several sightings that weren't read together from the readings that count.
CREATE TABLE unread_together (mark INTEGER PRIMARY KEY REFERENCES sightings (id));

-- The sightings that the mark had when the person decided (JSON); NULL: the one named alone.
ALTER TABLE decisions ADD COLUMN over TEXT;

CREATE TRIGGER places_stay BEFORE UPDATE ON places
BEGIN SELECT RAISE(ABORT, 'where a photograph was placed is never changed'); END;
CREATE TRIGGER places_are_kept BEFORE DELETE ON places
BEGIN SELECT RAISE(ABORT, 'where a photograph was placed is never deleted'); END;
CREATE TRIGGER joins_stay BEFORE UPDATE ON joins
BEGIN SELECT RAISE(ABORT, 'joins are never changed'); END;
CREATE TRIGGER joins_are_kept BEFORE DELETE ON joins
BEGIN SELECT RAISE(ABORT, 'joins are never deleted'); END;
CREATE TRIGGER pieces_stay BEFORE UPDATE ON pieces
BEGIN SELECT RAISE(ABORT, 'what is a piece of a mark is never changed'); END;
CREATE TRIGGER pieces_are_kept BEFORE DELETE ON pieces
BEGIN SELECT RAISE(ABORT, 'what is a piece of a mark is never deleted'); END;
CREATE TRIGGER wholes_stay BEFORE UPDATE ON wholes
BEGIN SELECT RAISE(ABORT, 'readings are never changed'); END;
CREATE TRIGGER wholes_are_kept BEFORE DELETE ON wholes
BEGIN SELECT RAISE(ABORT, 'readings are never deleted'); END;
CREATE TRIGGER joined_unheld AFTER INSERT ON joins
BEGIN
    INSERT OR IGNORE INTO unheld SELECT p.picture FROM sightings s
    JOIN photographs p ON p.id = s.photograph WHERE s.id = NEW.a;
END;
CREATE TRIGGER joined_changes AFTER INSERT ON joins
BEGIN
    INSERT INTO changes (picture) SELECT p.picture FROM sightings s
    JOIN photographs p ON p.id = s.photograph WHERE s.id = NEW.a
    ON CONFLICT (picture) DO UPDATE SET times = times + 1;
END;
CREATE TRIGGER whole_unheld AFTER INSERT ON wholes
BEGIN
    INSERT OR IGNORE INTO unheld SELECT p.picture FROM sightings s
    JOIN photographs p ON p.id = s.photograph WHERE s.id = NEW.mark;
END;
CREATE TRIGGER whole_changes AFTER INSERT ON wholes
BEGIN
    INSERT INTO changes (picture) SELECT p.picture FROM sightings s
    JOIN photographs p ON p.id = s.photograph WHERE s.id = NEW.mark
    ON CONFLICT (picture) DO UPDATE SET times = times + 1;
END;
