"""Stage 1 on photos: lengths on the cards' faces against the truth, and what the tool says of its own error.

OpenCV's camera (cv2.projectPoints, with distortion) says where the ends of true lengths lie in the picture; the
tool never sees these points, only the picture, from which it takes its plane. Rulers, mats and prints are off in
scale as such things are; "relative to the marks" takes that off again.
"""

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pdfplumber
from numpy.typing import NDArray

from seamsurvey.errors import SeamsurveyError
from seamsurvey.model import Plane
from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.read import read_picture
from seamsurvey.sheets.target_page import target_pdf
from seamsurvey.units import PAPERS
from tests.benchmarks.phones import LONG_RULERS, random_exposure, random_phone
from tests.benchmarks.table import Table
from tests.scene.camera import PhoneView, visible_room
from tests.scene.cards import Cutting
from tests.scene.families import random_family
from tests.scene.geometry import placement
from tests.scene.grounds import MATS
from tests.scene.photo import photo_jpeg, photograph
from tests.scene.rulers import RULERS
from tests.scene.scatter import DoesNotFitError
from tests.scene.scene import LaidSheet, Layout, Scene, lay_out

Floats = NDArray[np.float64]

LENGTHS = 11  # in each picture, 50 to 100 mm long, anywhere in the part of the table that is seen whole
# One standard deviation each, as the tool supposes them too: the error of a ruler, a mat and a print as wholes.
RULER_SIGMA, MAT_SIGMA, PRINT_SIGMA, PRINT_ASPECT_SIGMA = 0.001, 0.003, 0.01, 0.002
SHORT_RULERS = ("steel-6in", "plastic-15cm", "plastic-20cm")
GROUNDS = ("white", "oak", "walnut", "linen")
COLUMNS = (
    "class",
    "photos",
    "refused",
    "rms mm",
    "95 % mm",
    "max mm",
    "rms mm, ruler's error included",
    "within U",
)


@dataclass(frozen=True)
class Kind:
    """A class of photos."""

    name: str
    count: int
    tilt: tuple[float, float]
    rulers: int = 1
    sheet: str = ""  # "mat", "target"
    heights: bool = True  # told to the tool, to 0.1 mm
    long: bool = True  # rulers of 30 cm; else of 15 to 20 cm


KINDS = (
    Kind("within 3°, one ruler", 28, (0.0, 3.0)),
    Kind("within 3°, one ruler, heights not told", 20, (0.0, 3.0), heights=False),
    Kind("within 3°, one ruler of 6 in or 15 to 20 cm", 20, (0.0, 3.0), long=False),
    Kind("5° to 30°, two rulers", 25, (5.0, 30.0), rulers=2),
    Kind("about 25°, cutting mat and ruler", 25, (22.0, 28.0), sheet="mat"),
    Kind("about 25°, target and ruler", 20, (22.0, 28.0), sheet="target"),
)


@dataclass(frozen=True)
class Shot:
    """A photo of the class and what is true in it. ``own_scale`` is how much too large the rulers' marks are."""

    jpeg: bytes
    view: PhoneView
    room: tuple[float, float]
    card_mm: float
    ruler_mm: float
    own_scale: float


@dataclass(frozen=True)
class Outcome:
    """The lengths of one photo: (n,) errors in mm, those relative to the marks, and U."""

    errors: Floats
    relative: Floats
    u: Floats


@cache
def printed_target(paper: str) -> LaidSheet:
    """The target as the tool prints it, its black and white read out of the PDF by pdfplumber."""
    with pdfplumber.open(io.BytesIO(target_pdf(paper))) as pdf:
        page = pdf.pages[0]
        shapes = [shape for shape in (*page.rects, *page.curves) if shape["fill"]]
        height = float(page.height)
        shapes.sort(key=lambda shape: -shape["width"] if _share(shape) < 0.5 else 0.0)  # black first, large first
        inks = tuple(
            (np.array([(x, height - y) for x, y in shape["pts"]]) * 25.4 / 72, _share(shape)) for shape in shapes
        )
    width_mm, height_mm = PAPERS[paper]
    outline = np.array([[0, 0], [width_mm, 0], [width_mm, height_mm], [0, height_mm]], dtype=float)
    return LaidSheet(outline, inks, np.eye(2, 3))


def _share(shape: dict[str, object]) -> float:
    colour = shape["non_stroking_color"]
    return float(colour[0] if isinstance(colour, tuple | list) else colour)  # type: ignore[arg-type]


def shoot(kind: Kind, seed: int) -> Shot:
    """One random photo: another lens, height, light, ground, ruler and set each time."""
    rng = np.random.default_rng([seed, 77])
    while True:
        phone, exposure = random_phone(rng, kind.tilt), random_exposure(rng, GROUNDS)
        # Two are alike, for their thickness is told once.
        rulers = kind.rulers * (RULERS[str(rng.choice(LONG_RULERS if kind.long else SHORT_RULERS))],)
        card = float(rng.uniform(0.3, 1.7))
        mat = MATS[str(rng.choice(sorted(MATS)))] if kind.sheet == "mat" else None
        layout = Layout(rulers, thickness=card, stock="cream", mat=mat)
        family = random_family(int(rng.integers(1, 10_000)))
        room = visible_room(phone)
        try:
            scene = lay_out(family, Cutting(), layout, room, name="plane", seed=seed)
        except DoesNotFitError:
            continue
        own = rng.normal(0, RULER_SIGMA, kind.rulers)
        scene = _as_made(scene, kind, own, rng)
        view = PhoneView(phone, np.array(room) / 2)
        jpeg = photo_jpeg(photograph(scene, view, exposure), phone, exposure)
        return Shot(jpeg, view, room, card, rulers[0].thickness, float(own.mean()))


