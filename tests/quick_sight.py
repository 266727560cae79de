"""Pictures that are read and measured in no time: a file of JSON stands for a photo of the templates it names.

For tests of what a job remembers and does again; what the stages do themselves is tested elsewhere.
"""

import json
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from seamsurvey import convert, measuring
from seamsurvey.block.assemble import assemble
from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.geometry import edge_lengths
from seamsurvey.job.conversion import to_json
from seamsurvey.job.writing import content_hash
from seamsurvey.model import (
    Block,
    Correction,
    Edge,
    FoundationPlan,
    PhotoReport,
    Picture,
    ScanPlane,
    Template,
    TemplateSet,
    Wishes,
)
from seamsurvey.sheets.all_sheets import sheet_files
from tests.several import HALF, SIDE, SQUARE

PX_PER_MM = 2.0


def photo(path: Path, side_mm: float = SIDE, **more: float) -> Path:
    """A picture of a half square and a square with this side, as they were cut."""
    path.write_text(json.dumps({HALF: side_mm, SQUARE: side_mm, **more}))
    return path


class Worked(Counter[str]):
    """How often each stage was really done."""

    def taken(self) -> dict[str, int]:
        """The counts since they were last taken."""
        counts = dict(sorted(self.items()))
        self.clear()
        return counts


def quick_sight(monkeypatch: pytest.MonkeyPatch, *, drawn: bool = True) -> Worked:
    """Let the line see such pictures; the result counts the work of all stages.

    Without ``drawn`` the sheets are no drawings but the words of what they would be drawn from.
    """
    worked = Worked()

    def counting(stage: str, work: Any) -> Any:
        def done(*args: Any, **kwargs: Any) -> Any:
            worked[stage] += 1
            return work(*args, **kwargs)

        return done

    monkeypatch.setattr(measuring, "picture_of", read)
    monkeypatch.setattr(measuring, "plane_of", lambda *_: plane())
    monkeypatch.setattr(measuring, "judged", lambda templates, _: templates)
    monkeypatch.setattr(measuring, "measure_templates", counting("measured", measured))
    monkeypatch.setattr(convert, "assemble", counting("searched", assemble))
    monkeypatch.setattr(convert, "plan_foundation", counting("foundation", plan_foundation))
    monkeypatch.setattr(convert, "sheet_files", counting("sheets", sheet_files if drawn else in_words))
    return worked


_FOR_SHEETS = (
    "paper", "blocks", "colours", "fabrics", "came_from", "seam_allowance_mm", "oversize_mm", "print_scale",
    "fabric_width_mm", "fabric_reserve", "only", "quilt",
)  # fmt: skip


def in_words(
    templates: TemplateSet | None, block: Block, plan: FoundationPlan, wishes: Wishes, **more: Any
) -> dict[str, bytes]:
    """What the sheets are told, as two files, or one where only the foundations are wished for."""
    overlays = {name: content_hash(content) for name, content in more.pop("overlays").items()}
    told = [templates, block, plan, [getattr(wishes, name) for name in _FOR_SHEETS], overlays, more]
    files = {"foundations.pdf": to_json(told), "report.html": to_json(told)}
    return {"foundations.pdf": files["foundations.pdf"]} if wishes.only == "foundations" else files


def read(name: str, content: bytes) -> Picture:
    """A grey picture that carries what the file says where a camera's name would stand."""
    grey = np.full((300, 600, 3), 230, dtype=np.uint8)
    return Picture(name, content_hash(content), grey, camera=content.decode())


def plane() -> ScanPlane:
    """A scanner's glass, 2 px to the millimetre."""
    scale = 1 / PX_PER_MM
    return ScanPlane(
        kind="scan", matrix=np.array([[scale, 0, 0], [0, -scale, 150.0]]), covariance=np.eye(6) * 1e-12,
        axis=np.array([1.0, 0.0]), references=(),
    )  # fmt: skip


_SHAPES = {SQUARE: [[0, 0], [1, 0], [1, 1], [0, 1]], HALF: [[0, 0], [1, 0], [0, 1]]}


def measured(pictures: Any, *, allowance_mm: float | None, corrections: Any, counts: Any, **_: Any) -> TemplateSet:
    """What a picture says, with the allowance taken off, a set length or a new name in place."""
    templates, reports = [], []
    for index, (picture, plane) in enumerate(pictures):
        reports.append(PhotoReport(picture.name, picture.sha256, (600, 300), plane))
        for k, (name, cut) in enumerate(json.loads(picture.camera).items()):
            said = corrections.templates.get(name, Correction())
            if said.exclude:
                continue
            side = said.edges[1].length_mm if 1 in said.edges else cut - 2 * (allowance_mm or 0.0)
            outline = np.array(_SHAPES[name], dtype=float) * side + np.array([10.0 + 90 * k, 20.0])
            called = said.name or name
            count = counts.get(called)
            templates.append(
                Template(
                    name=called,
                    found_as=name if called != name else "",
                    photo=index,
                    cut_outline=outline,
                    finished_outline=outline,
                    corners_px=plane.to_px(outline),
                    edges=tuple(Edge(float(each), 0.1, 0.0, "edge fit") for each in edge_lengths(outline)),
                    own_covariance=np.eye(2 * len(outline)) * 1e-4,
                    sensitivity=np.zeros((2 * len(outline), 0)),
                    allowance_mm=allowance_mm or 0.0,
                    allowance_from="open" if allowance_mm is None else "given",
                    count=count.face_up if count else None,
                    reversed_count=count.reversed if count else None,
                )
            )
    return TemplateSet(photos=tuple(reports), templates=tuple(templates), shared_covariance=np.zeros((0, 0)))


def without_notes(job: Path) -> dict[str, bytes]:
    """Every file of a job by its name, but for the program's own, the dates in job.toml's comments, and ``old``."""
    found = {}
    for path in sorted(job.iterdir()):
        if path.is_file() and not path.name.startswith(".") and path.name != "job.toml":
            found[path.name] = path.read_bytes()
    return found
