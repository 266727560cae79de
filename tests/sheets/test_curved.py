"""Blocks with curved seams as they are printed: read back by other libraries, arcs fitted as circles."""

import io
from collections.abc import Callable

import numpy as np
import pytest
import shapely
from ezdxf import recover
from ezdxf.entities.lwpolyline import LWPolyline
from numpy.typing import NDArray
from skimage.measure import CircleModel

from seamsurvey.arcs import drawn_run
from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.geometry import moved
from seamsurvey.model import Block, FoundationPlan, Wishes
from seamsurvey.sheets.all_sheets import sheet_files
from seamsurvey.sheets.seams import at_place, on_border

from ..foundation.curved_blocks import harbour_path, lantern_fan, ripple, round_window
from .reading import figures_of, read_pdf

Points = NDArray[np.float64]
INCH = 25.4
TRUE_MM = 0.02  # what a printed line may be off
CHORD_MM = 4.0  # arcs are drawn by shorter chords; all else in these shapes is longer
BLOCKS: dict[str, Callable[[], Block]] = {
    "harbour": harbour_path,
    "fan": lantern_fan,
    "ripple": ripple,
    "window": round_window,
}


def files_of(block: Block, plan: FoundationPlan) -> dict[str, bytes]:
    """All sheets of a block drawn elsewhere."""
    return sheet_files(None, block, plan, Wishes(), title="Curves", units="inch", job_hash="c0ffee", overlays={})


def circle_of(outline: Points) -> tuple[Points, float]:
    """Centre and radius of the arc in an outline: of all its vertices between two short edges."""
    lengths = np.hypot(*(np.roll(outline, -1, axis=0) - outline).T)
    on_arc = np.maximum(lengths, np.roll(lengths, 1)) < CHORD_MM
    model = CircleModel.from_estimate(outline[on_arc])
    assert model
    off = np.abs(np.hypot(*(outline[on_arc] - model.center).T) - model.radius)
    assert off.max() < TRUE_MM
    return np.asarray(model.center), float(model.radius)


def sag(outline: Points, centre: Points, radius: float) -> float:
    """How far the middles of an outline's short edges lie inside the circle."""
    after = np.roll(outline, -1, axis=0)
    short = np.hypot(*(after - outline).T) < CHORD_MM
    middles = (outline + after)[short] / 2
    return float(np.abs(np.hypot(*(middles - centre).T) - radius).max())


def test_printed_arcs_are_circles_with_their_allowance_concentric() -> None:
    """Quarter circles of 60 mm come back from the PDF within 0.02 mm; the dashed line is a quarter inch outside."""
    block = harbour_path(side=90.0, radius=60.0)
    content = files_of(block, plan_foundation(block))["foundations.pdf"]
    figures = [figure for page in read_pdf(content) for figure in figures_of(page)]
    assert len(figures) == 8
    for figure in figures:
        centre, radius = circle_of(figure.outline)
        assert radius == pytest.approx(60, abs=TRUE_MM)
        assert sag(figure.outline, centre, radius) < TRUE_MM
        around, wide = circle_of(figure.allowance)
        assert np.hypot(*(around - centre)) < 2 * TRUE_MM
        hollow = shapely.Polygon(figure.outline).area > 60**2
        assert wide - radius == pytest.approx(-INCH / 4 if hollow else INCH / 4, abs=TRUE_MM)


def test_cutting_machines_get_the_same_arcs() -> None:
    """The DXF's outlines are as true as the pages: read by ezdxf, each arc a circle of 60 mm."""
    block = harbour_path(side=90.0, radius=60.0)
    content = files_of(block, plan_foundation(block))["foundations.dxf"]
    document, _ = recover.read(io.BytesIO(content))
    space = document.modelspace()
    outlines = [e for e in space.query("LWPOLYLINE") if e.dxf.layer == "outlines" and isinstance(e, LWPolyline)]
    assert len(outlines) == 8
    for outline in outlines:
        points = np.array([(x, y) for x, y, *_ in outline.get_points()])
        centre, radius = circle_of(points)
        assert radius == pytest.approx(60, abs=TRUE_MM)
        assert sag(points, centre, radius) < TRUE_MM


def test_template_pages_hold_the_curves() -> None:
    """The page of templates shows both shapes with the arc at finished size and at cutting size."""
    block = harbour_path(side=90.0, radius=60.0)
    (page,) = read_pdf(files_of(block, plan_foundation(block))["templates.pdf"])
    # The small picture of where each one goes has the same outlines at another scale.
    closed = [s for s in page.strokes if s.closed and not s.filled and shapely.Polygon(s.points).area > 2000]
    curved = [s for s in closed if np.hypot(*(np.roll(s.points, -1, axis=0) - s.points).T).min() < CHORD_MM]
    found = sorted((s.dashed, circle_of(s.points)[1]) for s in curved)
    radii = [radius for _, radius in found]
    assert radii == pytest.approx([60 - INCH / 4, 60 + INCH / 4, 60, 60], abs=TRUE_MM)


@pytest.mark.parametrize("name", list(BLOCKS))
def test_marks_on_a_curve_meet(name: str) -> None:
    """Each mark of a section along a curved seam faces its neighbour's mark there, or a corner of the neighbour."""
    block = BLOCKS[name]()
    plan = plan_foundation(block)
    marks = np.array(
        [
            np.concatenate([at_place(point[None], place), moved(outward[None], place.turn_deg, (0, 0))], axis=1)[0]
            for section in plan.sections
            for point, outward in on_border(section, block, plan.joins)
            for place in section.places
        ]
    )
    runs = [drawn_run(np.array(join.corners), join.bulges) for join in plan.joins if any(join.bulges)]
    assert runs
    outlines = [at_place(section.outline, place) for section in plan.sections for place in section.places]
    for run in runs:
        line = shapely.LineString(run)
        ends = shapely.MultiPoint([run[0], run[-1]])
        on_run = [
            mark
            for mark in marks
            if line.distance(shapely.Point(mark[:2])) < TRUE_MM < ends.distance(shapely.Point(mark[:2]))
        ]
        assert len(on_run) >= 2  # the middle, at least, on both sides
        middle = line.interpolate(0.5, normalized=True)
        assert min(middle.distance(shapely.Point(mark[:2])) for mark in on_run) < TRUE_MM
        for mark in on_run:
            facing = np.abs(marks - [*mark[:2], *-mark[2:]]).max(axis=1).min()
            met = sum(np.hypot(*(outline - mark[:2]).T).min() < 1e-6 for outline in outlines)
            assert facing < 1e-6 or met >= 2  # its own smooth corner, and a true one
