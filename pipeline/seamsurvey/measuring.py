"""Stages 1 and 2 of a job: its photos, looked at again when something that bears on them has changed."""

from collections.abc import Callable, Sequence
from functools import partial
from typing import Self

from attrs import evolve, frozen

from seamsurvey.block.assemble import assemble
from seamsurvey.errors import InputError, UsageError, command
from seamsurvey.job.corrections import drawn_value
from seamsurvey.job.folder import State
from seamsurvey.job.inputs import PhotoFile
from seamsurvey.job.measured_file import read_measured, write_measured
from seamsurvey.job.no_effect import measured_by_hand, of_photos, refuse_allowance
from seamsurvey.job.own_photos import gone, own_photos, path_text, photo_gone
from seamsurvey.job.said import counted, in_names_now, overlay_name, with_counts
from seamsurvey.job.unclear import belongs_text, nothing_numbered, places_of, unanswered
from seamsurvey.model import Corrections, TemplateSet, Wishes
from seamsurvey.sheets.overlay import overlay_png
from seamsurvey.stage_keys import MEASURED
from seamsurvey.stages import Stages
from seamsurvey.steps import judged, picture_of, plane_of, units_of
from seamsurvey.templates.card_notes import with_card_notes
from seamsurvey.templates.cards import UNCLEAR, may_be_templates
from seamsurvey.templates.hypotheses import Closing, closing_of, is_of_one_set
from seamsurvey.templates.measure import measure_templates

_KNOWN_S = 2.0  # a known block is seen at a glance


