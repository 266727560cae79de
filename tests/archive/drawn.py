"""Records of sets straight from drawings: shapes as they would be measured, without a picture."""

import numpy as np

from seamsurvey.archive_model import DONE, EdgeRecord, PieceRecord, SetRecord, TemplateRecord
from seamsurvey.geometry import edge_lengths, reversed_face
from seamsurvey.model import Array
from tests.scene.families import Family, random_family


def record(
    family: Family,
    name: str,
    *,
    size: float = 1.0,
    mirrored: bool = False,
    turned: int = 0,
    sigma_mm: float = 0.0,
    seed: int = 0,
) -> SetRecord:
    """A set of the family at another size, mirrored, turned by quarters, its corners measured with an error."""
    rng = np.random.default_rng([seed, 55])
    templates = []
    order = rng.permutation(len(family.templates))
    for number, k in enumerate(order, 1):
        outline = _laid(family.templates[k].finished * size, mirrored=mirrored, rng=rng)
        outline = outline + rng.normal(0.0, sigma_mm, outline.shape)
        edges = tuple(EdgeRecord(float(length), 0.2, "", 0.0) for length in edge_lengths(outline))
        templates.append(TemplateRecord(name=f"T{number}", outline_mm=outline, edges=edges))
    width, height = (size * side for side in family.size)
    middle = np.array([width, height]) / 2
    pieces = tuple(
        PieceRecord(
            template="T1",
            colour="#77aadd",
            outline_mm=_moved(piece * size - middle, mirrored=mirrored, turned=turned)
            + (middle if turned % 2 == 0 else middle[::-1]),
        )
        for piece in family.pieces
    )
    return SetRecord(
        name=name, title=name, state=DONE, templates=tuple(templates), pieces=pieces, sections=3, joins=2,
        layouts=1, size_mm=(width, height) if turned % 2 == 0 else (height, width),
        size_text=f"{width:.0f} mm", symmetry="none",
    )  # fmt: skip


def _laid(outline: Array, *, mirrored: bool, rng: np.random.Generator) -> Array:
    """As it comes to lie: turned by any angle, first corner anywhere."""
    seen = reversed_face(outline) if mirrored else outline
    angle = rng.uniform(0, 2 * np.pi)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return np.roll(seen @ turn.T + rng.uniform(-50, 50, 2), int(rng.integers(len(seen))), axis=0)


def _moved(outline: Array, *, mirrored: bool, turned: int) -> Array:
    seen = (outline * np.array([-1.0, 1.0]))[::-1] if mirrored else outline
    for _ in range(turned % 4):
        seen = seen @ np.array([[0.0, 1.0], [-1.0, 0.0]])
    return seen


def chiral(family: Family) -> bool:
    """Whether the block differs from its mirror image, whatever its turn: no turn of the one covers the other."""
    from shapely import Polygon

    size = np.array(family.size)

    def ring(points: Array) -> Polygon:
        return Polygon(points)

    plain = [ring(piece - size / 2) for piece in family.pieces]
    for turned in range(4):
        other = [ring(_moved(piece - size / 2, mirrored=True, turned=turned)) for piece in family.pieces]
        if all(any(a.symmetric_difference(b).area < 0.02 * a.area for b in other) for a in plain):
            return False
    return True


def families(count: int, seed: int) -> list[Family]:
    """So many random families."""
    return [random_family(1000 * seed + k) for k in range(count)]
