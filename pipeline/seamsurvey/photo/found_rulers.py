"""The rulers in a camera's photo, each graduated edge read for what it is."""

from collections.abc import Sequence

import cv2
import numpy as np
from attrs import evolve, field, frozen
from numpy.typing import NDArray

from seamsurvey.errors import SeamsurveyError, UndecidedError
from seamsurvey.model import Picture
from seamsurvey.photo.bare import SHAPES_ALONE
from seamsurvey.photo.checked import SAY_LENGTH, told_by_length
from seamsurvey.photo.decide import choose
from seamsurvey.photo.evidence import Evidence
from seamsurvey.photo.graduation import Reading
from seamsurvey.photo.observed import ACROSS, ALONG, Observed
from seamsurvey.photo.observed_ruler import observed_ruler
from seamsurvey.photo.ruler import GraduatedEdge, find_graduated_edges
from seamsurvey.photo.windows import Window, reference_windows

Floats = NDArray[np.float64]

# A phone sees nothing sharp that is nearer (common practice, no source): marks so far apart are another thing's.
NEAREST_MM = 70.0
# Marks of a comb that lie on a grid's lines, to within so much of a square: the comb is the grid's own.
ON_GRID_SQUARES, ON_GRID_SHARE = 0.2, 0.7
LEAST_MARKS_TO_ASK = 24  # of an even comb that can't be read; fewer may be anything


@frozen(eq=False)
class Rulers:
    """What was found: rulers, what to say of the choice, and why there is none where one was seen."""

    rulers: tuple[Evidence, ...] = ()
    warnings: tuple[str, ...] = ()
    complaint: SeamsurveyError | None = field(default=None)


def find_rulers(
    picture: Picture,
    *,
    focal_px: float | None = None,
    ruler: str = "auto",
    ruler_length_mm: float | None = None,
    grids: Sequence[Observed] = (),
) -> Rulers:
    """Every graduated edge that can be read; ``ruler`` is "auto", "inch", "cm".

    ``focal_px`` is the focal length as far as it is known, ``ruler_length_mm`` what a person checked; ``grids`` are
    the mats in the picture, whose lines are no ruler's marks. UndecidedError ``units-unclear`` and InputError
    ``ruler-contradicts`` when edges can be read in more than one way, or not in the way the person said.
    """
    windows = reference_windows(picture)
    edges = [
        _near_enough(edge, focal_px)
        for edge in find_graduated_edges(picture.pixels, focal_px, windows)
        if not any(_is_of(grid, edge) for grid in grids)
    ]
    edges = told_by_length(edges, ruler, ruler_length_mm)
    readable = [edge for edge in edges if edge.readings]
    seen = [edge for edge in readable if _lies_in(windows, edge)]
    if not readable:
        return Rulers(complaint=_unreadable(picture, [edge for edge in edges if _lies_in(windows, edge)] or edges))
    try:
        choice = choose(picture, readable, ruler, slanted=True)
    except UndecidedError:
        if len(seen) == len(readable) or sum(e.marks for e in seen) <= sum(e.marks for e in readable) / 2:
            raise
        readable = seen  # most of the marks; what lies elsewhere is no ruler, to the eye
        choice = choose(picture, readable, ruler, slanted=True)
    chosen = zip(readable, choice.readings, strict=True)
    return Rulers(tuple(_found(edge, reading) for edge, reading in chosen if reading is not None), choice.warnings)


def _lies_in(windows: Sequence[Window], edge: GraduatedEdge) -> bool:
    """Whether the marks lie where a ruler is seen."""
    return any(window.holds((edge.comb.nears + edge.comb.fars) / 2).mean() > 0.5 for window in windows)


def _near_enough(edge: GraduatedEdge, focal_px: float | None) -> GraduatedEdge:
    """With the readings that a camera can have seen: none from nearer than it sees sharply."""
    if focal_px is None:
        return edge
    seen = [r for r in edge.readings if focal_px / (edge.step / r.graduation.step_mm) >= NEAREST_MM]
    return evolve(edge, readings=tuple(seen))


def _is_of(grid: Observed, edge: GraduatedEdge) -> bool:
    """Whether the comb's marks are lines of the grid."""
    comb = edge.comb
    for axis in (ALONG, ACROSS):
        lines = np.unique(grid.nominal_mm[grid.axis == axis])
        step = float(np.diff(lines).min())
        near, far = (
            cv2.perspectiveTransform(ends[None].astype(float), grid.rough)[0][:, axis] / step
            for ends in (comb.nears, comb.fars)
        )
        on = np.maximum(np.abs(near - np.round(near)), np.abs(far - np.round(far))) < ON_GRID_SQUARES
        if np.mean(on & (np.round(near) == np.round(far))) > ON_GRID_SHARE:
            return True
    return False


def _found(edge: GraduatedEdge, reading: Reading) -> Evidence:
    comb, graduation = edge.comb, reading.graduation
    return Evidence(
        observed=observed_ruler(edge, reading),
        graduation=graduation.text,
        unit=graduation.unit,
        step_mm=graduation.step_mm,
        outline_px=edge.outline_px,
        marks=comb.index,
        marks_px=comb.feet,
        mark_ends_px=comb.fars,
    )


def _unreadable(picture: Picture, edges: list[GraduatedEdge]) -> SeamsurveyError | None:
    best = max(edges, key=lambda edge: edge.marks, default=None)
    if best is None or best.marks < LEAST_MARKS_TO_ASK:
        return None
    (x, y), (u, v) = best.comb.feet[[0, -1]]
    return UndecidedError(
        "units-unclear",
        f"{best.marks} evenly spaced marks were found, but nothing shows what unit they stand for.",
        where=f"{picture.name}, from x = {x:.0f}, y = {y:.0f} to x = {u:.0f}, y = {v:.0f} px",
        likely="Too little of the ruler is in view, or its long and short marks can't be told apart here.",
        todo=f"{SAY_LENGTH} Or take the photo again with at least three inches or five centimetres of the ruler in "
        f"view and sharp. {SHAPES_ALONE}",
    )
