"""Two cards that touch, or lie half a millimetre to three apart: told apart, named, or taken for one."""

import json
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from shapely import MultiPoint, Polygon
from shapely.geometry.base import BaseGeometry

from tests.benchmarks.phones import LONG_RULERS, random_exposure, random_phone
from tests.benchmarks.pictures import Measured, measured
from tests.benchmarks.real_judge import RIGHT, WRONG, judge
from tests.benchmarks.real_truth import STRAIGHT, Lying
from tests.benchmarks.table import Table
from tests.compare import compare_templates
from tests.scene.camera import visible_room
from tests.scene.cards import Cutting, cut_card
from tests.scene.families import random_family
from tests.scene.geometry import Matrix, Points, edge_lengths, move
from tests.scene.grounds import GROUNDS, PAPERS
from tests.scene.looks import CARDS, LIDS
from tests.scene.make import photo_of, scan_of, write_rendered
from tests.scene.rulers import RULERS
from tests.scene.scan import BEDS, Scanner
from tests.scene.scatter import DoesNotFitError, Room, scatter
from tests.scene.scene import LaidCard, Layout, Scene, lay_out

COUNT = 5  # pictures of each kind, four pairs in each
PAIRS = 4
GAPS_MM = (0.0, 0.5, 1.0, 1.5, 2.0, 3.0)
SEED = 9700
APART, NAMED, AS_ONE, LOST = "told apart", "named", "wrong", "nothing said"
_BETWEEN_MM = 12.0  # from pair to pair


@dataclass(frozen=True)
class Pair:
    """Two cards of one picture, their distance, and what became of them."""

    kind: str
    gap: float
    fate: str


def touching(count: int = COUNT) -> Table:
    """So many scans and photos, straight down and tilted, of four pairs each."""
    pairs: list[Pair] = []
    edges = []
    for kind in ("scan", "down", "tilted"):
        for k in range(count):
            with tempfile.TemporaryDirectory() as name:
                gaps = draw(kind, SEED + k, Path(name))
                picture = measured(Path(name))
            fates = fates_of(picture)
            pairs += [Pair(kind, gap, fate) for gap, fate in zip(gaps, fates, strict=True)]
            if picture.found is not None:
                edges += list(compare_templates(picture.found, picture.truth).edges)
    rows = [_row(f"{gap:g} mm", [pair for pair in pairs if pair.gap == gap]) for gap in GAPS_MM]
    rows += [_row(kind, [pair for pair in pairs if pair.kind == kind]) for kind in ("scan", "down", "tilted")]
    rows.append(_row("all", pairs))
    within = sum(abs(edge.error) <= edge.u for edge in edges)
    said = sum(pair.fate in (APART, NAMED) for pair in pairs)
    about = (
        "Cards of random families in pairs, one long edge beside another, at distances from nothing to 3 mm, four "
        f"pairs to a picture, on seeds from {SEED} on: 300 dpi scans, and 12 MP photos from straight above and "
        "tilted by 5° to 20°. Told apart: both have their right outline. Named: what has none is shown and said. "
        "Wrong: a template covers both, or has another shape."
    )
    command = f".venv/bin/python -m tests.benchmarks touching --count {count}"
    summary = (
        f"{len(pairs)} pairs: {said} told apart or named ({said / len(pairs):.1%}). Of the {len(edges)} edges"
        f" measured {within} are within U (k = 2)."
    )
    columns = ("distance", "pairs", APART, NAMED, AS_ONE, LOST)
    return Table("Cards that touch, or nearly", command, about, columns, rows, summary)


def draw(kind: str, seed: int, folder: Path) -> Sequence[float]:
    """One picture of pairs in the folder, with its truth; the distance of each pair."""
    rng = np.random.default_rng([seed, ("scan", "down", "tilted").index(kind), 2619])
    while True:
        try:
            return _drawn(kind, rng, seed, folder)
        except DoesNotFitError:
            continue