@frozen
class Measuring(Stages):
    """From the photos that are given or known, or from measurements by hand, to the templates."""

    def measure(self, given: Sequence[PhotoFile] = ()) -> TemplateSet:
        """Photos to templates: measured.json and a picture of what was found in each photo.

        Without photos ``given`` those that the job knows count, or what was measured by hand.
        """
        photos = given or self.photos()
        if not photos:
            return self._by_hand()
        key = self.keys.measured(photos)
        if self._measured_stands(key, photos, by_name=bool(given)):
            self.kept("photo", "templates")
        else:
            if lost := [photo for photo in photos if photo.gone]:
                raise photo_gone(lost, self.job.path)
            self._measure_anew(key, photos)
        self._keep_places()
        if given and all(photo.path for photo in given):
            paths = [path_text(photo.path, self.job.path) for photo in given if photo.path]
            self.write_down({("photos",): paths})
        return self.measured()

    def placed(self) -> Self:
        """The same with a place for each number of what a person confirms or ignores: measuring may number anew.

        The numbers are those of the overlay that the job has. UsageError ``no-such-thing``.
        """
        wishes = self.wishes
        if not any(said.isdecimal() for said in (*wishes.confirm, *wishes.ignore)):
            return self
        seen = self.measured_if_any()
        if seen is None:
            if any(said.isdecimal() for said in wishes.confirm):
                raise nothing_numbered()
            return self
        confirm, ignore = (places_of(seen, said) for said in (wishes.confirm, wishes.ignore))
        return evolve(self, wishes=evolve(wishes, confirm=confirm, ignore=ignore))

    def _keep_places(self) -> None:
        """What was said of things in the photos into job.toml, by their places, once it has been of use."""
        said = {"confirm": list(self.wishes.confirm), "drawn": drawn_value(self.wishes.drawn),
                "ignore": list(self.wishes.ignore)}  # fmt: skip
        self.write_down({(key,): value for key, value in said.items() if value})

    def is_measured(self, photos: Sequence[PhotoFile]) -> bool:
        """Whether the templates in the job are those of these photos, measured as it is wished for now."""
        return self.state("measured", self.keys.measured(photos), MEASURED) in (State.FRESH, State.EDITED)

    def photos(self) -> list[PhotoFile]:
        """The photos that the job knows, read; one that is gone has no content."""
        made = self.job.made("measured")
        known = made.photos if made else ()
        if self.wishes.photos:
            return own_photos(self.job.path, self.wishes.photos, known)
        return [gone(name, digest) for name, digest in known]

    def _measured_stands(self, key: str, photos: Sequence[PhotoFile], *, by_name: bool) -> bool:
        """Whether the templates stand as they are; says what became of the photos."""
        made = self.job.made("measured")
        lost = [photo for photo in photos if photo.gone]
        if made is None and not by_name and not self.force and self.job.read(MEASURED) is not None:
            self.note("templates", [f"{MEASURED} is used as it is: nothing tells how it was made."])
            return True
        if made is None and by_name and not self.force and self.job.read(MEASURED) is not None:
            raise self.job.changed_by_hand([MEASURED], "photos are to be measured into it")
        if lost and made is not None and made.key == key:
            places = ", ".join(str(photo.path or photo.name) for photo in lost)
            self.note("photo", [f"{places}: not there any more. What was measured in it is used."])
            return True
        known = dict(made.photos) if made else {}
        changed = [p.name for p in photos if known.get(p.name, p.sha256) != p.sha256]
        self.note("photo", [f"{name} is another picture now than when it was measured." for name in changed])
        return self.stands("measured", key, MEASURED)

    def _measure_anew(self, key: str, photos: Sequence[PhotoFile]) -> None:
        wishes = self.wishes
        self.begin("photo")
        pictures = [picture_of(photo.name, photo.content) for photo in photos]
        planes = [plane_of(picture, wishes) for picture in pictures]
        seen = [reference.graduation for plane in planes for reference in plane.references]
        self.done("photo", "; ".join(seen) or "no scale")

        self.begin("templates")
        measured = partial(
            measure_templates,
            list(zip(pictures, planes, strict=True)),
            allowance_mm=wishes.allowance_mm,
            thickness_mm=wishes.thickness_mm,
            templates_are=wishes.templates_are,
            page_measures=(wishes.scale_bar_mm, wishes.page_grid_mm),
            # Where the allowance is known they bear on nothing here; changed, they are no reason to measure again.
            counts=wishes.counts if wishes.allowance_mm is None else {},
            closes=self._closes,
            writing=wishes.cards == "read",
        )
        templates, belong = self._what_belongs(measured(corrections=wishes.corrections), measured)
        if belong:  # as if a person had confirmed them: what is said of them later finds them
            confirm = (*wishes.confirm, *belong)
            key = evolve(self, wishes=evolve(wishes, confirm=confirm)).keys.measured(photos)
            self.write_down({("confirm",): list(confirm)})
        templates = judged(templates, pictures)
        units, asked = self.units(templates), may_be_templates(templates)
        overlays = {
            overlay_name(photo.name): overlay_png(picture, index, templates, units=units, asked=asked)
            for index, (photo, picture) in enumerate(zip(templates.photos, pictures, strict=True))
        }
        self.keep(
            "measured", key, {MEASURED: write_measured(templates, units), **overlays},
            photos=[(photo.name, photo.sha256) for photo in photos],
        )  # fmt: skip
        self.done("templates", counted(len(templates.templates), "template"))
        self.note("photo", [warning for photo in templates.photos for warning in photo.warnings])
        noted = with_card_notes(templates, wishes.counts).warnings
        self.note("templates", [*noted, *of_photos(wishes, planes)])

    def _what_belongs(
        self, templates: TemplateSet, measured: Callable[..., TemplateSet]
    ) -> tuple[TemplateSet, tuple[str, ...]]:
        """The set with all that may be templates, and their places, where that makes a block that closes.

        Nobody need be asked then: no blot of a print has the shape and size that a block lacks. Else the set as it
        is, and no place.
        """
        asked = unanswered(templates, may_be_templates(templates), self.wishes.ignore)
        if not asked or any(templates.left_out[k].why != UNCLEAR for k in asked):
            return templates, ()
        said = self.wishes.corrections or Corrections()
        places = places_of(templates, [str(k + 1) for k in asked])
        try:
            more = measured(corrections=evolve(said, confirmed=(*said.confirmed, *places)))
        except (InputError, UsageError):
            return templates, ()
        left = unanswered(more, may_be_templates(more), self.wishes.ignore)
        closing = None if left else self._closes(more, _KNOWN_S)
        if closing is None or not is_of_one_set(closing):
            return templates, ()
        text = belongs_text(more, places, closing.known, self.job.path)
        return evolve(more, warnings=(*more.warnings, text)), places

    def _by_hand(self) -> TemplateSet:
        templates = self.measured()
        self.refuse_by_hand(templates)
        self.note("templates", measured_by_hand(self.wishes, self.job.path / MEASURED))
        return templates

    def refuse_by_hand(self, templates: TemplateSet) -> None:
        """UsageError ``nothing-to-correct`` for what can't be done to templates without their photos."""
        refuse_allowance(self.wishes, templates, self.job.path / MEASURED, self.job.path)
        if self.wishes.corrections:
            raise UsageError(
                "nothing-to-correct",
                f"{self.job.path / MEASURED} was not measured from a photo that this job knows, so that there is"
                " nothing for job.toml to correct.",
                where="[templates], merge, split, confirm and drawn in job.toml",
                likely="It was written by hand, or by an earlier version of this program.",
                todo=f"Correct it in {MEASURED} itself and take these lines out; or name the photo once: "
                f"{command('convert', 'PHOTO', '--into', self.job.path)}",
            )

    def measured(self) -> TemplateSet:
        """Return the templates the job has, from a photo or written by hand."""
        text = self.needed(MEASURED, "measure", "PHOTO", "--into")
        return read_measured(text, str(self.job.path / MEASURED))

    def measured_if_any(self) -> TemplateSet | None:
        """Return the templates the job has; None for a block drawn elsewhere."""
        return self.measured() if self.job.read(MEASURED) is not None else None

    def named_wishes(self) -> Wishes:
        """Return the wishes by the names that the job's templates have now."""
        return in_names_now(self.wishes, self.measured_if_any())

    def _closes(self, templates: TemplateSet, seconds: float) -> Closing | None:
        """How the likeliest block of a set closes; None where none is found in the time."""
        try:
            counted = with_counts(templates, self.wishes)
            blocks = assemble(counted, **self.keys.asked_of_block(), time_limit_s=seconds)
        except InputError:
            return None
        return closing_of(blocks[0])

    def units(self, templates: TemplateSet | None) -> str:
        """Return "inch" or "mm": see `units_of`."""
        return units_of(templates, self.wishes)

    def units_of_job(self) -> str:
        """Return "inch" or "mm" as the job's templates have it."""
        return self.units(self.measured_if_any())
