"""The whole line, stage by stage: photos become templates, a block, a foundation plan, and sheets.

A stage is done only if its inputs changed since it was last done in this job; each reads what the one before
left on the disk, so that a file corrected by hand counts.
"""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
from attrs import asdict, evolve, field, frozen
from numpy.typing import NDArray

from seamsurvey import __version__
from seamsurvey.block.assemble import assemble
from seamsurvey.errors import InputError
from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.job.corrections import plain_corrections
from seamsurvey.job.folder import JobFolder, content_hash, stage_key, write_atomically
from seamsurvey.job.foundation_file import read_foundation, write_foundation
from seamsurvey.job.inputs import PhotoFile, read_photos
from seamsurvey.job.layout_file import read_layout, size_text, write_layout
from seamsurvey.job.measured_file import read_measured, write_measured
from seamsurvey.job.said import (
    chosen_first,
    counted,
    in_names_now,
    overlay_name,
    plain_counts,
    several_layouts,
    size_unknown,
    snapping,
    summed_up,
    units_of,
    with_counts,
)
from seamsurvey.model import Block, Closure, FoundationPlan, Picture, Plane, TemplateSet, Wishes
from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.quality import template_warnings
from seamsurvey.photo.read import read_picture
from seamsurvey.sheets.all_sheets import sheet_files
from seamsurvey.sheets.choices import choices_svg
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.overlay import overlay_png
from seamsurvey.sheets.page import section_room
from seamsurvey.sheets.svg import block_svg
from seamsurvey.templates.allowance import refuse_open
from seamsurvey.templates.bare import in_stand_ins
from seamsurvey.templates.measure import measure_templates
from seamsurvey.units import INCH

MEASURED, LAYOUT, FOUNDATION = "measured.json", "layout.json", "foundation.json"
PARTIAL = "partial.svg"


@frozen
class Progress:
    """What the line tells while it runs: a stage begun, done or kept as it was, or a note for the person."""

    stage: str  # "photo", "templates", "block", "foundation", "sheets"
    state: str  # "begin", "done", "kept", "note"
    text: str = ""


