"""Scans of printed pages with two rulers: every template found, every edge against what was drawn."""

import io
import time
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from shapely import Polygon

from seamsurvey.errors import SeamsurveyError
from seamsurvey.model import Template
from seamsurvey.photo.read import read_picture
from seamsurvey.photo.scan_plane import find_scan_plane
from tests.benchmarks.table import Table
from tests.looked import look_and_measure
from tests.scene.cards import Cutting
from tests.scene.families import random_family
from tests.scene.geometry import edge_lengths, move, placement, with_margin
from tests.scene.printed import LETTER, Drawn, Page, Pen, sheet_of
from tests.scene.rulers import RULERS
from tests.scene.scan import Scanner, scan
from tests.scene.scatter import DoesNotFitError, Room, scatter
from tests.scene.scene import LaidRuler, Scene

PAGES = 14
FREE = (182.0, 228.0)  # mm of the page beside the upright ruler and above the lying one
LYING, UPRIGHT = "steel-6in", "wood-12in-eighths"
SEAMS = {
    "dashed": Pen(0.35, (3.0, 2.0)),
    "dotted": Pen(0.3, (1.5, 1.5)),
    "thin": Pen(0.2),
    "single outlines": None,
}
GOAL_MM = 0.05
COLUMNS = (
    "seam line",
    "pages",
    "templates",
    "wrong",
    "edges",
    "rms mm",
    "95 % mm",
    "max mm",
    "within U",
    "seconds a page",
)
MOST_OFF_MM = 0.6  # a template whose edges are off by more was not recognised


@dataclass(frozen=True)
class Found:
    """What became of one page: its errors and U by edge, and how many templates were right, wrong, and drawn."""

    errors: NDArray[np.float64]
    u: NDArray[np.float64]
    right: int
    wrong: int
    drawn: int
    seconds: float


def printed_pages(count: int = PAGES) -> Table:
    """One row a kind of seam line; pages with and without grid, border and notches."""
    rows = []
    for kind, seam in SEAMS.items():
        found = [page for seed in range(count) if (page := _measured(seed, seam)) is not None]
        off, u = (np.concatenate(parts) for parts in ([f.errors for f in found], [f.u for f in found]))
        rows.append(
            (
                kind,
                str(len(found)),
                f"{sum(f.right for f in found)} of {sum(f.drawn for f in found)}",
                str(sum(f.wrong for f in found)),
                str(len(off)),
                f"{np.sqrt(np.mean(off**2)):.3f}",
                f"{np.percentile(np.abs(off), 95):.3f}",
                f"{np.abs(off).max():.3f}",
                f"{np.mean(np.abs(off) <= u):.1%}",
                f"{np.mean([f.seconds for f in found]):.1f}",
            )
        )
    return Table(
        heading="Printed pages at 300 dpi, two rulers",
        command="python -m tests.benchmarks printed-pages",
        about="Random pages: cut lines of 0.25 to 0.8 mm with seam lines inside, or single outlines; some with a"
        " border, a grid, notches. Edges are compared with what was drawn; the scanner's axes are off by up to"
        f" 0.2 %, each by its own. The goal is {GOAL_MM} mm.",
        columns=COLUMNS,
        rows=tuple(rows),
    )


def _measured(seed: int, seam: Pen | None) -> Found | None:
    """One random page; None where its templates do not fit on it."""
    rng = np.random.default_rng([seed, 91])
    allowance = float(rng.choice([6.35, 6.0])) if seam is not None else 0.0
    shapes = [template.finished for template in random_family(seed).templates]
    try:
        places = scatter([with_margin(s, allowance) for s in shapes], Room(FREE, (), 8.0, 12.0), rng)
    except DoesNotFitError:
        return None
    up = np.array([0.0, LETTER[1] - FREE[1]])
    drawn = tuple(
        Drawn(
            chr(65 + k), move(place, shape) + up, allowance, Pen(float(rng.choice([0.25, 0.35, 0.5, 0.8]))), seam,
            note="", arrow=False, notches=bool(rng.random() < 0.4),
        )
        for k, (shape, place) in enumerate(zip(shapes, places, strict=True))
    )  # fmt: skip
    frame = 4.0 if rng.random() < 0.4 else None
    page = Page(drawn, frame=frame, grid=(None, None, 25.4, 5.0)[int(rng.integers(4))], text=())
    lying, upright = RULERS[LYING], RULERS[UPRIGHT]
    rulers = (
        LaidRuler(lying, placement(rng.uniform(-1, 1), (90, 28), (lying.length / 2, lying.width / 2))),
        LaidRuler(upright, placement(90 + rng.uniform(-1, 1), (197, 140), (upright.length / 2, upright.width / 2))),
    )
    scene = Scene("page", seed, random_family(seed), Cutting(), LETTER, (), rulers, sheet=sheet_of(page))
    x, y = rng.uniform(-0.002, 0.002, 2)
    scanner = Scanner(axis_error=(float(x), float(y)), sharpen=float(rng.choice([0.0, 0.5])))
    stored = io.BytesIO()
    Image.fromarray(scan(scene, scanner)).save(stored, "JPEG", quality=scanner.quality, dpi=(300, 300))
    begun = time.perf_counter()
    try:
        picture = read_picture("page.jpg", stored.getvalue())
        found = look_and_measure([(picture, find_scan_plane(picture))], allowance_mm=None, every_card=True)
    except SeamsurveyError:
        return Found(np.empty(0), np.empty(0), 0, 0, len(drawn), time.perf_counter() - begun)
    seconds = time.perf_counter() - begun
    to_image = scanner.to_image(LETTER)
    outlines = [Polygon(move(to_image, each.cut)) for each in drawn]
    errors, u, right = [np.empty(0)], [np.empty(0)], 0
    for template in found.templates:
        seen = Polygon(template.corners_px)
        shared = [seen.intersection(outline).area / seen.union(outline).area for outline in outlines]
        best = int(np.argmax(shared))
        off = _off(template, drawn[best].finished)
        if off is not None:
            errors.append(off)
            u.append(np.array([edge.u_mm for edge in template.edges]))
            right += 1
    wrong = len(found.templates) - right
    return Found(np.concatenate(errors), np.concatenate(u), right, wrong, len(drawn), seconds)


def _off(template: Template, finished: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """(n,) mm: each edge against the drawn one; None where it is another shape."""
    lengths = np.array([edge.length_mm for edge in template.edges])
    true = edge_lengths(finished)
    if len(true) != len(lengths):
        return None
    turned = [lengths - np.roll(true, k) for k in range(len(true))]
    best = min(turned, key=lambda off: float(np.abs(off).max()))
    return best if np.abs(best).max() < MOST_OFF_MM else None
