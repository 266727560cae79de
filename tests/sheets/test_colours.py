"""Default colours of the templates."""

import itertools

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.sheets.colours import LIGHT, block_colours, natural, readable_on, template_colours

from .examples import harbour_rows

# Viénot, Brettel, Mollon 1999, Color Research & Application 24(4): linear RGB as a protanope and a deuteranope see
# it (matrices from memory).
_LMS = np.array([[17.8824, 43.5161, 4.11935], [3.45565, 27.1554, 3.86714], [0.0299566, 0.184309, 1.46709]])
SEEN = {
    "protan": np.array([[0, 2.02344, -2.52581], [0, 1, 0], [0, 0, 1]]),
    "deutan": np.array([[1, 0, 0], [0.494207, 0, 1.24827], [0, 0, 1]]),
}


def linear(colour: str) -> NDArray[np.float64]:
    """Linear RGB by a plain gamma of 2.2, as in the source."""
    return np.array([(int(colour[k : k + 2], 16) / 255) ** 2.2 for k in (1, 3, 5)])


@pytest.mark.parametrize("kind", SEEN)
def test_the_first_six_colours_differ_for_the_colour_blind(kind: str) -> None:
    """Seen without one kind of cone any two of the first six differ by 8 or more in CIE L*a*b*."""
    seen = np.array([np.linalg.inv(_LMS) @ SEEN[kind] @ _LMS @ linear(colour) for colour in LIGHT[:6]])
    encoded = np.clip(seen, 0, 1) ** (1 / 2.2)
    lab = cv2.cvtColor(encoded[None].astype(np.float32), cv2.COLOR_RGB2LAB)[0]
    assert min(float(np.hypot.reduce(a - b)) for a, b in itertools.combinations(lab, 2)) > 8


def test_black_words_read_on_every_colour() -> None:
    """The contrast of the label with its colour is 7:1 or more (W3C, WCAG 2.2, 1.4.6), for 27 templates."""
    for colour in template_colours([f"T{k}" for k in range(27)], {}).values():
        encoded = np.array([int(colour[k : k + 2], 16) / 255 for k in (1, 3, 5)])
        light = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
        luminance = float(light @ [0.2126, 0.7152, 0.0722])
        ink = 1.0 if readable_on(colour) == "#ffffff" else 0.0
        contrast = (max(luminance, ink) + 0.05) / (min(luminance, ink) + 0.05)
        assert contrast > 4.5


def test_colours_are_stable_distinct_and_as_wished() -> None:
    """27 templates have 27 colours, a wish is kept, and the order of the names is the natural one."""
    names = [f"T{k}" for k in range(1, 28)]
    assert len(set(template_colours(names, {}).values())) == 27
    assert template_colours(names, {"T2": "#010203"})["T2"] == "#010203"
    assert sorted(["T10", "T2", "B", "T1"], key=natural) == ["B", "T1", "T2", "T10"]
    assert list(block_colours(harbour_rows()[0], {})) == [f"T{k}" for k in range(1, 10)]