@frozen
class Line:
    """The stages of one job, each readable and runnable by itself."""

    job: JobFolder
    wishes: Wishes
    tell: Callable[[Progress], None] = field(default=lambda _: None)
    force: bool = False

    def convert(self, photos: Sequence[PhotoFile]) -> None:
        """Everything, photos to printed sheets; without photos, on from what the job has measured."""
        templates = self.measure(photos) if photos else self.measured()
        block = self.assemble(templates)
        plan = self.section(block)
        self.draw(templates, block, plan)

    # --- stages 1 and 2: what each template measures ---

    def measure(self, photos: Sequence[PhotoFile]) -> TemplateSet:
        """Photos to templates: measured.json and a picture of what was found in each photo."""
        wishes, key = self.wishes, self._measured_key(photos)
        if self._kept("measured", key, "photo", "templates"):
            return self.measured()

        self._begin("photo")
        pictures = [read_picture(photo.name, photo.content) for photo in photos]
        planes = [plane_of(picture, wishes) for picture in pictures]
        seen = [reference.graduation for plane in planes for reference in plane.references]
        self._done("photo", "; ".join(seen) or "no scale")

        self._begin("templates")
        templates = measure_templates(
            list(zip(pictures, planes, strict=True)),
            allowance_mm=wishes.allowance_mm,
            thickness_mm=wishes.thickness_mm,
            templates_are=wishes.templates_are,
            page_measures=(wishes.scale_bar_mm, wishes.page_grid_mm),
            counts=wishes.counts,
            closes=self._closes,
            corrections=wishes.corrections,
            writing=wishes.cards == "read",
        )
        templates = _judged(templates, pictures)
        overlays = {
            overlay_name(photo.name): overlay_png(picture, index, templates, units=self.units(templates))
            for index, (photo, picture) in enumerate(zip(templates.photos, pictures, strict=True))
        }
        measured = {MEASURED: write_measured(templates, self.units(templates))}
        self.job.keep("measured", key, {**measured, **overlays}, force=self.force)
        self._done("templates", counted(len(templates.templates), "template"))
        self._note("photo", [warning for photo in templates.photos for warning in photo.warnings])
        self._note("templates", templates.warnings)
        return templates

    def measured(self) -> TemplateSet:
        """Return the templates the job has, from a photo or written by hand."""
        return read_measured(
            self._needed(MEASURED, "seamsurvey measure PHOTO --into"), str(self.job.path / MEASURED)
        )

    # --- stage 3: the block from its edges ---

    def assemble(self, templates: TemplateSet) -> Block:
        """Templates to a block: layout.json, and layout-2.json, ... when a person must choose."""
        wishes, key = self.wishes, self._layout_key()
        if templates.in_px:
            if wishes.finish_mm is None:
                raise size_unknown(self.job.path)
            templates = in_stand_ins(templates)  # what is made of them is brought to the finished size
        refuse_open(templates, wishes.allowance_mm, str(self.job.path))
        if not self._kept("layout", key, "block"):
            self._begin("block")
            layouts = assemble(
                with_counts(templates, wishes),
                **self._asked_of_block(),
                grid_mm=self._grid(templates),
                picture=self._hint(),
                seed=wishes.seed,
                time_limit_s=wishes.time_limit_s,
                tell=lambda text: self.tell(Progress("block", "begin", text)),
                on_partial=self._keep_partial,
            )
            ranked = chosen_first(layouts, wishes.layout)
            files = {
                LAYOUT if rank == 1 else f"layout-{rank}.json": write_layout(block, self.units(templates))
                for rank, block in enumerate(ranked, 1)
            }
            if len(ranked) > 1:
                # Drawn in the order of --layout, whichever is the chosen one.
                drawn = choices_svg(
                    layouts, title=self.title(), colours=self.named_wishes().colours, units=self.units(templates)
                )
                files["layouts.svg"] = drawn.encode()
            self.job.keep("layout", key, files, force=self.force)
            block = ranked[0]
            size = size_text(block.width, block.height, self.units(templates))
            self._done("block", f"{size}, {counted(len(block.pieces), 'piece')}")
            self._note("block", [*block.warnings, *snapping(block)])
        if wishes.layout is None and self.job.read("layout-2.json") is not None:
            raise several_layouts(self.job.path)
        return self.layout()

    def _asked_of_block(self) -> dict[str, Any]:
        """What was said of the block's shape and size."""
        wishes = self.wishes
        return {
            "symmetry": wishes.symmetry,
            "outline": wishes.outline,
            "finish_mm": wishes.finish_mm,
            "finish_height_mm": wishes.finish_height_mm,
        }

    def _closes(self, templates: TemplateSet, seconds: float) -> Closure | None:
        """How the likeliest block of a set closes; None where none is found in the time."""
        try:
            counted = with_counts(templates, self.wishes)
            blocks = assemble(counted, **self._asked_of_block(), time_limit_s=seconds, even_guessed=True)
        except InputError:
            return None
        return blocks[0].closure

    def _grid(self, templates: TemplateSet) -> float:
        """The grid to snap to, mm: as wished, else 1/16 in or 1 mm; 0 is none."""
        if self.wishes.snap_mm is not None:
            return self.wishes.snap_mm
        if templates.in_px:
            return 0.0
        return INCH / 16 if self.units(templates) == "inch" else 1.0

    def _hint(self) -> NDArray[np.uint8] | None:
        """The pixels of the picture that may help to choose a layout."""
        file = self._picture()
        if file is None:
            return None
        pixels = read_picture(file.name, file.content).pixels
        return pixels if pixels.dtype == np.uint8 else (pixels // 256).astype(np.uint8)

    def _picture(self) -> PhotoFile | None:
        """The picture wished for: as named on the command line, or in job.toml beside it."""
        if self.wishes.picture is None:
            return None
        beside = self.job.path / self.wishes.picture
        return read_photos([beside if beside.exists() else Path(self.wishes.picture)])[0]

    def _keep_partial(self, block: Block) -> None:
        """Write partial.svg: what was laid before the search gave up."""
        named = self.named_wishes()
        fabrics = fabrics_of(block, named.colours, named.fabrics)
        drawn = block_svg(block, None, title=f"{self.title()}, not finished", fabrics=fabrics)
        write_atomically({self.job.path / PARTIAL: drawn.encode()})
        self._note("block", [f"{self.job.path / PARTIAL} shows the fullest attempt."])

    def layout(self) -> Block:
        """Return the block the job has, assembled here or drawn elsewhere."""
        return read_layout(self._needed(LAYOUT, "seamsurvey assemble"), str(self.job.path / LAYOUT))

    # --- stage 4: sections, order, joins ---

    def section(self, block: Block) -> FoundationPlan:
        """Block to foundation plan: foundation.json."""
        units, key = self._units_of_job(), self._foundation_key()
        if not self._kept("foundation", key, "foundation"):
            self._begin("foundation")
            wishes = self.named_wishes()
            plan = plan_foundation(
                block,
                prefer=wishes.prefer,
                pieced_start=wishes.pieced_start,
                cure=wishes.cure,
                never_cut=wishes.never_cut,
                room_mm=section_room(wishes.paper, wishes.seam_allowance_mm, wishes.print_scale),
                time_limit_s=wishes.time_limit_s,
                colours=wishes.colours,
                units=units,
            )
            self.job.keep("foundation", key, {FOUNDATION: write_foundation(plan)}, force=self.force)
            self._done("foundation", counted(sum(s.copies for s in plan.sections), "section"))
            self._note("foundation", summed_up(plan.advice))
        return self.plan()

    def plan(self) -> FoundationPlan:
        """Return the foundation plan the job has."""
        return read_foundation(self._needed(FOUNDATION, "seamsurvey section"), str(self.job.path / FOUNDATION))

    # --- stage 5: sheets ---

    def draw(self, templates: TemplateSet | None, block: Block, plan: FoundationPlan) -> None:
        """Foundation plan to everything that is printed, cut and looked at."""
        wishes, units, key = self.named_wishes(), self._units_of_job(), self._sheets_key()
        if self._kept("sheets", key, "sheets"):
            return
        self._begin("sheets")
        files = sheet_files(
            templates, block, plan, wishes,
            title=self.title(), units=units, job_hash=stage_key(*self._sources())[:8],
            overlays=self._overlays(templates),
        )  # fmt: skip
        self.job.keep("sheets", key, files, force=self.force)
        self._done("sheets", ", ".join(files))

    # --- what each stage depends on ---

    def outlook(self, photos: Sequence[PhotoFile]) -> list[tuple[str, bool]]:
        """Each stage of ``convert`` by name, and whether it would be kept as it is."""
        keys = {
            "layout": self._layout_key,
            "foundation": self._foundation_key,
            "sheets": self._sheets_key,
        }
        if photos:
            keys = {"measured": lambda: self._measured_key(photos), **keys}
        stages: list[tuple[str, bool]] = []
        for stage, key in keys.items():
            kept = not self.force and all(fresh for _, fresh in stages) and self.job.is_fresh(stage, key())
            stages.append((stage, kept))
        return stages

    def _measured_key(self, photos: Sequence[PhotoFile]) -> str:
        wishes = self.wishes
        return stage_key(
            __version__, [photo.sha256 for photo in photos], [photo.name for photo in photos], wishes.reference,
            wishes.templates_are, wishes.cards, wishes.scale_bar_mm, wishes.page_grid_mm, wishes.taken_with,
            wishes.ruler, wishes.ruler_length_mm, wishes.ruler_thickness_mm, wishes.target_bars_mm,
            wishes.thickness_mm, wishes.allowance_mm, wishes.units, wishes.paper, plain_counts(wishes),
            plain_corrections(wishes.corrections),
            self._asked_of_block() if wishes.allowance_mm is None else "",
        )  # fmt: skip

    def _layout_key(self) -> str:
        wishes, picture = self.wishes, self._picture()
        return stage_key(
            __version__, self._hash(MEASURED), plain_counts(wishes), wishes.symmetry, wishes.finish_mm,
            wishes.finish_height_mm, wishes.outline, wishes.snap_mm, picture and picture.sha256, wishes.layout,
            wishes.units, wishes.seed, wishes.time_limit_s,
        )  # fmt: skip

    def _foundation_key(self) -> str:
        wishes = self.wishes
        return stage_key(
            __version__, self._hash(LAYOUT), self._units_of_job(), wishes.colours, wishes.prefer,
            wishes.pieced_start, wishes.cure, wishes.never_cut, wishes.time_limit_s,
            [wishes.paper, wishes.seam_allowance_mm, wishes.print_scale] if wishes.prefer == "fits-page" else "",
        )  # fmt: skip

    def _sheets_key(self) -> str:
        wishes = self.wishes
        return stage_key(
            __version__, self._sources(), wishes.title, wishes.paper, wishes.blocks, wishes.colours, wishes.fabrics,
            wishes.came_from, wishes.seam_allowance_mm, wishes.oversize_mm, wishes.print_scale,
            asdict(wishes.quilt), self._units_of_job(),
        )  # fmt: skip

    def _sources(self) -> list[str]:
        return [self._hash(name) for name in (MEASURED, LAYOUT, FOUNDATION)]

    # --- what the stages share ---

    def title(self) -> str:
        """Return the title wished for, else the name of the job's folder."""
        return self.wishes.title or self.job.path.resolve().name

    def units(self, templates: TemplateSet | None) -> str:
        """Return "inch" or "mm": see `units_of`."""
        return units_of(templates, self.wishes)

    def named_wishes(self) -> Wishes:
        """The wishes by the names that the templates have now."""
        return in_names_now(self.wishes, self.measured() if self.job.read(MEASURED) is not None else None)

    def _units_of_job(self) -> str:
        return self.units(self.measured() if self.job.read(MEASURED) is not None else None)

    def _overlays(self, templates: TemplateSet | None) -> dict[str, bytes]:
        names = [photo.name for photo in templates.photos] if templates else []
        found = {name: self.job.read(overlay_name(name)) for name in names}
        return {name: content for name, content in found.items() if content is not None}

    def _needed(self, name: str, command: str) -> bytes:
        content = self.job.read(name)
        if content is None:
            raise InputError(
                "stage-missing",
                f"{self.job.path} has no {name} yet.",
                where=str(self.job.path),
                todo=f"Run {command} {self.job.path} first.",
            )
        return content

    def _hash(self, name: str) -> str:
        return content_hash(self.job.read(name) or b"")

    def _kept(self, stage: str, key: str, *shown: str) -> bool:
        kept = not self.force and self.job.is_fresh(stage, key)
        for name in shown if kept else ():
            self.tell(Progress(name, "kept", "nothing changed since it was last done"))
        return kept

    def _begin(self, stage: str) -> None:
        self.tell(Progress(stage, "begin"))

    def _done(self, stage: str, text: str) -> None:
        self.tell(Progress(stage, "done", text))

    def _note(self, stage: str, texts: Sequence[str]) -> None:
        for text in texts:
            self.tell(Progress(stage, "note", text))


def plane_of(picture: Picture, wishes: Wishes) -> Plane:
    """Stage 1: the plane of one picture, by the wishes that bear on it."""
    return find_plane(
        picture,
        reference=wishes.reference,
        taken_with=wishes.taken_with,
        ruler=wishes.ruler,
        ruler_length_mm=wishes.ruler_length_mm,
        ruler_thickness_mm=wishes.ruler_thickness_mm,
        thickness_mm=wishes.thickness_mm,
        target_bars_mm=wishes.target_bars_mm,
        own_measure=wishes.scale_bar_mm is not None or wishes.page_grid_mm is not None,
    )


def _judged(templates: TemplateSet, pictures: Sequence[Picture]) -> TemplateSet:
    """The templates, with what their photos' own faults do to them among the photos' warnings."""
    judged = []
    for index, (photo, picture) in enumerate(zip(templates.photos, pictures, strict=True)):
        corners = [template.corners_px for template in templates.templates if template.photo == index]
        said = template_warnings(picture, photo.plane, corners)
        judged.append(evolve(photo, warnings=(*photo.warnings, *said)))
    return evolve(templates, photos=tuple(judged))
