"""A printed sheet in a photo: which page it is, and how true it was printed."""

import json
import re
from pathlib import Path

import pytest

from seamsurvey.check_model import OFF, RIGHT, Sheet
from seamsurvey.check_page_line import sheets_of
from seamsurvey.checking.page import check_page
from seamsurvey.convert import Line
from seamsurvey.errors import InputError
from seamsurvey.job.folder import JobFolder
from seamsurvey.model import Wishes
from tests.checking.printed import as_picture, glass, scanned
from tests.cli.test_commands import BY_HAND

Job = tuple[Path, tuple[Sheet, ...]]


@pytest.fixture(scope="module")
def job(tmp_path_factory: pytest.TempPathFactory) -> Job:
    """A job with its PDF, and its sheets as the check has them."""
    folder = tmp_path_factory.mktemp("by-hand")
    (folder / "measured.json").write_text(json.dumps(BY_HAND))
    Line(JobFolder(folder), Wishes()).convert([])
    return folder, sheets_of(JobFolder(folder))


@pytest.mark.parametrize(
    ("stretch", "turn", "said"),
    [((1.0, 1.0), 3.0, RIGHT), ((0.985, 0.992), 188.0, OFF), ((1.012, 1.0), -84.0, OFF)],
)
def test_a_print_is_measured_across_and_up(job: Job, stretch: tuple[float, float], turn: float, said: str) -> None:
    """The last page, turned and stretched by known factors: bars and every edge measure what they should."""
    folder, sheets = job
    picture = scanned(folder / "foundations.pdf", len(sheets), stretch=stretch, turn=turn)
    done = check_page(as_picture(picture), glass(picture), sheets, risk=0.05)
    assert (done.sheet, done.report.verdict) == (len(sheets), said)
    across, up = (checked.measured_mm / 100.0 for checked in done.report.lengths[:2])
    assert (across, up) == pytest.approx(stretch, abs=0.0005)
    for checked in done.report.lengths:
        # The section is a square along the page's axes: its edges are stretched as the bars are.
        assert min(abs(checked.measured_mm - (checked.wanted_mm or 0) * k) for k in stretch) < checked.u_mm


def test_the_stretch_is_named(job: Job) -> None:
    """Where the two directions differ a note says by how much, and the outline's edges say where."""
    folder, sheets = job
    picture = scanned(folder / "foundations.pdf", len(sheets), stretch=(0.985, 0.992), turn=0.0)
    report = check_page(as_picture(picture), glass(picture), sheets, risk=0.05).report
    said = [re.search(r"differ by ([0-9.]+) %", note) for note in report.notes]
    assert [float(found[1]) for found in said if found] == [pytest.approx(0.70, abs=0.02)]
    assert {c.name for c in report.lengths} == {"page", "outline 1"}


def test_a_page_of_another_job_is_refused(job: Job, tmp_path: Path) -> None:
    """The same block at another size has other sheets: none of them is taken for this one."""
    folder, sheets = job
    other = json.loads(json.dumps(BY_HAND))
    for template in other["templates"]:
        template["finished_outline_mm"] = [[0.8 * v for v in corner] for corner in template["finished_outline_mm"]]
    (tmp_path / "measured.json").write_text(json.dumps(other))
    Line(JobFolder(tmp_path), Wishes()).convert([])
    last = sheets_of(JobFolder(tmp_path))[-1:]
    picture = scanned(folder / "foundations.pdf", len(sheets), stretch=(1.0, 1.0), turn=2.0)
    with pytest.raises(InputError) as caught:
        check_page(as_picture(picture), glass(picture), last, risk=0.05)
    assert caught.value.code == "page-not-found"
