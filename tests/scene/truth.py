"""The truth about a picture: what the block is, where everything lies in the picture, to the last digit.

`write_truth` makes the `truth.json` beside a rendered picture; `read_truth` reads it back, and with it
any truth file that keeps the same field names. Lengths are mm unless a name says `_in` or `_px`.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .geometry import Points, polygon

MM_PER_INCH = 25.4
Json = dict[str, Any]


@dataclass(frozen=True)
class TemplateTruth:
    """A template: finished and cut outline in its own frame, copies face up and turned over."""

    name: str
    finished: Points
    cut: Points
    count: int
    reversed_count: int
    pieces: tuple[int, ...]
    piece_reversed: tuple[bool, ...]


@dataclass(frozen=True)
class PlacedTruth:
    """A card in the picture; (n, 2) px arrays lie on its top face.

    `finished_corners_px`, `cut_corners_px`: corner for corner of the template's `finished` and `cut`;
    `as_cut_corners_px`: where lines fitted to the wandering cut edges meet, and `as_cut_corners` the same
    in mm in the template's own frame; `as_cut_outline_px`: the outline seen, worn corners and all.
    """

    template: str
    face_down: bool
    thickness: float
    finished_corners_px: Points
    cut_corners_px: Points
    as_cut_corners: Points
    as_cut_corners_px: Points
    as_cut_outline_px: Points


@dataclass(frozen=True)
class MarkTruth:
    """A graduation mark: its value in the reference's unit, where its axis meets the edge (table, px)."""

    value: float | tuple[float, float]
    table: Points
    px: Points


@dataclass(frozen=True)
class ReferenceTruth:
    """A reference in the picture: its unit ("inch" or "cm"), the marks of its whole units."""

    kind: str
    unit: str
    marks: tuple[MarkTruth, ...]
    corners_px: Points


@dataclass(frozen=True)
class Truth:
    """All that is known about a picture.

    `pieces`: finished outlines in the block frame, mm; `block_outline` (4, 2) mm; `camera`: the file's own
    words for it; `px_per_mm`: (x, y) of a flatbed scan, None for a photo.
    """

    scene: str
    seed: int
    kind: str
    width: int
    height: int
    block: str
    block_outline: Points
    pieces: tuple[Points, ...]
    seams: tuple[tuple[int, int], ...]
    templates: tuple[TemplateTruth, ...]
    placed: tuple[PlacedTruth, ...]
    references: tuple[ReferenceTruth, ...]
    allowance: float
    tips_trimmed: float | None
    camera: Json
    raw: Json

    @property
    def px_per_mm(self) -> tuple[float, float] | None:
        """A flatbed scan's true pixels per mm along the picture's x and y; None for a photo."""
        if self.kind != "scan":
            return None
        a = np.array(self.camera["A"], dtype=np.float64)
        return float(np.hypot(a[0, 0], a[1, 0])), float(np.hypot(a[0, 1], a[1, 1]))

    @property
    def block_size(self) -> tuple[float, float]:
        """Width and height of the block, mm."""
        low, high = self.block_outline.min(axis=0), self.block_outline.max(axis=0)
        return float(high[0] - low[0]), float(high[1] - low[1])

    def template(self, name: str) -> TemplateTruth:
        """The template of that name. Raises KeyError if there is none."""
        for template in self.templates:
            if template.name == name:
                return template
        raise KeyError(name)


def read_truth(path: Path) -> Truth:
    """The truth in a `truth.json`.

    Raises OSError if the file can't be read, KeyError or ValueError if it is no truth file.
    """
    data: Json = json.loads(path.read_text(encoding="utf-8"))
    block = data["block"]
    return Truth(
        scene=data["scene"],
        seed=int(data["seed"]),
        kind=data["kind"],
        width=int(data["image"]["width"]),
        height=int(data["image"]["height"]),
        block=block["name"],
        block_outline=polygon(block["outline_in"]) * MM_PER_INCH,
        pieces=tuple(polygon(piece) * MM_PER_INCH for piece in block["pieces_in"]),
        seams=tuple((int(seam["piece"]), int(seam["with_piece"])) for seam in block["seams"]),
        templates=tuple(_template(t) for t in data["templates"]),
        placed=tuple(_placed(p) for p in data["placed"]),
        references=tuple(_reference(r) for r in data["references"]),
        allowance=float(data["seam_allowance_mm"]),
        tips_trimmed=None if data["tips_trimmed_mm"] is None else float(data["tips_trimmed_mm"]),
        camera=data["camera"],
        raw=data,
    )


def _template(t: Json) -> TemplateTruth:
    return TemplateTruth(
        name=t["id"],
        finished=polygon(t["finished_mm"]),
        cut=polygon(t["cut_mm"]),
        count=int(t["count"]),
        reversed_count=int(t["mirrored_count"]),
        pieces=tuple(int(p["piece"]) for p in t["pieces"]),
        piece_reversed=tuple(bool(p["mirrored"]) for p in t["pieces"]),
    )


def _placed(p: Json) -> PlacedTruth:
    return PlacedTruth(
        template=p["template"],
        face_down=bool(p["face_down"]),
        thickness=float(p["thickness_mm"]),
        finished_corners_px=polygon(p["finished_corners_px"]),
        cut_corners_px=polygon(p["cut_corners_px"]),
        as_cut_corners=polygon(p["ascut_corners_mm"]),
        as_cut_corners_px=polygon(p["ascut_corners_px"]),
        as_cut_outline_px=polygon(p["ascut_outline_px"]),
    )


def _reference(r: Json) -> ReferenceTruth:
    marks = tuple(
        MarkTruth(
            tuple(m["value"]) if isinstance(m["value"], list) else float(m["value"]),
            np.array(m["xy_mm"]),
            np.array(m["px"]),
        )
        for m in r["marks"]
    )
    return ReferenceTruth(r["kind"], r["unit"], marks, polygon(r["corners_px_top_face"]))


def listed(points: NDArray[np.float64] | Sequence[float], digits: int = 6) -> Any:
    """Numbers as JSON has them, rounded to a nanometre or a millionth of a pixel."""
    return np.round(np.asarray(points, dtype=np.float64), digits).tolist()


def write_truth(truth: Json, path: Path) -> None:
    """Write the truth to the file, short lists on one line each, so that a difference can be read."""
    lines = []
    for key, value in truth.items():
        if isinstance(value, list) and value and isinstance(value[0], dict):
            items = ",\n  ".join(json.dumps(item) for item in value)
            lines.append(f" {json.dumps(key)}: [\n  {items}\n ]")
        else:
            lines.append(f" {json.dumps(key)}: {json.dumps(value)}")
    path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
