"""Letters and figures in a grey picture: where lines of them lie, and what one line says.

Two small networks (PP-OCRv6 small, Apache 2.0), which the wheel of rapidocr carries, are run with onnxruntime:
nothing is fetched at run time. A reading says of every character how sure the network is of it; that is no
probability yet (`templates.writing` makes one of several looks).

Frame: the picture's pixels, x right, y down. Dark letters on a light ground.
"""

import functools
import importlib.resources
from collections.abc import Mapping
from typing import Any

import cv2
import numpy as np
import onnxruntime
from attrs import field, frozen
from numpy.typing import NDArray

from seamsurvey.errors import PartMissingError

Grey = NDArray[np.uint8]
Floats = NDArray[np.float64]

# What the networks were trained with: Du et al., PP-OCR (arXiv 2009.09941), and the models' own configuration.
_MEAN = _SPREAD = 127.5  # grey values become -1 to 1
_GRID = 32  # sides of a picture in which lines are looked for
_LINE_HEIGHT = 48  # of a line that is read
_NARROWEST, _WIDEST = 24, 1600
# Of the map of probabilities that a pixel is a line's: Liao et al., Real-time scene text detection with
# differentiable binarization (AAAI 2020), with the thresholds of that configuration.
_INSIDE, _LIKELY = 0.3, 0.5
_SHRUNK = 1.6  # the map shows lines shrunk: each side is set off by this times area over perimeter
_SMALLEST_PX = 3.0


@frozen(eq=False)
class TextLine:
    """Where a line lies: ``corners`` (4, 2) px, clockwise as seen, in whatever direction it is written."""

    corners: Floats = field()
    score: float


@frozen
class Reading:
    """What a line says; of each character, how sure the network is of it (0 to 1), and where it stands (0 to 1)."""

    text: str
    sureness: tuple[float, ...]
    places: tuple[float, ...] = ()

    @property
    def least(self) -> float:
        """Of the character it is least sure of, blanks aside; 0 where nothing was read."""
        letters = [sure for each, sure in zip(self.text, self.sureness, strict=True) if each != " "]
        return min(letters, default=0.0)


def find_lines(grey: Grey) -> list[TextLine]:
    """Every line of letters or figures in ``grey`` ((h, w) uint8), in any direction. 8 to 40 px high is best."""
    height, width = grey.shape
    whole = cv2.copyMakeBorder(
        grey, 0, -height % _GRID, 0, -width % _GRID, cv2.BORDER_CONSTANT, value=[float(np.median(grey))]
    )
    likely = _run("det", np.asarray(whole))[0, 0, :height, :width]
    inside = (likely > _INSIDE).astype(np.uint8)
    outlines, _ = cv2.findContours(inside, cv2.RETR_LIST, cv2.CHAIN_APPROX_SIMPLE)
    lines = []
    for outline in outlines:
        middle, (long, wide), turn = cv2.minAreaRect(outline)
        if min(long, wide) < _SMALLEST_PX:
            continue
        score = _mean_within(likely, np.asarray(outline))
        if score < _LIKELY:
            continue
        off = _SHRUNK * long * wide / (long + wide)
        corners = cv2.boxPoints((middle, (long + off, wide + off), turn))
        lines.append(TextLine(np.asarray(corners, dtype=float), score))
    return lines


def read_line(grey: Grey) -> Reading:
    """What a line says that fills ``grey`` ((h, w) uint8), upright, with little round it."""
    height, width = grey.shape
    wide = int(np.clip(round(_LINE_HEIGHT * width / height), _NARROWEST, _WIDEST))
    shrinks = height > _LINE_HEIGHT
    scaled = cv2.resize(grey, (wide, _LINE_HEIGHT), interpolation=cv2.INTER_AREA if shrinks else cv2.INTER_CUBIC)
    by_column = _run("rec", np.asarray(scaled))[0]
    # Connectionist temporal classification (Graves et al. 2006): the likeliest of each column, without repeats and
    # blanks.
    best = by_column.argmax(axis=1)
    new = (best != 0) & (best != np.roll(best, 1))
    new[:1] = best[:1] != 0
    sureness = by_column.max(axis=1)[new]
    alphabet = _alphabet()
    return Reading(
        "".join(alphabet[k] for k in best[new]),
        tuple(float(each) for each in sureness),
        tuple(float(column + 0.5) / len(best) for column in np.flatnonzero(new)),
    )


def _mean_within(likely: NDArray[np.float32], outline: NDArray[Any]) -> float:
    """The mean of the map inside an outline."""
    x, y, width, height = cv2.boundingRect(outline)
    mask = np.zeros((height, width), np.uint8)
    cv2.drawContours(mask, [outline - np.array([x, y])], -1, 1, cv2.FILLED)
    return float(cv2.mean(likely[y : y + height, x : x + width], mask)[0])


def _run(which: str, grey: NDArray[Any]) -> NDArray[np.float32]:
    session = _session(which)
    values = (grey.astype(np.float32) - _MEAN) / _SPREAD
    inputs = {session.get_inputs()[0].name: np.repeat(values[None, None], 3, axis=1)}
    return np.asarray(session.run(None, inputs)[0])


@functools.cache
def _session(which: str) -> onnxruntime.InferenceSession:
    """The network that finds lines ("det") or reads them ("rec"); PartMissingError ``no-reading``."""
    try:
        models = importlib.resources.files("rapidocr") / "models"
        found = [each for each in models.iterdir() if f"_{which}_" in each.name and each.name.endswith(".onnx")]
        model = min(found, key=lambda each: each.name).read_bytes()
    except (ModuleNotFoundError, FileNotFoundError, ValueError) as error:
        raise PartMissingError(
            "no-reading",
            "What reads the cards is missing: the package rapidocr is not there, or has no models in it.",
            todo="Install seamsurvey again, or leave the writing aside: --cards ignore.",
        ) from error
    onnxruntime.disable_telemetry_events()
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1  # pictures are read side by side in processes of their own
    options.log_severity_level = 3
    return onnxruntime.InferenceSession(model, options, providers=["CPUExecutionProvider"])


@functools.cache
def _alphabet() -> tuple[str, ...]:
    """What each class of the reading network is; 0 is the blank, the last one the space."""
    about: Mapping[str, str] = _session("rec").get_modelmeta().custom_metadata_map
    return ("", *about["character"].splitlines(), " ")
