"""Several layouts fit: the likeliest is taken and its rivals are told, and another is taken without a search."""

import io
import json
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import attrs
import numpy as np
import pytest
import svgelements

from seamsurvey import convert
from seamsurvey.job.measured_file import write_measured
from seamsurvey.model import Block, LeftOut
from seamsurvey.templates.cards import TOUCHING
from tests.several import DRAWN, MEASURED, layouts
from tests.sheets.examples import forked_road, templates_for
from tests.sheets.reading import read_pdf
from tests.sheets.test_report import Reader

from .test_commands import run


@pytest.fixture
def job(tmp_path: Path) -> Path:
    """A job that holds nothing but two templates by hand."""
    folder = tmp_path / "job"
    folder.mkdir()
    (folder / "measured.json").write_text(json.dumps(MEASURED))
    return folder


@pytest.fixture
def searches(monkeypatch: pytest.MonkeyPatch) -> Callable[[tuple[Block, ...]], list[int]]:
    """Let the search find just these layouts; the list that is returned grows with every search."""

    def find(found: tuple[Block, ...]) -> list[int]:
        done: list[int] = []

        def assembled(*_: Any, **__: Any) -> tuple[Block, ...]:
            done.append(1)
            return found

        monkeypatch.setattr(convert, "assemble", assembled)
        return done

    return find


Searches = Callable[[tuple[Block, ...]], list[int]]


def outlines(path: Path) -> Any:
    """The pieces of a layout file."""
    return json.loads(path.read_text())["pieces"]


def first_page(job: Path) -> str:
    """The words of the first page of foundations.pdf."""
    return " ".join(read_pdf((job / "foundations.pdf").read_bytes())[0].text.split())


