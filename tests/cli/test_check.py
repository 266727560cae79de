"""Checking by photo, from the command line."""

import io
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.checking.printed import DPI, scanned

from .test_commands import BY_HAND, run

SAMPLES = Path(__file__).parents[2] / "sample_scans"
SCAN = SAMPLES / "pantry-tiles" / "scan.jpg"


def test_a_scan_is_checked_against_sizes_and_a_table_and_drawn(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The sample's true finished sizes agree or can't be told; 3 mm larger are off; a picture shows all."""
    truth = json.loads((SCAN.parent / "truth.json").read_text())
    rows = ["template,length_mm"]
    for template in truth["templates"]:
        outline = np.array(template["finished_mm"])
        rows += [f"{template['id']},{side:.3f}" for side in np.hypot(*(np.roll(outline, -1, axis=0) - outline).T)]
    (tmp_path / "sizes.csv").write_text("\n".join(rows))
    words = ["--allowance", "1/4in", "--into", str(tmp_path), "--json"]
    code = run("check", str(SCAN), "--against", str(tmp_path / "sizes.csv"), *words)
    data = json.loads(capsys.readouterr().out)
    assert data["format"] == "seamsurvey.check/1"
    assert {checked["verdict"] for checked in data["lengths"]} <= {"right", "can't tell"}
    assert code == (0 if data["verdict"] == "right" else 4)
    assert data["missing"] == []
    with Image.open(tmp_path / "check-scan.jpg.png") as drawn:
        assert max(drawn.size) >= 1000
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "check-scan.jpg.png").write_bytes(b"mine")
    assert run("check", str(SCAN), "--size", "79.2mm", *words[:2], "--into", str(tmp_path / "mine"), "--json") == 5
    assert json.loads(capsys.readouterr().out)["code"] == "file-exists"
    assert (tmp_path / "mine" / "check-scan.jpg.png").read_bytes() == b"mine"

    assert run("check", str(SCAN), "--size", "79.2mm, 53.8mm", *words) == 3
    data = json.loads(capsys.readouterr().out)
    assert {checked["verdict"] for checked in data["lengths"]} == {"off"}


def test_a_box_needs_no_photo(capsys: pytest.CaptureFixture[str]) -> None:
    """Right, off, and too small to tell are exit codes 0, 3 and 4."""
    assert run("check", "--box", "100mm x 100.1mm") == 0
    assert run("check", "--box", "99.2mm x 98.1mm") == 3
    assert run("check", "--box", "50.1mm x 50mm", "--box-should-be", "50mm x 50mm") == 4
    assert "stretched" in capsys.readouterr().out


def ruler_px_per_mm() -> float:
    """Pixels a millimetre along the sample's ruler."""
    truth = json.loads((SCAN.parent / "truth.json").read_text())
    across = np.ptp(np.array(truth["references"][0]["corners_px_top_face"]), axis=0)
    return float(truth["camera"]["px_per_mm"][int(np.argmax(across))])


def with_ruler(page: np.ndarray, scale: float) -> bytes:
    """The scanned page and beside it the sample's steel ruler, as one picture.

    ``scale`` makes the page's pixels as large as the ruler's, by the sample's truth.
    """
    truth = json.loads((SCAN.parent / "truth.json").read_text())
    corners = np.array(truth["references"][0]["corners_px_top_face"])
    (left, top), (right, bottom) = corners.min(axis=0).astype(int) - 40, corners.max(axis=0).astype(int) + 40
    strip = np.array(Image.open(SCAN))[max(top, 0) : bottom, max(left, 0) : right]
    large = np.array(Image.fromarray(page).resize([round(side * scale) for side in page.shape[::-1]], 3))
    if strip.shape[1] > strip.shape[0]:
        strip = np.rot90(strip)
    height = max(large.shape[0], strip.shape[0])
    lid = np.median(strip[:30, :30], axis=(0, 1)).astype(np.uint8)
    sheet = np.empty((height, large.shape[1] + strip.shape[1], 3), np.uint8)
    sheet[:] = lid
    sheet[: large.shape[0], : large.shape[1]] = large[:, :, None]
    sheet[: strip.shape[0], large.shape[1] :] = strip
    out = io.BytesIO()
    Image.fromarray(sheet).save(out, "PNG", dpi=(300, 300))
    return out.getvalue()


def test_a_printed_page_is_checked_against_its_job(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A page printed at 98.5 % across, scanned beside a ruler, is known for a page, and off by just that.

    The scan of templates held against the same job is not taken for one of its pages.
    """
    job = tmp_path / "job"
    job.mkdir()
    (job / "measured.json").write_text(json.dumps(BY_HAND))
    assert run("convert", "--into", str(job), "-q") == 0
    page = scanned(job / "foundations.pdf", 3, stretch=(0.985, 1.0), turn=1.0)
    photo = tmp_path / "page.png"
    photo.write_bytes(with_ruler(page, ruler_px_per_mm() * 25.4 / DPI))
    capsys.readouterr()
    assert run("check", str(SCAN), "--against", str(job), "--into", str(tmp_path), "--json") == 4
    assert json.loads(capsys.readouterr().out)["lengths"][0]["name"].startswith("T")  # templates, no sheet
    assert run("check", str(photo), "--against", str(job), "--into", str(tmp_path), "--json") == 3
    data = json.loads(capsys.readouterr().out)
    across, up = data["lengths"][:2]
    assert (across["what"], up["what"]) == ("bar across", "bar up")
    assert across["measured_mm"] == pytest.approx(98.5, abs=across["u_mm"])
    assert up["measured_mm"] == pytest.approx(100.0, abs=up["u_mm"])
    assert across["verdict"] == "off"
    assert (tmp_path / "check-page.png.png").stat().st_size > 10_000


@pytest.mark.parametrize(
    ("arguments", "code", "error"),
    [
        ([], 2, "usage"),
        (["PHOTO", "--page"], 2, "usage"),
        (["PHOTO", "--size", "six"], 2, "usage"),
        (["PHOTO", "--size", "1in", "--against", "TABLE"], 2, "usage"),
        (["PHOTO", "--against", "TABLE"], 3, "sizes-file"),
        (["PHOTO", "--against", "EMPTY"], 3, "stage-missing"),
    ],
)
def test_what_makes_no_sense_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: int, error: str
) -> None:
    """Each mistake ends in its own error before the photo is looked at."""
    (tmp_path / "photo.jpg").write_bytes(b"no picture")
    (tmp_path / "table.csv").write_text("template,length\nsquare,2 1/2 in\nsquare,six\n")
    (tmp_path / "empty").mkdir()
    paths = {"PHOTO": "photo.jpg", "TABLE": "table.csv", "EMPTY": "empty"}
    words = [str(tmp_path / paths[word]) if word in paths else word for word in arguments]
    assert run("check", *words, "--json") == code
    assert json.loads(capsys.readouterr().out)["code"] == error
