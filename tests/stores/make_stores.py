"""Writes v2.sqlite to v10.sqlite beside v1.sqlite: the first store, brought up by the migrations of each
version and, from the second on, with a second photograph of the same label of which something else was
decided. Run from the repository's root with Python 3; a store that is there is never changed. From v11.sqlite on, each
was the one before opened by the program of that version: Python's SQLite may be older than the index of words."""

import glob
import pathlib
import shutil
import sqlite3

HERE = pathlib.Path("tests/stores")
STEPS = sorted(glob.glob("src/decisions/migrations/*.sql"))
ANOTHER = """
INSERT INTO runs (id, at, by, program) VALUES (90, '2024-05-08T09:00:00+01:00', 'A. Carrow', 'dorso 0.1.0');
INSERT INTO photographs (id, picture, sha256, width, height, added_at)
  SELECT 90, picture, replace(hex(zeroblob(32)), '0', 'b'), width, height, '2024-05-08T09:00:00+01:00'
  FROM photographs LIMIT 1;
INSERT INTO files VALUES (90, '/invented/mill-label.jpg', '2024-05-08T09:00:00+01:00');
INSERT INTO run_photographs VALUES (90, 90, (SELECT picture FROM photographs WHERE id = 90), 0);
INSERT INTO marks (id, photograph, run) VALUES (90, 90, 90);
INSERT INTO readings (id, run, mark, label, kind, outline, lettering, reading)
  SELECT 90, 90, 90, label, kind, outline, lettering, reading FROM readings WHERE mark = 1 LIMIT 1;
INSERT INTO decisions (mark, reading, at, by, why, act)
  VALUES (90, 90, '2024-05-08T09:05:00+01:00', 'B. Lowe', 'close up it is plain',
    '{"act":"take","list":"framers","entry":"thackwray-kendal-1","name":"Thackwray & Son","not_before":"1868",
      "not_after":"1875","source":"Invented Directory, 1870","chance":0.41}');
"""

for version in range(2, 11):
    file = HERE / f"v{version}.sqlite"
    if file.exists():
        continue
    # From the eighth on sightings are no marks: what was added before came with the migration
    start = 7 if version > 7 else 1
    shutil.copyfile(HERE / f"v{start}.sqlite", file)
    with sqlite3.connect(file) as store:
        for number in range(start + 1, version + 1):
            store.executescript(pathlib.Path(STEPS[number - 1]).read_text())
            store.execute(f"PRAGMA user_version = {number}")
        if start == 1:
            store.executescript(ANOTHER)
    sqlite3.connect(file).execute("VACUUM")
