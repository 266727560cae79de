"""The whole line, stage by stage: photos become templates, a block, a foundation plan, and sheets.

A stage is done only if what bears on it changed since it was last done in this job, from the picture on; each reads
what the one before left on the disk, so that a file corrected by hand counts.
"""

from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.block.arranged import arranged
from seamsurvey.block.assemble import assemble
from seamsurvey.errors import InputError
from seamsurvey.foundation.plan import plan_foundation
from seamsurvey.job.answers import taken_value
from seamsurvey.job.fitting import check_plan
from seamsurvey.job.foundation_file import read_foundation, write_foundation
from seamsurvey.job.inputs import PhotoFile, read_photos
from seamsurvey.job.known_names import check_names
from seamsurvey.job.layout_file import read_layout, size_text, write_layout
from seamsurvey.job.no_effect import drawn_by_hand, refuse_other_size
from seamsurvey.job.said import (
    counted,
    overlay_name,
    several_layouts,
    size_unknown,
    snapping,
    summed_up,
    with_counts,
)
from seamsurvey.job.taken import remembered, taken_number
from seamsurvey.job.unclear import places_of, refuse_ignored_card, refuse_unclear
from seamsurvey.job.wishes_file import FILE
from seamsurvey.measuring import Measuring
from seamsurvey.model import Block, FoundationPlan, TemplateSet
from seamsurvey.photo.read import read_picture
from seamsurvey.resize import resized
from seamsurvey.sheets.all_sheets import more_size_files, sheet_files
from seamsurvey.sheets.choices import choices_svg
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.page import section_room
from seamsurvey.sheets.rivals import Rivals
from seamsurvey.sheets.signed import signed
from seamsurvey.sheets.svg import block_svg
from seamsurvey.stage_keys import FOUNDATION, LAYOUT, MEASURED, PARTIAL, layout_name
from seamsurvey.stages import Progress
from seamsurvey.steps import cut_by
from seamsurvey.templates.allowance import refuse_open
from seamsurvey.templates.bare import in_stand_ins
from seamsurvey.templates.card_notes import with_card_notes
from seamsurvey.templates.cards import may_be_templates
from seamsurvey.units import INCH

Stopping = Callable[[], AbstractContextManager[Callable[[], bool]]]
"""Gives, for as long as a search lasts, what says whether a person has had enough of it."""


@contextmanager
def never_stopping() -> Iterator[Callable[[], bool]]:
    """Nobody stops the search."""
    yield lambda: False


