"""What is true of a rendered scene, in the words of `truth.json`."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .families import MM_PER_INCH, Family
from .geometry import Points, move
from .rulers import marks_of
from .scene import LaidCard, LaidMat, LaidRuler, Scene
from .truth import Json, listed

# Where a point of the table (mm), at a height above it (mm), is seen: (n, 2) px.
View = Callable[[Points, float], Points]


def truth_of(
    scene: Scene, view: View, kind: str, picture: NDArray[np.uint8], *, file: str, camera: Json, on_glass: bool
) -> Json:
    """The scene's truth as seen by `view`. `on_glass`: top faces all lie in one plane, as in a scan."""
    height, width = picture.shape[:2]
    return {
        "scene": scene.name,
        "seed": scene.seed,
        "kind": kind,
        "units": "mm unless the name says in or px",
        "pixel_convention": "x right, y down, pixel centres at integers, in the upright image",
        "image": {
            "width": width,
            "height": height,
            "file": file,
            "pixels_sha256": hashlib.sha256(picture.tobytes()).hexdigest(),
        },
        "block": _block(scene.family),
        "seam_allowance_mm": scene.cutting.allowance,
        "tips_trimmed_mm": scene.cutting.tips_at,
        "cutting_wobble_sigma_mm": scene.cutting.wobble_sigma,
        "templates": _templates(scene),
        "placed": [_placed(card, view, 0.0 if on_glass else card.thickness) for card in scene.cards],
        "references": [
            *(_reference(r, view, 0.0 if on_glass else r.kind.thickness) for r in scene.rulers),
            *([_mat(scene.mat, view)] if scene.mat is not None else []),
        ],
        "camera": camera,
    }


def _block(family: Family) -> Json:
    return {
        "name": family.name,
        "note": family.notes,
        "set_in": family.set_in,
        "outline_in": listed(family.outline / MM_PER_INCH, 12),
        "pieces_in": [listed(piece / MM_PER_INCH, 12) for piece in family.pieces],
        "seams": seams_of(family),
    }


def seams_of(family: Family) -> list[Json]:
    """Every stretch where two pieces meet: piece, edge, the other's, and its length in inches."""
    found = []
    for a, first in enumerate(family.pieces):
        for b in range(a + 1, len(family.pieces)):
            for i, j, length in _shared(first, family.pieces[b]):
                found.append(
                    {
                        "piece": a,
                        "edge": i,
                        "with_piece": b,
                        "with_edge": j,
                        "length_in": round(length / MM_PER_INCH, 9),
                    }
                )
    return found


def _shared(first: Points, second: Points) -> list[tuple[int, int, float]]:
    """The stretches (longer than 0.001 mm) on which edges of two outlines lie on one another."""
    found = []
    for i, (a, b) in enumerate(zip(first, np.roll(first, -1, axis=0), strict=True)):
        length = float(np.hypot(*(b - a)))
        along = (b - a) / length
        normal = np.array([along[1], -along[0]])
        for j, (c, d) in enumerate(zip(second, np.roll(second, -1, axis=0), strict=True)):
            if max(abs(float((c - a) @ normal)), abs(float((d - a) @ normal))) > 1e-6:
                continue
            start, end = sorted((float((c - a) @ along), float((d - a) @ along)))
            overlap = min(end, length) - max(start, 0.0)
            if overlap > 1e-3:
                found.append((i, j, overlap))
    return found


def _templates(scene: Scene) -> list[Json]:
    cut = {laid.card.name: laid.card.cut for laid in scene.cards}
    return [
        {
            "id": t.name,
            "finished_in": listed(t.finished / MM_PER_INCH, 9),
            "finished_mm": listed(t.finished),
            "cut_mm": listed(cut[t.name]),
            "count": t.count,
            "mirrored_count": t.reversed_count,
            "pieces": [
                {
                    "piece": copy.piece,
                    "mirrored": copy.reversed,
                    "template_to_block_in": listed(copy.template_to_block / [1.0, 1.0, MM_PER_INCH], 9),
                }
                for copy in t.copies
            ],
        }
        for t in scene.family.templates
        if t.name in cut
    ]


def _placed(laid: LaidCard, view: View, height: float) -> Json:
    card = laid.card

    def seen(outline: Points) -> Any:
        return listed(view(move(laid.to_table, outline), height))

    return {
        "template": card.name,
        "face_down": laid.face_down,
        "thickness_mm": listed([laid.thickness])[0],
        "z_top_mm": listed([height])[0],
        "material": laid.stock,
        "local_to_world": listed(laid.to_table, 9),
        "finished_corners_px": seen(card.finished),
        "cut_corners_px": seen(card.cut),
        "ascut_corners_mm": listed(card.as_cut_corners),
        "ascut_corners_px": seen(card.as_cut_corners),
        "ascut_outline_mm": listed(card.as_cut, 4),
        "ascut_outline_px": listed(view(move(laid.to_table, card.as_cut), height), 4),
    }


def _reference(laid: LaidRuler, view: View, height: float) -> Json:
    kind = laid.kind
    corners = move(
        laid.to_table, np.array([[0.0, 0.0], [kind.length, 0.0], [kind.length, kind.width], [0.0, kind.width]])
    )
    scales = []
    for scale in kind.scales:
        marks = []
        for mark in marks_of(kind, scale):
            if mark.level == 0:
                at = move(laid.to_table, mark.foot[None, :])
                marks.append({"value": mark.value, "xy_mm": listed(at[0]), "px": listed(view(at, height)[0])})
        scales.append(
            {"unit": scale.unit, "divisions": scale.levels[-1][0], "backwards": scale.backwards, "marks": marks}
        )
    return {
        "kind": kind.name,
        "unit": scales[0]["unit"],
        "length_mm": kind.length,
        "width_mm": kind.width,
        "thickness_mm": kind.thickness,
        "z_top_mm": height,
        "local_to_world": listed(laid.to_table, 9),
        "marks": scales[0]["marks"],
        "scales": scales,
        "corners_mm": listed(corners),
        "corners_px_top_face": listed(view(corners, height)),
    }


def _mat(laid: LaidMat, view: View) -> Json:
    mat = laid.mat
    width, height = mat.size
    corners = move(laid.to_table, np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]]))
    marks = []
    for row in range(0, mat.rows + 1, mat.every):
        for column in range(0, mat.columns + 1, mat.every):
            at = move(laid.to_table, mat.crossing(column, row)[None, :])
            value = [column, row]
            marks.append({"value": value, "xy_mm": listed(at[0]), "px": listed(view(at, 0.0)[0])})
    return {
        "kind": mat.name,
        "unit": mat.unit,
        "length_mm": width,
        "width_mm": height,
        "thickness_mm": 0.0,
        "z_top_mm": 0.0,
        "local_to_world": listed(laid.to_table, 9),
        "marks": marks,
        "corners_mm": listed(corners),
        "corners_px_top_face": listed(view(corners, 0.0)),
    }
