"""The index: what it holds can be read back by readers that are not ours."""

import csv
import io
import json
import re
import sqlite3
from contextlib import closing
from pathlib import Path

import attrs
import pytest

from seamsurvey.archive.database import index_sqlite
from seamsurvey.archive.duplicates import find_alike
from seamsurvey.archive.page import index_html
from seamsurvey.archive.table import COLUMNS, index_csv
from seamsurvey.archive_model import FAILED, Archive, Problem, SetRecord
from tests.archive.drawn import record
from tests.scene.families import family

DOCS = Path(__file__).parents[2] / "docs" / "reference" / "archive.md"


@pytest.fixture
def archive() -> Archive:
    """Two sets that are alike, and one that failed with a title made to break pages."""
    star = family("millrace-star")
    problem = Problem(code="no-ruler", what="No ruler was found.", todo="Lay one beside the templates.")
    bad = SetRecord(name="c", title="</script><b>&", state=FAILED, problem=problem, source='a "blue", envelope')
    sets = (record(star, "a", sigma_mm=0.1), attrs.evolve(record(star, "b", size=2.0), warnings=("w1", "w2")), bad)
    return Archive(sets=sets, alike=find_alike(sets))


def test_every_edge_is_in_the_database(archive: Archive, tmp_path: Path) -> None:
    """Counts and lengths asked for in SQL are those of the sets, foreign keys hold, and the file is sound."""
    (tmp_path / "index.sqlite").write_bytes(index_sqlite(archive))
    with closing(sqlite3.connect(tmp_path / "index.sqlite")) as db:
        assert db.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []
        lengths = [e.length_mm for s in archive.sets for t in s.templates for e in t.edges]
        assert sorted(row[0] for row in db.execute("SELECT length_mm FROM edges")) == sorted(lengths)
        inches = db.execute("SELECT sum(length_in) FROM edges_in_inches").fetchone()[0]
        assert inches == pytest.approx(sum(lengths) / 25.4)
        assert db.execute("SELECT first, second, kind FROM alike").fetchall() == [("a", "b", "same block")]
        assert db.execute("SELECT problem_code FROM sets WHERE state = 'failed'").fetchall() == [("no-ruler",)]
        assert index_sqlite(archive) == (tmp_path / "index.sqlite").read_bytes()


def test_the_documented_tables_are_those_of_the_database(archive: Archive) -> None:
    """docs/reference/archive.md names every table and every column, and no other."""
    with closing(sqlite3.connect(":memory:")) as db:
        db.deserialize(index_sqlite(archive))
        names = [row[0] for row in db.execute("SELECT name FROM sqlite_master WHERE type IN ('table', 'view')")]
        real = {n: [row[1] for row in db.execute(f"PRAGMA table_info({n})")] for n in names}
    text = DOCS.read_text().partition("## Tables of index.sqlite")[2].partition("\n## ")[0]
    rows = re.findall(r"^\| `(\w+)` \|[^|]*\| (.*) \|$", text, re.MULTILINE)
    assert {name: re.findall(r"`(\w+)`", columns) for name, columns in rows} == real


def test_the_table_has_a_line_for_each_set(archive: Archive) -> None:
    """index.csv read by the csv module gives names, sizes and partners, quotes and commas unharmed."""
    rows = list(csv.DictReader(io.StringIO(index_csv(archive))))
    assert [row["set"] for row in rows] == ["a", "b", "c"]
    assert tuple(rows[0]) == COLUMNS
    said = re.fullmatch(r"b \(same block × ([0-9.]+)\)", rows[0]["alike"])
    assert said is not None
    assert float(said[1]) == pytest.approx(2.0, rel=0.005)
    assert rows[2]["source"] == 'a "blue", envelope'
    assert rows[2]["problem"] == "No ruler was found."


def test_the_page_is_one_file_that_no_title_can_break(archive: Archive) -> None:
    """The page names nothing outside itself, and its data, read as a browser does, is what went in."""
    page = index_html(archive, title="Shelf <1> & 2")
    assert not re.search(r"""(?:src|href)\s*=\s*["']|https?://(?!www\.w3\.org/2000/svg)|@import|url\(""", page)
    scripts = re.findall(r"<script[^>]*>(.*?)</script>", page, re.DOTALL)
    data = json.loads(scripts[0])
    assert len(scripts) == 2
    assert [card["title"] for card in data["sets"]] == ["a", "b", "</script><b>&"]
    assert len(data["sets"][0]["drawing"]["shapes"]) == len(archive.sets[0].pieces)
    assert "<title>Shelf &lt;1&gt; &amp; 2</title>" in page


def test_sets_of_which_others_fit_are_marked_until_somebody_takes_one(archive: Archive) -> None:
    """Table, database and page count the other layouts of a set that is done; taken by a person, there are none."""
    first, second, bad = archive.sets
    open_one, taken = attrs.evolve(first, layouts=5), attrs.evolve(second, layouts=5, layout_taken=2)
    whole = Archive(sets=(open_one, taken, bad))
    rows = list(csv.DictReader(io.StringIO(index_csv(whole))))
    assert [(row["state"], row["others_fit"]) for row in rows] == [("done", "4"), ("done", ""), ("failed", "")]
    with closing(sqlite3.connect(":memory:")) as db:
        db.deserialize(index_sqlite(whole))
        assert db.execute("SELECT name FROM sets WHERE others_fit > 0").fetchall() == [("a",)]
    data = index_html(whole, title="").partition('type="application/json" id="data">')[2].partition("</script>")[0]
    assert [card["others"] for card in json.loads(data)["sets"]] == [4, 0, 0]
