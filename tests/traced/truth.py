"""The exact truth about a picture, as JSON's plain values."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tests.scene.congruence import Template
from tests.scene.trade_block import TradeBlock

from .lens import MM_PER_INCH, Camera
from .references import Reference
from .shapes import CutCard, Points, carried


@dataclass(frozen=True)
class Placed:
    """A card as it lies: heights in mm."""

    template: Template
    card: CutCard
    face_down: bool
    local_to_table: NDArray[np.float64]
    stock: str
    thickness: float
    top: float
    written: bool


def record(trade: TradeBlock, kind: str, allowance: float, placed: list[Placed],
           references: list[tuple[Reference, NDArray[np.float64]]],
           told: dict[str, Any]) -> dict[str, Any]:  # fmt: skip
    """All of it; lengths in mm unless a name says otherwise."""
    camera: Camera = told["camera"]
    width, height = camera.size
    # A stored picture that lies on its side: upright (x, y) is stored at (y, width - 1 - x).
    stored = [[0, 1, 0], [-1, 0, width - 1], [0, 0, 1]] if told["turned"] else np.eye(3).tolist()
    return {
        "kind": kind,
        "units": "mm unless the name says in or px",
        "pixel_convention": "x right, y down, pixel centres at integers, in the upright image",
        "image": {
            "width": width, "height": height, "exif_orientation": 6 if told["turned"] else 1,
            "stored_from_upright": stored, "file": "picture.jpg",
        },
        "block": {
            "name": trade.name, "kind": trade.kind, "outline_in": (trade.outline / MM_PER_INCH).tolist(),
            "pieces_in": [(piece / MM_PER_INCH).tolist() for piece in trade.pieces],
        },
        "seam_allowance_mm": allowance,
        "template_set": "one",
        "templates": [_template(each) for each in placed],
        "placed": [_placed(each, camera) for each in placed],
        "references": [_reference(each, matrix, camera, told["top_down"]) for each, matrix in references],
        "camera": camera.record() | {"focal_equiv_exif_mm": told["equivalent"]},
        "light": asdict(told["light"]), "table": told["table"], "table_z_mm": told["table_z"],
        "base_z_mm": told["base"], "post": asdict(told["sensor"]),
    }  # fmt: skip


def _template(placed: Placed) -> dict[str, Any]:
    template = placed.template
    return {
        "id": template.name, "finished_mm": template.finished.tolist(), "cut_mm": placed.card.ideal.tolist(),
        "count": template.count, "mirrored_count": template.reversed_count,
        "pieces": [
            {"piece": c.piece, "mirrored": c.reversed, "template_to_block_mm": c.template_to_block.tolist()}
            for c in template.copies
        ],
    }  # fmt: skip


def _placed(placed: Placed, camera: Camera) -> dict[str, Any]:
    def seen(outline: Points) -> Any:
        table = carried(placed.local_to_table, outline)
        return camera.pixels(np.column_stack([table, np.full(len(table), placed.top)])).tolist()

    card = placed.card
    return {
        "template": placed.template.name, "face_down": placed.face_down, "written": placed.written,
        "material": placed.stock, "thickness_mm": placed.thickness, "z_top_mm": placed.top,
        "local_to_world": placed.local_to_table.tolist(),
        "finished_corners_px": seen(placed.template.finished), "cut_corners_px": seen(card.ideal),
        "ascut_corners_mm": card.straight.tolist(), "ascut_corners_px": seen(card.straight),
        "ascut_outline_mm": card.outline.tolist(), "ascut_outline_px": seen(card.outline),
    }  # fmt: skip


def _reference(reference: Reference, matrix: NDArray[np.float64], camera: Camera, top_down: bool) -> dict[str, Any]:
    top = 0.0 if top_down else reference.thickness
    marks_z = 0.06 if reference.clear and not top_down else top
    places = carried(matrix, np.array([place for _, place in reference.marks]))
    pixels = camera.pixels(np.column_stack([places, np.full(len(places), marks_z)]))
    w, h = reference.length, reference.width
    corners = carried(matrix, np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]]))
    return {
        "kind": reference.kind, "unit": reference.unit, "length_mm": w, "width_mm": h,
        "thickness_mm": reference.thickness, "z_top_mm": top, "marks_z_mm": marks_z, "clear": reference.clear,
        "local_to_world": matrix.tolist(),
        "marks": [
            {"value": value, "xy_mm": place.tolist(), "px": pixel.tolist()}
            for (value, _), place, pixel in zip(reference.marks, places, pixels, strict=True)
        ],
        "corners_mm": corners.tolist(),
        "corners_px_top_face": camera.pixels(np.column_stack([corners, np.full(4, top)])).tolist(),
    }  # fmt: skip
