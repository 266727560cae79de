"""index.sqlite: the whole archive with every edge, to be asked in SQL; docs/reference/archive.md has its tables.

The database is made in memory and given out as bytes: the same archive gives the same file (one SQLite version).
"""

import json
import sqlite3
from contextlib import closing

from seamsurvey.archive_model import Archive, SetRecord

FORMAT = "seamsurvey.index/1"

# Lengths are mm; u_mm is expanded, k = 2. A view turns lengths into inches for those who think in them.
SCHEMA = """
CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE sets (
    name TEXT PRIMARY KEY, title TEXT NOT NULL,
    state TEXT NOT NULL CHECK (state IN ('done', 'to decide', 'failed')),
    units TEXT NOT NULL, source TEXT NOT NULL, width_mm REAL, height_mm REAL, size_u_mm REAL, size TEXT,
    symmetry TEXT, layouts INTEGER, others_fit INTEGER NOT NULL, sections INTEGER, joins INTEGER,
    problem_code TEXT, problem TEXT
);
CREATE TABLE photos (
    set_name TEXT NOT NULL REFERENCES sets, file TEXT NOT NULL, PRIMARY KEY (set_name, file)
) WITHOUT ROWID;
CREATE TABLE templates (
    id INTEGER PRIMARY KEY, set_name TEXT NOT NULL REFERENCES sets, name TEXT NOT NULL,
    corners INTEGER NOT NULL, area_mm2 REAL NOT NULL, allowance_mm REAL NOT NULL, face_up INTEGER,
    reversed INTEGER, copies_seen INTEGER NOT NULL, outline_mm TEXT NOT NULL, UNIQUE (set_name, name)
);
CREATE TABLE edges (
    template_id INTEGER NOT NULL REFERENCES templates, number INTEGER NOT NULL, length_mm REAL NOT NULL,
    u_mm REAL NOT NULL, nearest TEXT NOT NULL, off_mm REAL NOT NULL, set_by_person TEXT NOT NULL,
    radius_mm REAL, sweep_deg REAL,
    PRIMARY KEY (template_id, number)
) WITHOUT ROWID;
CREATE TABLE pieces (
    set_name TEXT NOT NULL REFERENCES sets, number INTEGER NOT NULL, template TEXT NOT NULL,
    outline_mm TEXT NOT NULL, bulges TEXT NOT NULL, PRIMARY KEY (set_name, number)
) WITHOUT ROWID;
CREATE TABLE warnings (set_name TEXT NOT NULL REFERENCES sets, text TEXT NOT NULL);
CREATE TABLE alike (
    first TEXT NOT NULL REFERENCES sets, second TEXT NOT NULL REFERENCES sets,
    kind TEXT NOT NULL CHECK (kind IN ('same block', 'mirrored block', 'same templates')),
    size REAL NOT NULL, worst_mm REAL NOT NULL, PRIMARY KEY (first, second)
) WITHOUT ROWID;
CREATE INDEX edges_by_length ON edges (length_mm);
CREATE VIEW edges_in_inches AS
    SELECT t.set_name, t.name AS template, e.number, e.length_mm / 25.4 AS length_in,
        e.u_mm / 25.4 AS u_in, e.nearest
    FROM edges e JOIN templates t ON t.id = e.template_id;
"""


def index_sqlite(archive: Archive) -> bytes:
    """The archive as an SQLite 3 database."""
    with closing(sqlite3.connect(":memory:")) as db:
        db.executescript(SCHEMA)
        db.execute("INSERT INTO about VALUES ('format', ?)", (FORMAT,))
        for record in archive.sets:
            _add_set(db, record)
            _add_templates(db, record)
        db.executemany(
            "INSERT INTO alike VALUES (?, ?, ?, ?, ?)",
            [(pair.first, pair.second, pair.kind, pair.size, pair.worst_mm) for pair in archive.alike],
        )
        db.commit()
        return db.serialize()


def _add_set(db: sqlite3.Connection, record: SetRecord) -> None:
    width, height = record.size_mm or (None, None)
    problem = record.problem
    row = (
        record.name, record.title, record.state, record.units, record.source, width, height,
        record.size_u_mm if record.size_mm else None, record.size_text or None, record.symmetry or None,
        record.layouts or None, record.others_fit, record.sections, record.joins, problem and problem.code,
        problem and problem.what,
    )  # fmt: skip
    db.execute("INSERT INTO sets VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
    db.executemany("INSERT INTO photos VALUES (?, ?)", [(record.name, file) for file in record.photos])
    db.executemany("INSERT INTO warnings VALUES (?, ?)", [(record.name, text) for text in record.warnings])
    db.executemany(
        "INSERT INTO pieces VALUES (?, ?, ?, ?, ?)",
        [
            (record.name, number, piece.template, json.dumps(piece.outline_mm.tolist()), json.dumps(piece.bulges))
            for number, piece in enumerate(record.pieces, 1)
        ],
    )


def _add_templates(db: sqlite3.Connection, record: SetRecord) -> None:
    for template in record.templates:
        outline = template.outline_mm
        row = (
            record.name, template.name, len(outline), template.area_mm2, template.allowance_mm, template.count,
            template.reversed_count, template.copies_seen, json.dumps(outline.tolist()),
        )  # fmt: skip
        number = db.execute("INSERT INTO templates VALUES (NULL, ?, ?, ?, ?, ?, ?, ?, ?, ?)", row).lastrowid
        db.executemany(
            "INSERT INTO edges VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                (number, k, e.length_mm, e.u_mm, e.nearest, e.off_mm, e.set_by_person, e.radius_mm, e.sweep_deg)
                for k, e in enumerate(template.edges, 1)
            ],
        )
