-- Dates that can't be true together, for the queue. Worked out from marks and observations by the
-- stage that dates them; holds nothing that can't be worked out again.
CREATE TABLE conflicts (
    mark INTEGER NOT NULL REFERENCES marks (id),
    place INTEGER NOT NULL,
    words TEXT NOT NULL,
    PRIMARY KEY (mark, place)
);

-- Pictures of which something changed since their dates were last held against each other.
CREATE TABLE unheld (picture INTEGER PRIMARY KEY REFERENCES pictures (id));
INSERT INTO unheld SELECT id FROM pictures;

CREATE TRIGGER decided_unheld AFTER INSERT ON decisions
BEGIN
    INSERT OR IGNORE INTO unheld SELECT p.picture FROM marks m
    JOIN photographs p ON p.id = m.photograph WHERE m.id = NEW.mark;
END;
CREATE TRIGGER read_unheld AFTER INSERT ON readings
BEGIN
    INSERT OR IGNORE INTO unheld SELECT p.picture FROM marks m
    JOIN photographs p ON p.id = m.photograph WHERE m.id = NEW.mark;
END;
CREATE TRIGGER observed_unheld AFTER INSERT ON observations
BEGIN INSERT OR IGNORE INTO unheld VALUES (NEW.picture); END;
CREATE TRIGGER moved_unheld AFTER UPDATE OF picture ON photographs
BEGIN
    INSERT OR IGNORE INTO unheld VALUES (OLD.picture);
    INSERT OR IGNORE INTO unheld VALUES (NEW.picture);
END;
