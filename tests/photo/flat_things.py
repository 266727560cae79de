"""A sheet of paper, an ID-1 card and two templates, photographed through OpenCV's camera for two tests' sake."""

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import skimage.data
from numpy.typing import NDArray

from tests.photo.photographed import Looks, laid, on_table, photograph, shape
from tests.scene.camera import Phone, PhoneView

Floats = NDArray[np.float64]
SAMPLES = sorted((Path(__file__).parents[2] / "sample_scans").glob("*/scan.jpg"))
OTHERS = ("astronaut", "coffee", "rocket", "page", "brick", "text")

# ISO/IEC 7810 (from memory): ID-1, 85.60 x 53.98 mm, radius 3.18 mm, thickness 0.76 mm.
CARD_MM, RADIUS_MM, THICKNESS_MM = (85.60, 53.98), 3.18, 0.76
PAPERS_MM = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}


def rectangle(width: float, height: float) -> Floats:
    """(4, 2) mm, counter-clockwise from the origin."""
    return np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])


@dataclass(frozen=True)
class Photo:
    """One picture and how it was taken."""

    pixels: NDArray[np.uint8]
    phone: Phone
    sheet_mm: tuple[float, float]
    sheet: Floats
    card: Floats

    def seen(self, outline: Floats, to_table: Floats, height_mm: float) -> Floats:
        """(n, 2) px, densely along an outline's straight edges: cv2.projectPoints."""
        share = np.linspace(0, 1, 4000)[:, None]
        edges = zip(outline, np.roll(outline, -1, axis=0), strict=True)
        dense = np.concatenate([a + share * (b - a) for a, b in edges])
        return PhoneView(self.phone, np.zeros(2)).pixels(on_table(to_table, dense), height_mm)


def take(paper: str, tilt: float, azimuth: float, *, turn: float, k1: float, looks: Looks, radius: float) -> Photo:
    """A sheet, a card, and two templates: a card's size with other corners, and a square over the sheet's edge."""
    width, height = PAPERS_MM[paper]
    sheet = laid(turn, (0.0, 0.0), (width / 2, height / 2))
    card = laid(turn + 30.0, (-50.0, 20.0), (42.8, 27.0))
    things = [
        shape(rectangle(width, height), (0.8, 0.8, 0.78), sheet),
        shape(rectangle(*CARD_MM), (0.1, 0.2, 0.5), card, height_mm=THICKNESS_MM, radius_mm=RADIUS_MM),
        shape(rectangle(*CARD_MM), (0.5, 0.4, 0.2), laid(5.0, (60.0, -35.0), (42.8, 27.0)), radius_mm=radius),
        shape(rectangle(60.0, 60.0), (0.4, 0.4, 0.2), laid(50.0, (100.0, 80.0), (30.0, 30.0)), height_mm=0.8),
    ]
    phone = Phone(
        focal_35mm=38.0, size=(1600, 1200), distance=520.0, tilt=tilt, azimuth=azimuth, k1=k1, principal=(7.0, -5.0)
    )
    return Photo(photograph(things, phone, looks), phone, (width, height), sheet, card)


# Two pictures as far apart as must serve.
_CASES: dict[str, dict[str, Any]] = {
    "a4 from above": {
        "paper": "a4", "tilt": 2.0, "azimuth": -90.0, "turn": 3.0, "k1": 0.04, "looks": Looks(quality=90),
        "radius": 1.0,
    },
    "letter at 30 degrees, half in shadow": {
        "paper": "letter", "tilt": 30.0, "azimuth": 100.0, "turn": 176.0, "k1": -0.05,
        "looks": Looks(blur=1.0, noise=0.006, shadow=0.4), "radius": 0.0,
    },
}  # fmt: skip
CASES = tuple(_CASES)


@cache
def taken(case: str) -> Photo:
    """One of the pictures; made once, for that takes seconds."""
    return take(**_CASES[case])


def other_picture(name: str) -> NDArray[np.uint8]:
    """(h, w, 3) a picture that ships with scikit-image."""
    pixels = getattr(skimage.data, name)()
    pixels = np.repeat(pixels[..., None], 3, axis=2) if pixels.ndim == 2 else pixels[..., :3]
    return np.ascontiguousarray(pixels)
