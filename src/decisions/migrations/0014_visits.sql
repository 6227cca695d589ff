-- Visits at which pictures are photographed: a viewing before a sale, an afternoon in a store room. Only ever added to.
CREATE TABLE visits (
    id INTEGER PRIMARY KEY,
    at TEXT NOT NULL,
    by TEXT NOT NULL
);
-- What a visit is called and the day of the sale (ISO 8601; empty: none was told). The newest counts.
CREATE TABLE visit_words (
    id INTEGER PRIMARY KEY,
    visit INTEGER NOT NULL REFERENCES visits (id),
    at TEXT NOT NULL,
    by TEXT NOT NULL,
    name TEXT NOT NULL,
    sale_day TEXT NOT NULL
);
CREATE INDEX words_of_visit ON visit_words (visit);
-- A picture that was photographed at a visit, with its lot number there (empty: none). The newest counts.
CREATE TABLE visited (
    id INTEGER PRIMARY KEY,
    visit INTEGER NOT NULL REFERENCES visits (id),
    picture INTEGER NOT NULL REFERENCES pictures (id),
    at TEXT NOT NULL,
    by TEXT NOT NULL,
    lot TEXT NOT NULL
);
CREATE INDEX visited_of_visit ON visited (visit, picture);
-- What was measured of a mark within the outline of a look: how sharp, how light, how tall its letters stand. Newest counts.
CREATE TABLE captures (
    id INTEGER PRIMARY KEY,
    reading INTEGER NOT NULL REFERENCES readings (id),
    at TEXT NOT NULL,
    program TEXT NOT NULL,
    told TEXT NOT NULL
);
CREATE INDEX captures_of_reading ON captures (reading);
