"""index.html: the contact sheet of all blocks, with search and filters, one page that needs no network.

The page carries its data as JSON and draws only the cards that come into view, so that ten thousand sets stay
quick.
"""

import json
from collections import defaultdict
from collections.abc import Sequence
from importlib.resources import files
from typing import Any

import numpy as np

from seamsurvey.archive_model import Archive, SetRecord
from seamsurvey.geometry import signed_area
from seamsurvey.model import Array

GRID = 1000  # the longer side of a drawing in the page's own whole numbers: finer than any screen's card


def index_html(archive: Archive, *, title: str) -> str:
    """The page as one HTML file; links lead to the sets' folders beside it ("sets/NAME/report.html")."""
    number = {record.name: k for k, record in enumerate(archive.sets)}
    alike: dict[str, list[list[Any]]] = defaultdict(list)
    for pair in archive.alike:
        alike[pair.first].append([number[pair.second], pair.kind, round(pair.size, 4)])
        alike[pair.second].append([number[pair.first], pair.kind, round(1 / pair.size, 4)])
    data = {"title": title, "sets": [_card(record, alike[record.name]) for record in archive.sets]}
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    # Inside a script element only "</" and "<!--" could end or change what the browser reads (HTML standard,
    # 4.12.1.3).
    safe = text.replace("<", "\\u003c")
    page = files("seamsurvey.archive").joinpath("page.html").read_text(encoding="utf-8")
    return page.replace("{{title}}", _escaped(title)).replace("{{data}}", safe)


def _card(record: SetRecord, alike: Sequence[list[Any]]) -> dict[str, Any]:
    colours = sorted({piece.colour for piece in record.pieces})
    problem = record.problem
    return {
        "name": record.name,
        "title": record.title,
        "state": record.state,
        "size": record.size_text,
        "width": round(record.size_mm[0], 1) if record.size_mm else None,
        "templates": len(record.templates),
        "pieces": len(record.pieces),
        "sections": record.sections,
        "others": record.others_fit,
        "symmetry": record.symmetry,
        "source": record.source,
        "warnings": list(record.warnings),
        "problem": [problem.what, problem.likely, problem.todo] if problem else None,
        "overlays": list(record.overlays),
        "colours": colours,
        "drawing": _drawing(record, colours),
        "alike": list(alike),
    }


def _drawing(record: SetRecord, colours: Sequence[str]) -> dict[str, Any] | None:
    """The block, or without one its templates in a row, as whole numbers with y down."""
    if record.pieces and record.size_mm:
        width, height = record.size_mm
        fine = max(width, height) / GRID
        shapes = [(colours.index(piece.colour), piece.drawn(fine)) for piece in record.pieces]
    elif record.templates:
        fine = max(float(np.ptp(template.outline_mm, axis=0).max()) for template in record.templates) / GRID
        outlines, width, height = _in_rows([template.drawn(fine) for template in record.templates])
        shapes = [(-1, outline) for outline in outlines]
    else:
        return None
    scale = GRID / max(width, height)
    return {
        "box": [round(width * scale), round(height * scale)],
        "shapes": [
            [colour, *(int(v) for v in np.round((outline * [1, -1] + [0, height]) * scale).ravel())]
            for colour, outline in shapes
        ],
    }


def _in_rows(outlines: Sequence[Array]) -> tuple[list[Array], float, float]:
    """The outlines in rows about as wide as high, each upright on the row's foot; the width and height taken."""
    gap = 0.12 * max(float(np.ptp(outline, axis=0).max()) for outline in outlines)
    room = 1.3 * float(np.sqrt(sum(signed_area(outline) for outline in outlines))) + gap
    placed: list[Array] = []
    x = y = row = widest = 0.0
    for outline in outlines:
        wide, high = np.ptp(outline, axis=0)
        if x > 0 and x + wide > room:
            x, y, row = 0.0, y - row - gap, 0.0
        placed.append(outline - outline.min(axis=0) + [x, y - high])
        x, row, widest = x + float(wide) + gap, max(row, float(high)), max(widest, x + float(wide))
    height = row - y
    return [outline + np.array([0.0, height]) for outline in placed], widest, height


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
