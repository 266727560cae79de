"""Small printed pages for these tests, scanned by the tests' own renderer at 300 dpi; the plane is the true one."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from seamsurvey.model import Picture, Plane
from tests.scene.cards import Cutting
from tests.scene.families import family
from tests.scene.geometry import polygon
from tests.scene.printed import Drawn, Page, Pen, sheet_of
from tests.scene.scan import Scanner, scan
from tests.scene.scene import Scene
from tests.templates.drawing import DPI, plane_of, turned

Floats = NDArray[np.float64]

SIZE = (150.0, 110.0)
SQUARE = turned([[0, 0], [30, 0], [30, 30], [0, 30]], 4, (32, 70))
TRIANGLE = turned([[0, 0], [38, 0], [0, 38]], -7, (97, 66))
DIAMOND = turned(np.array([[0, 0], [26, 0], [44.4, 18.4], [18.4, 18.4]]), 3, (60, 24))
THIN, DASHED, CUTTING = Pen(0.25), Pen(0.35, (3.0, 2.0)), Pen(0.5)


def drawn(shape: Floats, name: str, **said: object) -> Drawn:
    """A template with its cut line a quarter of an inch outside and a dashed seam line, unless said otherwise."""
    return replace(Drawn(name, polygon(shape)), **said)  # type: ignore[arg-type]


def usual_page(**said: object) -> Page:
    """Three templates: seam lines dashed, thin and whole, and dashed with notches on the cut line."""
    three = (
        drawn(SQUARE, "A"),
        drawn(TRIANGLE, "B", inner=THIN),
        drawn(DIAMOND, "C", notches=True, note="cut 8"),
    )
    return replace(Page(drawn=three, size=SIZE, text=("SEW 7",)), **said)  # type: ignore[arg-type]


def scanned(page: Page, **said: object) -> tuple[Picture, Plane]:
    """The page on the glass, paper to paper's edge, and the plane of the glass."""
    scanner = replace(Scanner(dpi=DPI, dust=10), **said)  # type: ignore[arg-type]
    scene = Scene("page", 3, family("eight-lights"), Cutting(), SIZE, (), (), sheet=sheet_of(page))
    pixels = scan(scene, scanner)
    return Picture("page.png", "0" * 64, pixels, (DPI, DPI)), plane_of(pixels.shape[0])
