"""All sections side by side as one true-size drawing, for SVG and DXF."""

from collections.abc import Mapping

from seamsurvey.model import Block, FoundationPlan
from seamsurvey.sheets.drawing import Drawing, Mark
from seamsurvey.sheets.fabrics import Fabric
from seamsurvey.sheets.foundations import section_motifs
from seamsurvey.sheets.motif import figure, shifted

WIDTH_MM = 600.0  # of the rows, unless one section is wider: a usual width of cutting machines' material
EDGE_MM = 5.0
GAP_MM = 5.0


def sections_drawing(
    plan: FoundationPlan, block: Block, fabrics: Mapping[str, Fabric], *, allowance_mm: float
) -> Drawing:
    """Every copy of every section, mirrored as it is printed, in rows.

    Layers: allowance, outlines, seams, matching, grain, labels, captions, leaders, swatches.
    """
    figures = [
        (figure(motif, 0), len(places))
        for motif, places in section_motifs(plan, block, fabrics, allowance_mm=allowance_mm)
    ]
    copies = sorted(
        (one for one, number in figures for _ in range(number)),
        key=lambda one: one.footprint.bounds[1] - one.footprint.bounds[3],
    )
    wide = max(WIDTH_MM, *(one.footprint.bounds[2] - one.footprint.bounds[0] + 2 * EDGE_MM for one in copies))
    marks: list[Mark] = []
    x, top, low, reach = EDGE_MM, 0.0, 0.0, 0.0
    for one in copies:
        x0, y0, x1, y1 = one.footprint.bounds
        if x + (x1 - x0) > wide - EDGE_MM:
            x, top = EDGE_MM, low - GAP_MM
        marks += shifted(one.marks, (x - x0, top - y1))
        x += x1 - x0 + GAP_MM
        reach, low = max(reach, x), min(low, top - (y1 - y0))
    height = -low + 2 * EDGE_MM
    return Drawing(reach - GAP_MM + EDGE_MM, height, shifted(marks, (0.0, height - EDGE_MM)))
