-- What the rest of the picture says to the entries proposed for a mark (JSON), and which entries
-- the person took for each picture, to be counted. Worked out from marks and observations; they hold
-- nothing that can't be worked out again.
CREATE TABLE beside (mark INTEGER PRIMARY KEY REFERENCES marks (id), weights TEXT NOT NULL);
CREATE TABLE taken (
    list TEXT NOT NULL,
    entry TEXT NOT NULL,
    picture INTEGER NOT NULL REFERENCES pictures (id),
    PRIMARY KEY (list, entry, picture)
);

-- How often something changed about a picture, and the count when its marks were last weighed beside
-- each other.
CREATE TABLE changes (
    picture INTEGER PRIMARY KEY REFERENCES pictures (id),
    times INTEGER NOT NULL DEFAULT 1,
    weighed INTEGER NOT NULL DEFAULT 0
);
INSERT INTO changes (picture) SELECT id FROM pictures;

CREATE TRIGGER decided_changes AFTER INSERT ON decisions
BEGIN
    INSERT INTO changes (picture) SELECT p.picture FROM marks m
    JOIN photographs p ON p.id = m.photograph WHERE m.id = NEW.mark
    ON CONFLICT (picture) DO UPDATE SET times = times + 1;
END;
CREATE TRIGGER read_changes AFTER INSERT ON readings
BEGIN
    INSERT INTO changes (picture) SELECT p.picture FROM marks m
    JOIN photographs p ON p.id = m.photograph WHERE m.id = NEW.mark
    ON CONFLICT (picture) DO UPDATE SET times = times + 1;
END;
CREATE TRIGGER observed_changes AFTER INSERT ON observations
BEGIN
    INSERT INTO changes (picture) VALUES (NEW.picture)
    ON CONFLICT (picture) DO UPDATE SET times = times + 1;
END;
CREATE TRIGGER moved_changes AFTER UPDATE OF picture ON photographs
BEGIN
    INSERT INTO changes (picture) VALUES (OLD.picture)
    ON CONFLICT (picture) DO UPDATE SET times = times + 1;
    INSERT INTO changes (picture) VALUES (NEW.picture)
    ON CONFLICT (picture) DO UPDATE SET times = times + 1;
END;
