"""Families of invented blocks: each an exact drawing, its pieces, its templates, and what is known about it.

The drawings stand in `stars.py` and `panels.py`; a drawing is a function of its sizes, so that one drawing
gives a named family (its default sizes) and endless unseen ones (`random_family`).
"""

from __future__ import annotations

import inspect
import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .congruence import Template, difference, templates_of
from .drafting import Design
from .geometry import Points, corner_angles, edge_lengths, is_simple, signed_area
from .panels import PANELS
from .stars import STARS

MM_PER_INCH = 25.4

# What keeps an invented set believable and two of its templates apart for a person with a ruler.
SHORTEST_EDGE_MM = 15.0
SHARPEST_CORNER_DEG = 19.0
FLATTEST_CORNER_DEG = 168.0
WIDEST_TEMPLATE_MM = 145.0
LEAST_DIFFERENCE_MM = 2.0
LEAST_DIFFERENCE_DEG = 3.0


@dataclass(frozen=True)
class Family:
    """A block with its pieces (mm, block frame, counter-clockwise)."""

    name: str
    size: tuple[float, float]
    pieces: tuple[Points, ...]
    unit: str
    notes: str
    set_in: bool
    grid: bool

    @cached_property
    def templates(self) -> tuple[Template, ...]:
        """The templates that cut all the pieces."""
        return templates_of(self.pieces)

    @property
    def outline(self) -> Points:
        """(4, 2) the block's own outline, mm."""
        width, height = self.size
        return np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])


def family_from(design: Design, **sizes: float) -> Family:
    """The family of a design, at its default sizes but for those given (in the design's unit)."""
    drawing = design.draw(**sizes)
    to_mm = MM_PER_INCH if design.unit == "in" else 1.0
    return Family(
        name=design.name,
        size=(drawing.size[0] * to_mm, drawing.size[1] * to_mm),
        pieces=tuple(piece * to_mm for piece in drawing.pieces),
        unit=design.unit,
        notes=design.notes,
        set_in=design.set_in,
        grid=design.grid,
    )


def designs() -> dict[str, Design]:
    """All designs by name."""
    return {design.name: design for design in (*STARS, *PANELS)}


def family(name: str) -> Family:
    """The named family, or a random one for a name such as `random-17`.

    Raises KeyError for a name that is neither.
    """
    if name.startswith("random-"):
        return random_family(int(name.removeprefix("random-")))
    return family_from(designs()[name])


def random_family(seed: int) -> Family:
    """A block nobody has seen: one of the designs with its sizes varied on its grid.

    The same seed gives the same block; sizes that would make a sliver, two look-alike templates or a
    template too wide for a scanner are drawn again.
    """
    rng = np.random.default_rng([20261, seed])
    variable = [design for design in designs().values() if inspect.signature(design.draw).parameters]
    design = variable[int(rng.integers(len(variable)))]
    defaults = {name: float(p.default) for name, p in inspect.signature(design.draw).parameters.items()}
    for _ in range(2000):
        sizes = {
            name: value + design.step * float(rng.integers(-4, 5)) if rng.random() < 0.8 else value
            for name, value in defaults.items()
        }
        if sizes == defaults:
            continue
        varied = family_from(design, **sizes)
        if not faults(varied):
            return replace(varied, name=f"random-{seed}", notes=f"{design.name} with other sizes")
    raise RuntimeError(f"no usable variation of {design.name} found for seed {seed}")


def faults(family: Family) -> list[str]:
    """What is wrong with a block as a test object; empty when it is sound.

    Pieces that run counter-clockwise, whose areas add up to the block's and none of which reaches outside
    leave no gap and no overlap as long as their edges pair, which the drawings do by sharing corners; the
    tests prove the tiling with an independent library.
    """
    found: list[str] = []
    width, height = family.size
    for number, piece in enumerate(family.pieces):
        if signed_area(piece) <= 0.0 or not is_simple(piece):
            found.append(f"piece {number} is not a simple counter-clockwise outline")
        low, high = piece.min(axis=0), piece.max(axis=0)
        if low.min() < -1e-9 or high[0] > width + 1e-9 or high[1] > height + 1e-9:
            found.append(f"piece {number} reaches outside the block")
    if found:
        return found
    if not math.isclose(sum(map(signed_area, family.pieces)), width * height, rel_tol=1e-12):
        found.append("the pieces' areas do not add up to the block's")
    for template in family.templates:
        found += [f"template {template.name} {fault}" for fault in _shape_faults(template.finished)]
    for i, a in enumerate(family.templates):
        for b in family.templates[i + 1 :]:
            length, angle = difference(a.finished, b.finished)
            if length < LEAST_DIFFERENCE_MM and angle < LEAST_DIFFERENCE_DEG:
                found.append(f"templates {a.name} and {b.name} look alike")
    return found


def _shape_faults(outline: Points) -> list[str]:
    found = []
    if edge_lengths(outline).min() < SHORTEST_EDGE_MM:
        found.append("has too short an edge")
    angles = corner_angles(outline)
    if angles.min() < SHARPEST_CORNER_DEG:
        found.append("has too sharp a corner")
    if np.any(np.abs(angles - 180.0) < 180.0 - FLATTEST_CORNER_DEG):
        found.append("has a corner that is nearly straight")
    spread = outline[:, None, :] - outline[None, :, :]
    if np.hypot(spread[..., 0], spread[..., 1]).max() > WIDEST_TEMPLATE_MM:
        found.append("is too wide")
    return found