def test_the_likeliest_is_taken_and_its_rivals_are_told_everywhere(
    job: Path, searches: Searches, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 0 with the first layout; screen, report and first page say how many fit and how to take one."""
    searches(layouts(*DRAWN))
    assert run("convert", "--into", str(job)) == 0
    assert outlines(job / "layout.json") == outlines(job / "layout-1.json")
    assert sorted(path.name for path in job.glob("layout-*.json")) == [f"layout-{k}.json" for k in (1, 2, 3, 4)]
    said = " ".join(capsys.readouterr().out.split())
    report = Reader((job / "report.html").read_text())
    for words in (said, report.text, first_page(job)):
        assert "the likeliest of 4 layouts that fit; no others do" in words
        assert "--layout 2" in words
    for words in (report.text, first_page(job)):
        assert "3 other layouts fit" in words
    for number in (2, 3, 4):
        assert f"Layout {number}" in first_page(job)
        assert f"--layout {number} (symmetry: as in drawing {number - 1})" in report.text
    assert "as in drawing 0" in report.text  # why this one
    assert report.text.index("3 other layouts fit") < report.text.index("Open booklet.pdf")


def test_another_is_taken_without_a_search_and_kept(
    job: Path, searches: Searches, capsys: pytest.CaptureFixture[str]
) -> None:
    """--layout 3 searches no second time, goes into every file, keeps the numbers, and needs not be said again."""
    done = searches(layouts(*DRAWN))
    assert run("convert", "--into", str(job)) == 0
    shown = (job / "layouts.svg").read_bytes()
    assert run("convert", "--into", str(job), "--layout", "3") == 0
    assert len(done) == 1
    assert outlines(job / "layout.json") == outlines(job / "layout-3.json")
    assert (job / "layouts.svg").read_bytes() == shown
    assert "number 3, the likeliest first, of 4" in Reader((job / "report.html").read_text()).text
    wishes = tomllib.loads((job / "job.toml").read_text())
    assert (wishes["layout"], wishes["taken"]["layout"]) == (3, 3)

    before = {path.name: path.stat().st_mtime_ns for path in job.iterdir() if path.name != ".lock"}
    assert run("convert", "--into", str(job)) == 0
    assert {path.name: path.stat().st_mtime_ns for path in job.iterdir() if path.name != ".lock"} == before
    capsys.readouterr()
    assert run("convert", "--into", str(job), "--layout", "5", "--json") == 2
    assert json.loads(capsys.readouterr().out)["code"] == "no-such-layout"


def test_a_new_search_can_not_exchange_the_layout_that_was_taken(
    job: Path, searches: Searches, capsys: pytest.CaptureFixture[str]
) -> None:
    """In another order the same layout is kept under its new number; where it is no more, the person is asked."""
    searches(layouts(*DRAWN))
    assert run("convert", "--into", str(job), "--layout", "2") == 0
    mine = outlines(job / "layout.json")
    searches(layouts(*DRAWN[::-1]))
    assert run("convert", "--into", str(job), "--time-limit", "61") == 0
    assert "number 2 then, is number 3 now" in capsys.readouterr().err
    assert outlines(job / "layout.json") == mine == outlines(job / "layout-3.json")
    assert tomllib.loads((job / "job.toml").read_text())["layout"] == 3

    searches(layouts(DRAWN[0], DRAWN[3]))
    assert run("convert", "--into", str(job), "--time-limit", "62", "--json") == 4
    assert json.loads(capsys.readouterr().out)["code"] == "layout-gone"
    assert run("convert", "--into", str(job), "--time-limit", "62", "--layout", "2") == 0
    assert outlines(job / "layout.json") == outlines(job / "layout-2.json")


def test_with_ask_the_choice_is_the_person_s(
    job: Path, searches: Searches, capsys: pytest.CaptureFixture[str]
) -> None:
    """--ask ends with exit code 4 where several fit, and with 0 where one does or one was taken."""
    searches(layouts(*DRAWN))
    assert run("convert", "--into", str(job), "--ask", "--json") == 4
    error = json.loads(capsys.readouterr().out)
    assert error["code"] == "several-layouts"
    assert str(job / "layouts.svg") in error["where"]
    assert not (job / "foundation.json").exists()
    assert run("convert", "--into", str(job), "--ask", "--layout", "2") == 0
    assert run("convert", "--into", str(job), "--ask") == 0
    searches(layouts(DRAWN[0]))
    assert run("assemble", str(job), "--ask", "--seed", "1", "--layout", "1") == 0


def test_one_layout_has_no_rivals_and_the_claim_is_that_of_the_search(
    job: Path, searches: Searches, capsys: pytest.CaptureFixture[str]
) -> None:
    """A search that was cut short never says "only", and nothing tells of --layout."""
    searches(layouts(DRAWN[0], searched_all=False, work_s=60.0))
    assert run("convert", "--into", str(job)) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "the one layout that was found in 60 s" in said
    assert "only" not in said
    assert "--layout" not in said + Reader((job / "report.html").read_text()).text + first_page(job)
    assert not (job / "layouts.svg").exists()


def test_a_layout_edited_by_hand_is_no_longer_one_of_the_rivals(job: Path, searches: Searches) -> None:
    """Sheets of an edited layout.json claim nothing of it that the search found of another."""
    searches(layouts(*DRAWN))
    assert run("convert", "--into", str(job)) == 0
    edited = json.loads((job / "layout.json").read_text())
    edited["pieces"][0]["id"] = "mine"
    edited.pop("proof")
    for seam in edited["seams"]:
        seam["pieces"] = ["mine" if name == "half-1" else name for name in seam["pieces"]]
    (job / "layout.json").write_text(json.dumps(edited))
    assert run("section", str(job)) == 0
    assert run("sheets", str(job)) == 0
    assert "layouts fit" not in first_page(job)
    assert "layouts" not in Reader((job / "report.html").read_text()).text


def test_the_pictures_of_the_rivals_are_true_to_them(job: Path, searches: Searches) -> None:
    """In the report each rival has its own six pieces, at one size."""
    searches(layouts(*DRAWN))
    assert run("convert", "--into", str(job)) == 0
    source = (job / "report.html").read_text()
    pictures = [part.partition("</svg>")[0] for part in source.split("<svg")[1:]]
    rivals = [f"<svg{part}</svg>" for part in pictures if 'id="layout-' in part]
    assert len(rivals) == 3
    for drawn in rivals:
        filled = [e for e in svgelements.SVG.parse(io.StringIO(drawn)).elements()
                  if isinstance(e, svgelements.Path) and e.fill.value is not None]  # fmt: skip
        assert len(filled) == 6


def test_a_card_that_was_not_measured_is_asked_about_once(
    tmp_path: Path, searches: Searches, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 4 before any search; told that it is none, the job goes on, keeps its place, and asks no more."""
    block = forked_road()[0]
    left = LeftOut(photo=0, outline_px=np.array([[10, 10], [90, 10], [90, 80.0]]), why=TOUCHING)
    templates = attrs.evolve(templates_for(block), left_out=(left,))
    templates = attrs.evolve(
        templates, templates=tuple(attrs.evolve(t, allowance_from="given") for t in templates.templates)
    )
    job = tmp_path / "job"
    job.mkdir()
    (job / "measured.json").write_bytes(write_measured(templates, "inch"))
    done = searches((block,))
    assert run("convert", "--into", str(job), "--json") == 4
    error = json.loads(capsys.readouterr().out)
    assert error["code"] == "card-unclear"
    assert "--ignore 1" in error["todo"]
    assert not done
    assert not (job / "layout.json").exists()
    assert run("convert", "--into", str(job), "--ignore", "1") == 0
    (place,) = tomllib.loads((job / "job.toml").read_text())["ignore"]
    name, x, y = place.rsplit(" ", 2)
    assert name == "bench-scan.png"
    assert 10 < int(y) < int(x) < 90
    assert run("convert", "--into", str(job), "--title", "Fork") == 0
    assert len(done) == 1
