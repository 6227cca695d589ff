-- On how many other photographs the place of a sighting shows whole and nothing was found there, as they were
-- laid on each other: what says that it is likely no mark. The newest row of a sighting counts; none: 0.
CREATE TABLE bare_places (
    id INTEGER PRIMARY KEY,
    run INTEGER NOT NULL REFERENCES runs (id),
    sighting INTEGER NOT NULL REFERENCES sightings (id),
    photographs INTEGER NOT NULL
);
CREATE INDEX bare_places_of_sighting ON bare_places (sighting);

CREATE TRIGGER bare_places_stay BEFORE UPDATE ON bare_places
BEGIN SELECT RAISE(ABORT, 'what photographs show is never changed'); END;
CREATE TRIGGER bare_places_are_kept BEFORE DELETE ON bare_places
BEGIN SELECT RAISE(ABORT, 'what photographs show is never deleted'); END;
CREATE TRIGGER bare_place_unheld AFTER INSERT ON bare_places
BEGIN
    INSERT OR IGNORE INTO unheld SELECT p.picture FROM sightings s
    JOIN photographs p ON p.id = s.photograph WHERE s.id = NEW.sighting;
END;
CREATE TRIGGER bare_place_changes AFTER INSERT ON bare_places
BEGIN
    INSERT INTO changes (picture) SELECT p.picture FROM sightings s
    JOIN photographs p ON p.id = s.photograph WHERE s.id = NEW.sighting
    ON CONFLICT (picture) DO UPDATE SET times = times + 1;
END;
