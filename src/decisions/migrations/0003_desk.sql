-- What the desk needs: decisions that are kept once however often they are sent, and the queue
-- without reading every mark.

ALTER TABLE decisions ADD COLUMN once TEXT;
CREATE UNIQUE INDEX decisions_once ON decisions (once) WHERE once IS NOT NULL;

-- Worked out from readings and journal, and written anew with each change of theirs; holds nothing
-- that can't be worked out again. `rank`: order of the states in the queue.
CREATE TABLE standing (
    mark INTEGER PRIMARY KEY REFERENCES marks (id),
    rank INTEGER NOT NULL,
    until TEXT,
    worth REAL NOT NULL,
    again INTEGER NOT NULL,
    state TEXT NOT NULL,
    doubts TEXT NOT NULL
);
CREATE INDEX standing_in_order ON standing (rank, worth DESC, mark);
