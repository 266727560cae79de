"""Pages against the least their area allows, labels, and the time a whole set takes, on the sectioning's blocks."""

import math
import time

import numpy as np
import shapely

from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.model import Wishes
from seamsurvey.sheets.all_sheets import sheet_files
from seamsurvey.sheets.drawing import Line, Text
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.foundations import print_sections
from seamsurvey.sheets.page import body
from seamsurvey.sheets.section_figure import section_cut
from seamsurvey.sheets.true_size import MotifPage
from seamsurvey.sheets.type import cap_mm, width_mm
from tests.benchmarks.sections import _blocks
from tests.benchmarks.table import Table

ALLOWANCE_MM = 6.35


def sheets() -> Table:
    """Letter pages, a quarter inch of allowance, every copy of every section."""
    region = body("letter")
    rows, ratios, seconds, faults = [], [], [], 0
    for name, block in _blocks():
        plan = plan_foundation(block)
        fabrics = fabrics_of(block, {}, {})
        pages = print_sections(
            plan, block, fabrics, paper="letter", allowance_mm=ALLOWANCE_MM, title=name
        ).pages.pages
        area = sum(s.copies * shapely.Polygon(section_cut(s, ALLOWANCE_MM)).area for s in plan.sections)
        least = max(1, math.ceil(area / (region.width * region.height) - 1e-9))
        ratios.append(len(pages) / least)
        wrong = sum(map(faulty_labels, pages))
        faults += wrong
        begun = time.process_time()
        sheet_files(None, block, plan, Wishes(), title=name, units="inch", job_hash="0" * 8, overlays={})
        seconds.append(time.process_time() - begun)
        figures = [str(len(block.pieces)), str(sum(s.copies for s in plan.sections)), str(len(pages)), str(least)]
        rows.append([name, *figures, f"{ratios[-1]:.2f}", str(wrong), f"{seconds[-1]:.1f}"])
    return Table(
        heading="Sheets",
        command="python -m tests.benchmarks sheets --write",
        about="Letter pages of sections, against the area of all sections with their allowance over that of a "
        "page's body, rounded up. Labels at fault leave the page's body, or touch a line or one another. Time is "
        "that of the processor for all nine files of the stage.",
        columns=["block", "pieces", "sections", "pages", "least by area", "ratio", "labels at fault", "s"],
        rows=rows,
        summary=f"{len(rows)} blocks: mean ratio {np.mean(ratios):.2f}, {faults} labels at fault, "
        f"at most {max(seconds):.1f} s.",
    )


def faulty_labels(page: MotifPage) -> int:
    """Texts that leave the page's body, or touch a line (but their own leader) or another text."""
    region = body("letter")
    frame = shapely.box(region.x, region.y, region.x + region.width, region.y + region.height).buffer(0.01)
    lines = [
        shapely.LineString(np.vstack([mark.points, mark.points[:1]]) if mark.closed else mark.points)
        for mark in page.marks
        if isinstance(mark, Line) and mark.layer not in ("swatches", "leaders")
    ]
    rooms = [_room(mark) for mark in page.marks if isinstance(mark, Text)]
    tree, others = shapely.STRtree(lines), shapely.STRtree(rooms)
    return sum(
        not frame.contains(room)
        or len(tree.query(room, predicate="intersects")) > 0
        or len(others.query(room, predicate="intersects")) > 1
        for room in rooms
    )


def _room(text: Text) -> shapely.Polygon:
    width = width_mm(text.text, text.size_pt, text.weight)
    left = {"start": 0.0, "middle": -width / 2, "end": -width}[text.anchor]
    room = shapely.box(left, 0.0, left + width, cap_mm(text.size_pt))
    return shapely.affinity.translate(shapely.affinity.rotate(room, text.turn_deg, origin=(0, 0)), *text.at)
