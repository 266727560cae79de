"""Sections as SVG and DXF, and the template pages, read back by readers that are not ours."""

import io
import math
import os
import subprocess
import sys

import ezdxf
import numpy as np
import pytest
import shapely
from ezdxf import recover
from ezdxf.entities.lwpolyline import LWPolyline
from svgelements import SVG, Group, Path

from seamsurvey.model import Block, FoundationPlan
from seamsurvey.sheets.dxf import write_dxf
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.page import Imprint
from seamsurvey.sheets.pdf import write_pdf
from seamsurvey.sheets.sections_drawing import sections_drawing
from seamsurvey.sheets.svg import write_svg
from seamsurvey.sheets.template_pages import template_pages

from .examples import coiled_path, forked_road, harbour_rows, leaning_sails
from .reading import Points, proper_motions, read_pdf

PROMISED_MM = 0.02
# CSS Values and Units 3 (W3C), 6.2: 1 in = 2.54 cm = 96 px.
PX_PER_MM = 96 / 25.4
MADE = pytest.mark.parametrize(
    "made",
    [harbour_rows(), leaning_sails(), forked_road(), coiled_path(9.0)],
    ids=["harbour", "sails", "fork", "coil"],
)


def assert_all_sections(plan: FoundationPlan, found: list[Points]) -> None:
    """Each section is there once a copy, mirrored, true to 0.02 mm, and nothing else is."""
    assert len(found) == sum(section.copies for section in plan.sections)
    for section in plan.sections:
        mirrored = section.outline * np.array([-1.0, 1.0])
        assert sum(bool(proper_motions(mirrored, one, PROMISED_MM)) for one in found) >= section.copies


@MADE
def test_the_dxf_holds_every_section_as_a_closed_polyline(made: tuple[Block, FoundationPlan]) -> None:
    """The audit of ezdxf finds no error; units are mm; outlines and allowance lines are closed, on their layers."""
    block, plan = made
    content = write_dxf(sections_drawing(plan, block, fabrics_of(block, {}, {}), allowance_mm=6.35))
    document, auditor = recover.read(io.BytesIO(content))
    assert not auditor.has_errors
    assert not document.audit().errors
    assert document.units == ezdxf.units.MM
    lines = [e for e in document.modelspace() if isinstance(e, LWPolyline)]
    closed = {
        layer: [np.array(e.get_points("xy")) for e in lines if e.dxf.layer == layer and e.closed]
        for layer in ("outlines", "allowance")
    }
    assert_all_sections(plan, closed["outlines"])
    for outline in closed["outlines"]:
        # A quarter inch all round: the grown outline's area without corners is A + 6.35 · perimeter.
        around = [p for p in closed["allowance"] if shapely.Polygon(p).contains(shapely.Polygon(outline))]
        assert len(around) == 1
        gap = shapely.LinearRing(outline).distance(shapely.LinearRing(around[0]))
        assert gap == pytest.approx(6.35, abs=PROMISED_MM)


@MADE
def test_svg_and_dxf_say_the_same(made: tuple[Block, FoundationPlan]) -> None:
    """The SVG's outlines, read by svgelements at 96 px an inch, are the DXF's."""
    block, plan = made
    drawing = sections_drawing(plan, block, fabrics_of(block, {}, {}), allowance_mm=6.35)
    read = SVG.parse(io.StringIO(write_svg(drawing, "x")), ppi=96)
    (group,) = [item for item in read.elements() if isinstance(item, Group) and item.id == "outlines"]
    found = []
    for path in (item for item in group if isinstance(item, Path)):
        points = np.array([(step.end.x, step.end.y) for step in path][:-1]) / PX_PER_MM
        found.append(points * np.array([1, -1]) + np.array([0, float(read.height) / PX_PER_MM]))
    assert_all_sections(plan, found)
    document, _ = recover.read(io.BytesIO(write_dxf(drawing)))
    ours = [
        np.array(e.get_points("xy"))
        for e in document.modelspace()
        if isinstance(e, LWPolyline) and e.dxf.layer == "outlines"
    ]
    assert all(np.abs(a - b).max() < 0.001 for a, b in zip(ours, found, strict=True))


def test_the_same_drawing_gives_the_same_files() -> None:
    """Two runs differ in no byte, DXF with its dates and random names included."""
    block, plan = harbour_rows()
    drawing = sections_drawing(plan, block, fabrics_of(block, {}, {}), allowance_mm=6.35)
    assert write_dxf(drawing) == write_dxf(drawing)


@MADE
def test_templates_are_printed_face_up_finished_and_with_allowance(made: tuple[Block, FoundationPlan]) -> None:
    """Each template is there once, dashed at its finished size and not mirrored, solid 6.35 mm outside."""
    block, plan = made
    imprint = Imprint(title="t", paper="a4", job_hash="0")
    pages = read_pdf(write_pdf(template_pages(block, plan, imprint=imprint, allowance_mm=6.35), "t"))
    dashed = [s.points for page in pages for s in page.strokes if s.dashed and s.closed]
    solid = [s.points for page in pages for s in page.strokes if s.closed and not s.dashed and not s.filled]
    templates = {piece.template for piece in block.pieces}
    assert len(dashed) == len(templates)
    for template in templates:
        piece = next(piece for piece in block.pieces if piece.template == template)
        shape = piece.outline * np.array([-1.0, 1.0]) if piece.reversed else piece.outline
        assert any(proper_motions(shape, points, PROMISED_MM) for points in dashed)
    for points in dashed:
        gaps = [shapely.LinearRing(points).distance(shapely.LinearRing(other)) for other in solid]
        assert min(abs(gap - 6.35) for gap in gaps) < PROMISED_MM


def test_a_sharp_tip_is_marked_an_allowance_beyond_its_corner() -> None:
    """The 45° tips of a half square are trimmed square to their middle line, 6.35 mm beyond the finished corner."""
    from .examples import block_of, plan_of, section_of

    block = block_of(
        {"T1-1": np.array([[0, 0], [80, 0], [80, 80.0]]), "T2-1": np.array([[0, 0], [80, 80], [0, 80.0]])}
    )
    plan = plan_of([section_of(block, "A", ["T1-1", "T2-1"])], [])
    (page, *_) = template_pages(
        block, plan, imprint=Imprint(title="t", paper="a4", job_hash="0"), allowance_mm=6.35
    )
    tips = [mark.points for mark in page.marks if mark.layer == "tips"]  # type: ignore[union-attr]
    assert len(tips) == 4
    # The mitred sides meet 6.35 / sin 22.5° from the corner; at 6.35 mm they are this far apart.
    width = 2 * math.tan(math.radians(22.5)) * (6.35 / math.sin(math.radians(22.5)) - 6.35)
    assert [float(np.hypot(*(tip[1] - tip[0]))) for tip in tips] == pytest.approx([width] * 4, abs=1e-6)


def test_every_process_writes_the_same_dxf() -> None:
    """Python orders sets anew in every process; the file's bytes do not depend on it."""
    code = (
        "import hashlib; from seamsurvey.sheets.drawing import Drawing;"
        "from seamsurvey.sheets.dxf import write_dxf;"
        "print(hashlib.sha256(write_dxf(Drawing(9, 9, ()))).hexdigest())"
    )
    command = [sys.executable, "-c", code]
    environments = [os.environ | {"PYTHONHASHSEED": seed} for seed in ("1", "2", "3", "4")]
    digests = {subprocess.check_output(command, env=environment) for environment in environments}  # noqa: S603
    assert len(digests) == 1
