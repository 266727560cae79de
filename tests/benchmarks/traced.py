"""From path-traced pictures (`tests.traced`) to sheets by one command: a renderer that nothing here was tuned on.

The pictures are made first, in the environment that `tests/traced/__init__.py` tells of, into a folder `traced`
among the temporary files.
"""

import json
import sys
import tempfile
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np

from seamsurvey.geometry import edge_lengths
from seamsurvey.job.measured_file import read_measured
from seamsurvey.model import Template
from tests.benchmarks.one_command import ASKED, OFFERED, OTHER, REFUSED, RIGHT, converted
from tests.benchmarks.table import Table
from tests.scene.geometry import Points
from tests.scene.trade_blocks import trade_block

FOLDER = Path(tempfile.gettempdir()) / "traced"
NEAR_PX = 40.0  # a measured card is the one that lies there
COLUMNS = ("block", "templates", "picture", "card", "reference", "came to", "code or place", "width off by",
           "cards found", "largest edge error, its U", "edges within U")  # fmt: skip


def traced() -> Table:
    """Every picture in the folder, by one plain command; what was measured is compared with the cards as cut."""
    rows, came = [], Counter[str]()
    found, cards, within, edges = 0, 0, 0, 0
    for folder in sorted(path.parent for path in FOLDER.glob("*/truth.json")):
        truth = json.loads((folder / "truth.json").read_text())
        trade = trade_block(truth["block"]["name"])
        outcome = converted(trade, folder / "picture.jpg", folder / "job")
        came[outcome.what] += 1
        seen, errors = _measured(folder / "job" / "measured.json", truth)
        worst = max(errors, default=None)
        found, cards = found + seen, cards + len(truth["placed"])
        within, edges = within + sum(off <= u for off, u in errors), edges + len(errors)
        rows.append([
            trade.name,
            str(len(truth["templates"])),
            f"{truth['kind']}, {truth['table']}",
            f"{truth['placed'][0]['material']}, {truth['placed'][0]['thickness_mm']:.1f} mm",
            " + ".join(each["kind"] for each in truth["references"]),
            outcome.what,
            outcome.place,
            "" if outcome.off_mm is None else f"{outcome.off_mm:+.2f} mm",
            f"{seen} of {len(truth['placed'])}",
            f"{worst[0]:.2f} mm, {worst[1]:.2f} mm" if worst else "",
            f"{sum(off <= u for off, u in errors)} of {len(errors)}",
        ])  # fmt: skip
        print(" | ".join(rows[-1]), file=sys.stderr, flush=True)
    total = ", ".join(f"{came[what]} {what}" for what in (RIGHT, OFFERED, OTHER, ASKED, REFUSED))
    return Table(
        "Path-traced pictures to sheets by one command",
        ".venv/bin/python -m tests.benchmarks traced",
        "The trade's blocks as pictures traced by Blender's Cycles (`python -m tests.traced --seed 2 --count "
        f"{len(rows)} --out {FOLDER}`, in the environment that `tests/traced/__init__.py` tells of), which share "
        "nothing with the tests' own renderer but the blocks' drawings: one card of each template, four in five "
        "with an allowance of 1/4 in, half written on; one plain command. Edges are compared as they were cut.",
        COLUMNS,
        rows,
        f"{len(rows)} pictures: {total}. {found} of {cards} cards measured; {within} of {edges} edges within U.",
    )


def _measured(path: Path, truth: dict[str, Any]) -> tuple[int, list[tuple[float, float]]]:
    """How many of the cards were measured, and of each of their cut edges the error and its U, mm."""
    if not path.exists():
        return 0, []
    seen, errors = set(), []
    for template in read_measured(path.read_bytes()).templates:
        match = min((m for k, p in enumerate(truth["placed"]) for m in _matches(template, k, p)), default=None)
        if match is not None and match[0] <= NEAR_PX and template.cut_outline is not None:
            _, which, lengths = match
            seen.add(which)
            off = np.abs(edge_lengths(template.cut_outline) - np.array(lengths))
            errors += [(float(e), edge.u_mm) for e, edge in zip(off, template.edges, strict=True)]
    return len(seen), errors


def _matches(template: Template, which: int, placed: dict[str, Any]) -> list[tuple[float, int, list[float]]]:
    """How far (px) a card lies from a true one, its corners in every order, with the true edges' lengths, mm."""
    px, mm = (np.array(placed[f"ascut_corners_{unit}"]) for unit in ("px", "mm"))
    corners = template.corners_px
    if corners is None or len(corners) != len(px):
        return []
    found = []
    for ring_px, ring_mm in ((px, mm), (px[::-1], mm[::-1])):
        for start in range(len(px)):
            at: Points = np.roll(ring_px, -start, axis=0)
            off = float(np.abs(at - corners).max())
            found.append((off, which, edge_lengths(np.roll(ring_mm, -start, axis=0)).tolist()))
    return found
