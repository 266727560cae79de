"""The sample scans in the repository: made by the commands beside them, with a truth that agrees with itself."""

import io
import json
import re
import shlex
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image

from tests.scene.__main__ import main
from tests.scene.families import family
from tests.scene.geometry import move
from tests.scene.make import jpeg_library
from tests.scene.truth import read_truth

SAMPLES = Path(__file__).parents[2] / "sample_scans"
FOLDERS = sorted(path.parent for path in SAMPLES.glob("*/truth.json"))
COMMANDS = re.findall(r"^python -m tests\.scene (.+)$", (SAMPLES / "README.md").read_text("utf-8"), re.MULTILINE)


def named(folder: Path) -> str:
    """The folder's name, for the test's."""
    return folder.name


def test_every_sample_has_its_command() -> None:
    """The README of provenance gives one command for each folder, and there are at least three."""
    assert sorted(Path(shlex.split(command)[-1]).name for command in COMMANDS) == [f.name for f in FOLDERS]
    assert len(FOLDERS) >= 3


def test_a_sample_is_made_again_to_the_byte(tmp_path: Path) -> None:
    """The README's command gives the repository's files again, byte for byte.

    Another version of the JPEG library than the sample's may write other bytes; then the pixels that went into
    it must be the same, and the truth in every other word.
    """
    command = next(c for c in COMMANDS if "pantry-tiles" in c)
    arguments = shlex.split(command)
    arguments[-1] = str(tmp_path)
    assert main(arguments) == 0
    shipped = SAMPLES / "pantry-tiles"
    truth, again = (json.loads((folder / "truth.json").read_text("utf-8")) for folder in (shipped, tmp_path))
    if truth["image"].pop("jpeg_library") == jpeg_library():
        assert (tmp_path / "scan.jpg").read_bytes() == (shipped / "scan.jpg").read_bytes()
    again["image"].pop("jpeg_library")
    assert again == truth


@pytest.mark.parametrize("folder", FOLDERS, ids=named)
def test_a_sample_is_small_and_whole(folder: Path) -> None:
    """The picture is under 2 MB, at 300 dpi, of the size in the truth."""
    data = (folder / "scan.jpg").read_bytes()
    truth = read_truth(folder / "truth.json")
    with Image.open(io.BytesIO(data)) as image:
        assert image.size == (truth.width, truth.height)
        assert image.info["dpi"] == (300, 300)
        image.load()
    assert len(data) < 2_000_000


@pytest.mark.parametrize("folder", FOLDERS, ids=named)
def test_a_samples_truth_agrees_with_itself(folder: Path) -> None:
    """Corners in px are the template's corners under the stated maps, and the pieces tile the block."""
    truth = read_truth(folder / "truth.json")
    to_image = np.column_stack([truth.camera["A"], truth.camera["b"]])
    for placed, raw in zip(truth.placed, truth.raw["placed"], strict=True):
        template = truth.template(placed.template)
        on_table = move(np.array(raw["local_to_world"]), template.finished)
        assert move(to_image, on_table) == pytest.approx(placed.finished_corners_px, abs=1e-4)
        seen, cut = (shapely.Polygon(p) for p in (placed.as_cut_outline_px, placed.cut_corners_px))
        assert seen.symmetric_difference(cut).area < 0.02 * cut.area
    width, height = truth.block_size
    assert sum(shapely.Polygon(p).area for p in truth.pieces) == pytest.approx(width * height, rel=1e-9)
    assert sum(t.count + t.reversed_count for t in truth.templates) == len(truth.pieces)
    for t in truth.templates:
        grown = shapely.Polygon(t.finished).buffer(truth.allowance, join_style="mitre", mitre_limit=50.0)
        assert grown.symmetric_difference(shapely.Polygon(t.cut)).area < 1e-3


@pytest.mark.parametrize("folder", FOLDERS, ids=named)
def test_seams_meet_from_both_sides(folder: Path) -> None:
    """Twice the seams' length and the block's circumference make up all the pieces' circumferences."""
    truth = read_truth(folder / "truth.json")
    seams = sum(seam["length_in"] for seam in truth.raw["block"]["seams"]) * 25.4
    around = 2 * sum(truth.block_size)
    assert 2 * seams + around == pytest.approx(sum(shapely.Polygon(p).length for p in truth.pieces), abs=1e-4)


def test_a_truth_by_another_writer_is_read_the_same_way(tmp_path: Path) -> None:
    """A truth file with the fields of a photo (mat marks as pairs, trimmed tips) is read without the tool."""
    data = json.loads((SAMPLES / "moth-wing" / "truth.json").read_text("utf-8"))
    data["kind"], data["tips_trimmed_mm"] = "photo", 8.255
    data["camera"] = {"model": "pinhole", "fx": 3000.0}
    data["references"][0]["marks"] = [{"value": [2, 3], "xy_mm": [1.0, 2.0], "px": [3.0, 4.0]}]
    del data["references"][0]["scales"]
    path = tmp_path / "truth.json"
    path.write_text(json.dumps(data), "utf-8")
    truth = read_truth(path)
    assert truth.px_per_mm is None
    assert truth.tips_trimmed == 8.255
    assert truth.references[0].marks[0].value == (2, 3)
    assert truth.template("B").reversed_count == 1


def test_a_random_family_is_named_by_its_seed() -> None:
    """`random-7` on the command line is the block of seed 7; an unknown name is refused."""
    assert family("random-7").name == "random-7"
    with pytest.raises(KeyError):
        family("no-such-block")


def test_a_photo_is_made_by_the_command(tmp_path: Path) -> None:
    """`--photo` writes a picture and a truth that name the camera and both rulers."""
    arguments = shlex.split(
        "--family trellis-sixty --photo --size 1000 750 --ruler steel-6in plastic-15cm --tilt 9 --into"
    )
    assert main([*arguments, str(tmp_path)]) == 0
    truth = read_truth(tmp_path / "truth.json")
    assert (truth.kind, truth.camera["tilt_deg"], len(truth.references)) == ("photo", 9.0, 2)
    assert (tmp_path / "photo.jpg").stat().st_size > 20_000


def test_a_scene_that_cannot_be_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A block too large for the glass ends with code 2 and says what does not fit, and nothing is written."""
    arguments = shlex.split("--family ferry-panel --allowance 25 --bed letter --into")
    assert main([*arguments, str(tmp_path / "none")]) == 2
    assert "7 shapes do not fit" in capsys.readouterr().err
    assert not (tmp_path / "none").exists()
