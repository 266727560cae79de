"""Bad input: each ends in a sentence on what is wrong, where, and what to do, and leaves nothing half-written."""

import io
import json
import struct
import zlib
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest
import skimage.data
from numpy.typing import NDArray
from PIL import Image

from seamsurvey.job.hold import LOCK
from seamsurvey_cli.main import main

SAMPLES = Path(__file__).parents[1] / "sample_scans"


def jpeg(pixels: NDArray[Any]) -> bytes:
    """A picture as a JPEG that says 300 dpi."""
    stream = io.BytesIO()
    Image.fromarray(pixels).convert("RGB").save(stream, "JPEG", quality=92, dpi=(300, 300))
    return stream.getvalue()


def sample() -> NDArray[np.uint8]:
    """A sound scan of three blue templates beside a steel ruler, from the samples."""
    return np.array(Image.open(SAMPLES / "pantry-tiles" / "scan.jpg"))


def corners(template: str) -> NDArray[np.float64]:
    """Where a template of that scan lies, from its truth."""
    truth = json.loads((SAMPLES / "pantry-tiles" / "truth.json").read_text())
    return np.array(next(p["ascut_corners_px"] for p in truth["placed"] if p["template"] == template))


def without_ruler() -> bytes:
    """The sample with its ruler painted over with bare lid."""
    truth = json.loads((SAMPLES / "pantry-tiles" / "truth.json").read_text())
    pixels = sample()
    ruler = np.array(truth["references"][0]["corners_px_top_face"])
    (left, top), (right, bottom) = ruler.min(axis=0).astype(int) - 30, ruler.max(axis=0).astype(int) + 30
    pixels[max(top, 0) : bottom, max(left, 0) : right] = np.median(pixels[:200, :200], axis=(0, 1))
    return jpeg(pixels)


def cut_by_the_border() -> bytes:
    """The sample cropped through the middle of one template."""
    middle = int(corners("A")[:, 1].mean())
    return jpeg(sample()[:middle])


def touching() -> bytes:
    """The sample with one template laid over the corner of another, as a scanner sees it: darker, in its shadow."""
    pixels = sample().astype(float)
    one = corners("C")
    middle = one.mean(axis=0)
    over = middle + (one - middle) @ np.array([[0.9, 0.3], [-0.3, 0.9]]) * 0.4 + [0.6 * np.ptp(one[:, 0]), 40]
    card = cv2.fillPoly(np.zeros(pixels.shape[:2]), [np.rint(over).astype(int)], 1.0)
    shadow = np.maximum(cv2.GaussianBlur(card, (0, 0), 6.0) - card, 0)[..., None]
    pixels = pixels * (1 - 0.7 * shadow)
    blue = np.random.default_rng(1).normal([118, 150, 188], 1.5, pixels.shape)
    return jpeg(np.where(card[..., None] > 0, blue, pixels).clip(0, 255).astype(np.uint8))


def enormous() -> bytes:
    """A PNG whose header says 40,000 × 40,000 px."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    header = struct.pack(">IIBBBBB", 40_000, 40_000, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b"\0" * 64))
        + chunk(b"IEND", b"")
    )


def truncated() -> bytes:
    """The first third of a sound JPEG."""
    whole = jpeg(sample())
    return whole[: len(whole) // 3]


CASES = {
    "no ruler": (without_ruler, 3, {"no-ruler"}),
    "a photo of a cat": (lambda: jpeg(skimage.data.chelsea()), 3, {"no-ruler"}),
    "a page of text": (lambda: jpeg(skimage.data.page()), 3, {"no-ruler"}),
    "an empty file": (lambda: b"", 3, {"empty-file"}),
    "a truncated JPEG": (truncated, 3, {"truncated-picture"}),
    "not a picture": (lambda: b"Dear quilter, ...", 3, {"not-a-picture"}),
    "40,000 by 40,000 px": (enormous, 3, {"picture-too-large"}),
    "cut by the border": (cut_by_the_border, 4, {"card-unclear"}),
    "touching templates": (touching, 4, {"card-unclear"}),
}


@pytest.mark.parametrize("case", CASES)
def test_bad_pictures_are_refused_in_words(case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code and error code are those of the contract; the job holds nothing but the wishes."""
    make, exit_code, codes = CASES[case]
    photo = tmp_path / "scan.jpg"
    photo.write_bytes(make())
    job = tmp_path / "job"
    with pytest.raises(SystemExit) as caught:
        main(["convert", str(photo), "--into", str(job), "--allowance", "1/4in", "--json"])
    said = json.loads(capsys.readouterr().out)
    assert (caught.value.code, said["code"] in codes) == (exit_code, True), said
    assert said["what"].strip()
    assert said["todo"].strip()
    kept = set() if exit_code == 3 else {"measured.json", ".made.json", "overlay-scan.jpg.png"}
    assert {path.name for path in job.iterdir()} <= {"job.toml", LOCK, *kept}


def test_a_count_that_fills_no_block_is_refused_with_what_was_measured_kept(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The measuring stays on disk, the layout is refused with the numbers, and no half of it is written."""
    job = tmp_path / "job"
    counts = ["--count", "T1=1", "--count", "T2=1", "--count", "T3=1"]
    scan = str(SAMPLES / "pantry-tiles" / "scan.jpg")
    with pytest.raises(SystemExit) as caught:
        main(["convert", scan, "--into", str(job), "--allowance", "1/4in", *counts, "--json"])
    said = json.loads(capsys.readouterr().out)
    assert (caught.value.code, said["code"]) == (3, "count-cannot-fill")
    names = {path.name for path in job.iterdir()}
    assert "measured.json" in names
    assert not {"layout.json", "foundation.json", "foundations.pdf"} & names