@frozen
class Line(Measuring):
    """The stages of one job, each readable and runnable by itself; each does first what those before it need."""

    ask: bool = False  # stop where several layouts fit, instead of going on with the likeliest
    stopping: Stopping = never_stopping

    def convert(self, photos: Sequence[PhotoFile] = ()) -> None:
        """Everything, photos to printed sheets; without photos, those that the job knows."""
        block = self.block(photos)
        plan = self.section(block)
        self.draw(block, plan)

    def block(self, photos: Sequence[PhotoFile] = ()) -> Block:
        """Stages 1 to 3: the block, from the photos or measurements there are, or drawn elsewhere."""
        drawn_elsewhere = self.job.read(MEASURED) is None and self.job.read(LAYOUT) is not None
        if drawn_elsewhere and not photos and not self.photos():
            return self._drawn()
        return self.assemble(self.measure(photos))

    # --- stage 3: the block from its edges ---

    def assemble(self, templates: TemplateSet) -> Block:
        """Templates to a block: layout-1.json and on for all that fit, layout.json for the one that is taken."""
        wishes = self.wishes
        if templates.in_px:
            if wishes.finish_mm is None:
                raise size_unknown(self.job.path)
            templates = in_stand_ins(templates)  # what is made of them is brought to the finished size
        if wishes.ignore:
            self.write_down({("ignore",): list(places_of(templates, wishes.ignore))})
        # What the cards are comes first: one more may settle what allowance all have.
        refuse_unclear(templates, may_be_templates(templates), wishes.ignore, self.job.path)
        refuse_open(templates, wishes.allowance_mm, str(self.job.path))
        refuse_ignored_card(templates, wishes.ignore, self.job.path)
        if self._drawn_by_hand():
            self.note("block", [f"{self.job.path / LAYOUT} is yours, and used as it is."])
            return self._drawn()
        layouts = self._searched(templates)
        number = taken_number(layouts, wishes, templates, self.job.path)
        self._take(number, layouts, templates)
        if self.ask and wishes.layout is None and len(layouts) > 1:
            raise several_layouts(self.job.path)
        return self.layout()

    def _drawn(self) -> Block:
        """The block drawn by hand, and what of the wishes can't count for it."""
        self.refuse_other_size()
        measured = self.job.read(MEASURED) is not None
        self.note("block", drawn_by_hand(self.wishes, self.job.path / LAYOUT, measured=measured))
        return self.layout()

    def refuse_other_size(self) -> None:
        """UsageError ``block-drawn`` where the block drawn by hand is of another size than is wished for."""
        path = self.job.path
        refuse_other_size(self.wishes, self.layout(), self.units_of_job(), path / LAYOUT, path)

    def _drawn_by_hand(self) -> bool:
        """Whether there is a layout.json that was not made here; UsageError where another is asked for."""
        made = self.job.made("layout") is not None or self.job.read(LAYOUT) is None or self.force
        if not made and self.wishes.layout is not None:
            raise self.job.changed_by_hand([LAYOUT], "another layout is asked for")
        return not made

    def _searched(self, templates: TemplateSet) -> list[Block]:
        """All layouts that fit, the likeliest first: from the disk where nothing changed, else searched for."""
        wishes, units = self.wishes, self.units(templates)
        key = self.layouts_key(templates)
        if not self.stands("layouts", key):
            if (edited := self.job.edited("layout")) and not self.force:
                raise self.job.changed_by_hand(edited, "what it was made from has changed")
            self.begin("block")
            with self.stopping() as stop:
                layouts = assemble(
                    with_counts(templates, wishes),
                    **self.keys.asked_of_block(),
                    grid_mm=self._grid(templates),
                    picture=self._hint(),
                    seed=wishes.seed,
                    time_limit_s=wishes.time_limit_s,
                    tell=lambda text: self.tell(Progress("block", "begin", text)),
                    on_partial=self._keep_partial,
                    stop=stop,
                )
                if stop():
                    # Another run goes on looking: what was taken in haste is not what the search comes to.
                    key = f"{key} stopped"
                    self.note("block", ["The search was stopped. The same command again looks to the end."])
            files = {layout_name(rank): write_layout(block, units) for rank, block in enumerate(layouts, 1)}
            self.keep("layouts", key, files, [MEASURED])
            if self.job.made("partial"):
                self.keep("partial", "", {})
        layouts = tuple(self.layouts())
        names = [layout_name(number) for number in range(1, len(layouts) + 1)]
        key = self.keys.choices(self.title(), units)
        if not self.stands("choices", key):
            colours = self.named_wishes().colours
            drawn = choices_svg(layouts, title=self.title(), colours=colours, units=units)
            self.keep("choices", key, {"layouts.svg": drawn.encode()} if len(layouts) > 1 else {}, names)
        return list(layouts)

    def layouts_key(self, templates: TemplateSet) -> str:
        """What is said that bears on the search."""
        return self.keys.layouts(self.units(templates), self._picture())

    def layouts(self) -> list[Block]:
        """All layouts the job has, in the order of ``--layout``; none for a block drawn elsewhere."""
        layouts: list[Block] = []
        while (text := self.job.read(name := layout_name(len(layouts) + 1))) is not None:
            layouts.append(read_layout(text, str(self.job.path / name)))
        return layouts

    def _take(self, number: int, layouts: Sequence[Block], templates: TemplateSet) -> None:
        """Make one layout the job's, and write down in job.toml which one it is, if somebody chose it."""
        wishes, key, block = self.wishes, self.keys.layout(number), layouts[number - 1]
        if self.stands("layout", key, LAYOUT):
            self.kept("block")
        else:
            self.begin("block")
            content = self.needed(layout_name(number), "assemble")
            if wishes.turn or wishes.exchange:
                block = arranged(block, wishes.turn, wishes.exchange)
                content = write_layout(block, self.units(templates))
            self.keep("layout", key, {LAYOUT: content}, [layout_name(number)])
            size = size_text(block.width, block.height, self.units(templates))
            which = f"layout {number} of {len(layouts)}, " if wishes.layout is not None else ""
            self.done("block", f"{which}{size}, {counted(len(block.pieces), 'piece')}")
            self.note("block", [*block.warnings, *snapping(block, self._grid(templates))])
        if wishes.layout is not None:
            if wishes.layout != number:
                self.note("block", [f"The layout you took, number {wishes.layout} then, is number {number} now."])
            taken = taken_value(remembered(number, layouts[number - 1], templates))
            self.write_down({("layout",): number, ("taken",): taken})

    def _grid(self, templates: TemplateSet) -> float:
        """The grid to snap to, mm: as wished, else 1/16 in or 1 mm, whichever the lengths fit; 0 is none."""
        if self.wishes.snap_mm is not None:
            return self.wishes.snap_mm
        if templates.in_px:
            return 0.0
        return INCH / 16 if cut_by(templates, self.units(templates)) == "inch" else 1.0

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
        wishes = self.named_wishes()
        fabrics = fabrics_of(block, wishes.colours, wishes.fabrics)
        drawn = block_svg(block, None, title=f"{self.title()}, not finished", fabrics=fabrics)
        try:
            self.keep("partial", "", {PARTIAL: drawn.encode()})
        except InputError as error:  # somebody's own: the reason why there is no block counts more
            self.note("block", [error.what])
        else:
            self.note("block", [f"{self.job.path / PARTIAL} shows the fullest attempt."])

    def layout(self) -> Block:
        """Return the block the job has, assembled here or drawn elsewhere."""
        return read_layout(self.needed(LAYOUT, "assemble"), str(self.job.path / LAYOUT))

    # --- stage 4: sections, order, joins ---

    def section(self, block: Block) -> FoundationPlan:
        """Block to foundation plan: foundation.json."""
        units = self.units_of_job()
        check_names(self.named_wishes(), self.measured_if_any(), block, self.job.read(FILE))
        key = self.keys.foundation(units)
        if self.stands("foundation", key, FOUNDATION):
            self.kept("foundation")
        else:
            self.begin("foundation")
            plan = self._planned(block)
            self.keep("foundation", key, {FOUNDATION: write_foundation(plan)}, [LAYOUT])
            self.done("foundation", counted(sum(s.copies for s in plan.sections), "section"))
            self.note("foundation", summed_up(plan.advice))
        plan = self.plan()
        check_plan(plan, block, str(self.job.path / FOUNDATION))
        return plan

    def _planned(self, block: Block) -> FoundationPlan:
        """The plan of a block by the person's wishes."""
        wishes = self.named_wishes()
        return plan_foundation(
            block,
            prefer=wishes.prefer,
            pieced_start=wishes.pieced_start,
            cure=wishes.cure,
            never_cut=wishes.never_cut,
            room_mm=section_room(wishes.paper, wishes.seam_allowance_mm, wishes.print_scale),
            time_limit_s=wishes.time_limit_s,
            colours=wishes.colours,
            units=self.units_of_job(),
        )

    def plan(self) -> FoundationPlan:
        """Return the foundation plan the job has."""
        return read_foundation(self.needed(FOUNDATION, "section"), str(self.job.path / FOUNDATION))

    # --- stage 5: sheets ---

    def draw(self, block: Block, plan: FoundationPlan) -> None:
        """Foundation plan to everything that is printed, cut and looked at."""
        wishes, units, layouts = self.named_wishes(), self.units_of_job(), self.layouts()
        key = self.keys.sheets(self.title(), units)
        if self.stands("sheets", key):
            self.kept("sheets")
            return
        self.begin("sheets")
        templates = self.measured_if_any()
        if templates:
            templates = with_counts(with_card_notes(templates, wishes.counts), wishes)
        sources = [MEASURED, LAYOUT, FOUNDATION, *(layout_name(k + 1) for k in range(len(layouts)))]
        job_hash = self.job.hash_of(key, sources)[:8]
        files = sheet_files(
            templates, block, plan, wishes, title=self.title(), units=units, job_hash=job_hash,
            overlays=self._overlays(templates), rivals=self.rivals(layouts),
        )  # fmt: skip
        for width in wishes.more_sizes_mm:
            other = resized(block, width)
            files |= more_size_files(
                templates, other, self._planned(other), wishes, title=self.title(), units=units,
                job_hash=job_hash,
            )  # fmt: skip
        self.keep("sheets", key, signed(files, job_hash), sources)
        self.done("sheets", ", ".join(files))

    def rivals(self, layouts: Sequence[Block] | None = None) -> Rivals | None:
        """All layouts and which of them is drawn; None where it is the only one, or drawn or edited by hand."""
        layouts = self.layouts() if layouts is None else layouts
        texts = [self.job.read(layout_name(number)) for number in range(1, len(layouts) + 1)]
        taken = self.job.read(LAYOUT)
        if len(layouts) < 2 or taken not in texts:
            return None
        return Rivals(tuple(layouts), texts.index(taken) + 1, by_person=self.wishes.layout is not None)

    # --- what the stages share ---

    def title(self) -> str:
        """Return the title wished for, else the name of the job's folder."""
        return self.wishes.title or self.job.path.resolve().name

    def _overlays(self, templates: TemplateSet | None) -> dict[str, bytes]:
        names = [photo.name for photo in templates.photos] if templates else []
        found = {name: self.job.read(overlay_name(name)) for name in names}
        return {name: content for name, content in found.items() if content is not None}
