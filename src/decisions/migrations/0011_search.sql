-- What every mark can be found by. Worked out with its standing and written anew with each change of it;
-- holds nothing that can't be worked out again.
CREATE TABLE traits (
    mark INTEGER PRIMARY KEY REFERENCES sightings (id),
    picture INTEGER NOT NULL REFERENCES pictures (id),
    kind TEXT NOT NULL,
    -- Name of the firm and of the sale room that it most likely names; NULL: none.
    firm TEXT,
    sale_room TEXT,
    -- Years that stand on it, else those of what it most likely names.
    first_year INTEGER,
    last_year INTEGER,
    -- Sorts of its doubts, a blank before and behind each.
    doubts TEXT NOT NULL,
    -- Its words in small letters and figures alone, a blank before and behind each.
    words TEXT NOT NULL
);
CREATE INDEX traits_of_picture ON traits (picture);
CREATE INDEX traits_by_kind ON traits (kind, mark);
CREATE INDEX traits_by_firm ON traits (firm, mark);
CREATE INDEX traits_by_sale_room ON traits (sale_room, mark);
CREATE INDEX traits_by_year ON traits (first_year, last_year);
-- The words by every three letters that follow each other, blanks counted.
CREATE VIRTUAL TABLE found_words USING fts5(
    words, content = '', contentless_delete = 1, detail = 'full', tokenize = 'trigram'
);
-- The rules for standing are followed anew, so that this is filled.
DELETE FROM settings WHERE name = 'standing rules';
