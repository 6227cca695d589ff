-- What marks were seen as that a person says are monograms, within the outline of one look each. Newest counts.
CREATE TABLE signs (
    id INTEGER PRIMARY KEY,
    reading INTEGER NOT NULL REFERENCES readings (id),
    at TEXT NOT NULL,
    program TEXT NOT NULL,
    seen TEXT NOT NULL,
    rivals TEXT NOT NULL
);
CREATE INDEX signs_of_reading ON signs (reading);
-- Monograms of the user's own, from whatever picture, each with who made it and how that is known.
CREATE TABLE designs (
    id INTEGER PRIMARY KEY,
    at TEXT NOT NULL,
    by TEXT NOT NULL,
    artist TEXT NOT NULL,
    source TEXT NOT NULL,
    file TEXT NOT NULL,
    sha256 TEXT NOT NULL,
    -- The square that is compared, PNG.
    picture BLOB NOT NULL,
    seen TEXT NOT NULL,
    -- When and by whom it was taken out again; it stays here.
    out_at TEXT,
    out_by TEXT
);