def _drawn(kind: str, rng: np.random.Generator, seed: int, folder: Path) -> Sequence[float]:
    phone = None if kind == "scan" else random_phone(rng, (0.0, 3.0) if kind == "down" else (5.0, 20.0))
    room = BEDS["full"] if phone is None else visible_room(phone)
    names = ("plastic-15cm", "steel-6in") if phone is None else LONG_RULERS
    layout = Layout(
        rulers=tuple(RULERS[str(rng.choice(names))] for _ in range(2 if kind == "tilted" else 1)),
        stock=str(rng.choice(sorted(CARDS))),
        thickness=float(rng.uniform(0.3, 1.4)),
    )
    cutting = Cutting(0.0, None, 0.03, 20.0, 0.3)
    family = random_family(int(rng.integers(10_000, 20_000)))
    empty = lay_out(family, cutting, layout, room, name="pairs", seed=seed)
    few = [template for template in family.templates if edge_lengths(template.finished).max() < 110.0]
    if len(few) < 2:
        raise DoesNotFitError("too few templates")
    gaps = [GAPS_MM[int(k)] for k in rng.permutation(len(GAPS_MM))[:PAIRS]]
    cards, hulls = [], []
    for gap in gaps:
        first, second = (few[int(k)] for k in rng.choice(len(few), 2, replace=False))
        beside = _beside(first.finished, second.finished, gap, rng)
        both = [(first, np.eye(2, 3)), (second, beside)]
        cards.append([(cut_card(each.name, each.finished, cutting, "cut 4", rng), place) for each, place in both])
        corners = np.vstack([move(place, each.finished) for each, place in both])
        hull = MultiPoint(corners).convex_hull
        assert isinstance(hull, Polygon)
        hulls.append(np.array(hull.exterior.coords)[:-1])
    taken = tuple(ruler.outline for ruler in empty.rulers)
    places = scatter(hulls, Room(room, taken, _BETWEEN_MM, 8.0), rng)
    laid = tuple(
        LaidCard(card, False, layout.thickness, layout.stock, _after(place, own))
        for pair, place in zip(cards, places, strict=True)
        for card, own in pair
    )
    scene = Scene("pairs", seed, family, cutting, room, laid, empty.rulers)
    if phone is None:
        scanner = Scanner(lid=str(rng.choice(sorted(LIDS))), psf=float(rng.uniform(0.5, 0.9)))
        write_rendered(scan_of(scene, scanner), folder, "scan.jpg")
    else:
        exposure = random_exposure(rng, (*GROUNDS, *PAPERS))
        write_rendered(photo_of(scene, phone, exposure), folder, "photo.jpg")
    path = folder / "truth.json"
    told = {"ruler_mm": round(layout.rulers[0].thickness, 1)}
    path.write_text(json.dumps({**json.loads(path.read_text(encoding="utf-8")), "told": told}), encoding="utf-8")
    return gaps


def _beside(first: Points, second: Points, gap: float, rng: np.random.Generator) -> Matrix:
    """(2, 3) that lays the second outline's longest edge along the first's, ``gap`` mm off; they do not overlap."""
    for _ in range(60):
        start, end = _longest(first)
        other_start, other_end = _longest(second)
        way, other = end - start, other_end - other_start
        angle = np.arctan2(way[1], way[0]) + np.pi - np.arctan2(other[1], other[0])
        turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
        along = way / np.hypot(*way)
        outward = np.array([along[1], -along[0]])
        slide = float(rng.uniform(-0.3, 0.3)) * np.hypot(*way)
        middle = (start + end) / 2 + gap * outward + slide * along
        place = np.column_stack([turn, middle - turn @ (other_start + other_end) / 2])
        if Polygon(first).intersection(Polygon(move(place, second))).area < 1e-6:
            return place
    raise DoesNotFitError("the outlines overlap however they are laid")


def _longest(outline: Points) -> tuple[Points, Points]:
    k = int(np.argmax(edge_lengths(outline)))
    return outline[k], outline[(k + 1) % len(outline)]


def _after(place: Matrix, own: Matrix) -> Matrix:
    """First ``own``, then ``place``."""
    return np.column_stack([place[:, :2] @ own[:, :2], move(place, own[:, 2][None])[0]])


def fates_of(picture: Measured) -> list[str]:
    """What became of each pair; a picture refused with a reason names all of them."""
    lying = [Lying(STRAIGHT, placed.as_cut_corners_px) for placed in picture.truth.placed]
    if picture.found is None:
        return [NAMED] * (len(lying) // 2)
    outlines = [template.corners_px for template in picture.found.templates]
    fates = judge(lying, outlines, ()).fates
    left_out = [Polygon(left.outline_px).buffer(0) for left in picture.found.left_out]
    shown = [any(_covers(shape, Polygon(each.outline)) for shape in left_out) for each in lying]
    return [_fate((fates[k], fates[k + 1]), (shown[k], shown[k + 1])) for k in range(0, len(lying), 2)]


def _fate(pair: tuple[str, str], shown: tuple[bool, bool]) -> str:
    if WRONG in pair:
        return AS_ONE
    if pair == (RIGHT, RIGHT):
        return APART
    return NAMED if all(own == RIGHT or said for own, said in zip(pair, shown, strict=True)) else LOST


def _covers(shape: BaseGeometry, piece: Polygon) -> bool:
    """Whether something left out lies over most of a piece, alone or with its neighbour."""
    return bool(shape.intersection(piece).area > piece.area / 2)


def _row(name: str, pairs: Sequence[Pair]) -> list[str]:
    fates = Counter(pair.fate for pair in pairs)
    return [name, str(len(pairs)), *(str(fates[fate]) for fate in (APART, NAMED, AS_ONE, LOST))]