def _as_made(scene: Scene, kind: Kind, own: Floats, rng: np.random.Generator) -> Scene:
    """The scene with rulers, mat and print off in size as such things are; a few cards, as more hide the sheet."""
    rulers = tuple(
        replace(ruler, to_table=_scaled(ruler.to_table, off, off))
        for ruler, off in zip(scene.rulers, own, strict=True)
    )
    scene = replace(scene, rulers=rulers, cards=scene.cards[:5])
    if scene.mat is not None:
        off = float(rng.normal(0, MAT_SIGMA))
        scene = replace(scene, mat=replace(scene.mat, to_table=_scaled(scene.mat.to_table, off, off)))
    if kind.sheet == "target":
        sheet = printed_target(str(rng.choice(["a4", "letter"])))
        middle = np.array(scene.room) / 2 + rng.uniform(-15, 15, 2)
        turn = 90.0 + float(rng.choice([0, 180])) + float(rng.uniform(-5, 5))
        to_table = placement(turn, middle, sheet.outline.max(axis=0) / 2)
        off, aspect = float(rng.normal(0, PRINT_SIGMA)), float(rng.normal(0, PRINT_ASPECT_SIGMA))
        sheet = replace(sheet, to_table=_scaled(to_table, off + aspect / 2, off - aspect / 2))
        scene = replace(scene, sheet=sheet)
    return scene


def _scaled(to_table: Floats, along: float, across: float) -> Floats:
    """The same, its own frame stretched about its origin."""
    return np.column_stack([to_table[:, :2] * (1 + np.array([along, across])), to_table[:, 2]])


def measured(shot: Shot, kind: Kind, seed: int) -> Outcome:
    """Random lengths on the cards' faces; raises what the tool refuses with."""
    picture = read_picture("photo.jpg", shot.jpeg)
    card, ruler = (round(shot.card_mm, 1), round(shot.ruler_mm, 1)) if kind.heights else (None, None)
    plane = find_plane(picture, thickness_mm=card, ruler_thickness_mm=ruler)
    rng = np.random.default_rng([seed, 78])
    rows = []
    for _ in range(LENGTHS):
        middle = (0.15 + 0.7 * rng.random(2)) * shot.room
        turn, length = rng.uniform(0, np.pi), rng.uniform(50, 100)
        way = np.array([np.cos(turn), np.sin(turn)]) * length / 2
        ends_px = shot.view.pixels(np.array([middle - way, middle + way]), shot.card_mm)
        found, u = length_of(plane, ends_px)
        rows.append((found - length, found * (1 + shot.own_scale) - length, u))
    errors, relative, u = np.array(rows).T
    return Outcome(errors, relative, u)


def length_of(plane: Plane, ends_px: Floats) -> tuple[float, float]:
    """A length between two image points, and its expanded uncertainty (k = 2) from the plane alone, mm."""
    ends = plane.to_mm(ends_px)
    length = float(np.hypot(*(ends[1] - ends[0])))
    moves = plane.sensitivity(ends_px)
    slope = (ends[1] - ends[0]) / length @ (moves[1] - moves[0])
    return length, 2 * float(np.sqrt(slope @ plane.covariance @ slope))


def outcomes(kind: Kind, count: int) -> Iterator[Outcome | str]:
    """One after another: the outcome, or the code of the refusal."""
    base = 1000 * KINDS.index(kind)
    for seed in range(base, base + count):
        shot = shoot(kind, seed)
        try:
            yield measured(shot, kind, seed)
        except SeamsurveyError as error:
            yield error.code


def planes(share: float = 1.0, tell: Callable[[str], None] = lambda _: None) -> Table:
    """The table; ``share`` of the full number of photos."""
    rows = []
    for kind in KINDS:
        count = max(1, round(kind.count * share))
        done: list[Outcome] = []
        refused: list[str] = []
        for number, outcome in enumerate(outcomes(kind, count)):
            if isinstance(outcome, str):
                refused.append(outcome)
            else:
                done.append(outcome)
            tell(f"{kind.name}: {number + 1} of {count}, {outcome if isinstance(outcome, str) else _said(outcome)}")
        rows.append(_row(kind, count, refused, done))
    total = sum(max(1, round(kind.count * share)) for kind in KINDS)
    return Table(
        heading="Photos: the plane",
        command="python -m tests.benchmarks planes",
        about=(
            f"{total} rendered 12-megapixel photos (OpenCV's camera with distortion; wood, steel and plastic "
            "rulers on four grounds; JPEG), eleven lengths of 50 to 100 mm in each, anywhere in view, on the "
            "cards' faces. Their ends are placed exactly: only the plane's error counts. rms, 95 % and max are "
            "relative to the ruler's marks; U (k = 2) is compared with the whole error, the ruler's own included."
        ),
        columns=COLUMNS,
        rows=rows,
    )


def _said(outcome: Outcome) -> str:
    return f"rms {np.sqrt(np.mean(outcome.relative**2)):.3f}, U {outcome.u.mean():.3f}"


def _row(kind: Kind, count: int, refused: list[str], done: list[Outcome]) -> list[str]:
    if not done:
        return [kind.name, str(count), f"{len(refused)}", *["–"] * 5]
    relative, errors, u = (np.concatenate([getattr(o, name) for o in done]) for name in ("relative", "errors", "u"))
    codes = f" ({', '.join(sorted(set(refused)))})" if refused else ""
    return [
        kind.name,
        str(count),
        f"{len(refused)}{codes}",
        f"{np.sqrt(np.mean(relative**2)):.3f}",
        f"{np.percentile(np.abs(relative), 95):.3f}",
        f"{np.abs(relative).max():.3f}",
        f"{np.sqrt(np.mean(errors**2)):.3f}",
        f"{np.mean(np.abs(errors) <= u):.1%}",
    ]
