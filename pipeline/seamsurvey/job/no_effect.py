"""What is wished for and can't count in a job, because what it bears on was not made here: told, or refused."""

from collections.abc import Iterable, Sequence
from pathlib import Path

from seamsurvey.errors import UsageError, command
from seamsurvey.job.layout_file import size_text
from seamsurvey.job.wish_keys import KEYS
from seamsurvey.model import Block, TemplateSet, Wishes
from seamsurvey.plane import Plane

# Keys that bear on how a photo is measured, and on nothing else; an allowance is refused.
_OF_PHOTOS = (
    "reference", "templates_are", "scale_bar", "page_grid", "taken_with", "ruler", "ruler_length",
    "ruler_thickness", "target_bars", "thickness", "confirm", "drawn",
)  # fmt: skip
# Keys that bear on the search for a block, and on nothing else.
_OF_SEARCH = ("counts", "symmetry", "outline", "snap", "picture", "layout", "meets", "ignore")
_SAME_MM = 0.05  # sizes are told to a tenth of a millimetre


def measured_by_hand(wishes: Wishes, file: Path) -> list[str]:
    """What has no effect on templates that were not measured from a photo here."""
    return _told(wishes, _OF_PHOTOS, f"{file} was not measured from a photo that this job knows")


def drawn_by_hand(wishes: Wishes, file: Path, *, measured: bool) -> list[str]:
    """What has no effect on a block that was not assembled here, perhaps of templates that were ``measured``."""
    keys = _OF_SEARCH if measured else ("allowance", *_OF_PHOTOS, *_OF_SEARCH)
    return _told(wishes, keys, f"{file} is yours, and used as it is")


def of_photos(wishes: Wishes, planes: Sequence[Plane]) -> list[str]:
    """What has no effect because no photo shows what it is about."""
    seen = {reference.kind for plane in planes for reference in plane.references}
    told = []
    for kind, keys in (("ruler", ("ruler", "ruler_length", "ruler_thickness")), ("target", ("target_bars",))):
        if kind not in seen:
            told += _told(wishes, keys, f"No {kind} was measured by")
    return told


def refuse_allowance(wishes: Wishes, templates: TemplateSet, file: Path, folder: Path) -> None:
    """UsageError ``nothing-to-correct`` for an allowance that outlines written by hand can't be measured with."""
    said = wishes.allowance_mm
    known = [template for template in templates.templates if said != 0 or template.allowance_from != "open"]
    if said is None or all(abs(template.allowance_mm - said) < _SAME_MM for template in known):
        return
    raise UsageError(
        "nothing-to-correct",
        f"{file} was not measured from a photo that this job knows: its outlines are used as they are, and no"
        " allowance can be taken off them.",
        where="allowance in job.toml",
        likely="It was written by hand, and holds finished outlines.",
        todo=f"Take it back: {command('set', folder, 'allowance=')}. If the outlines are those of the cards with"
        " their allowance, write the finished ones in their place.",
    )


def refuse_other_size(wishes: Wishes, block: Block, units: str, file: Path, folder: Path) -> None:
    """UsageError ``block-drawn`` where a drawn block has not the finished size that is wished for."""
    wanted = (wishes.finish_mm, wishes.finish_height_mm)
    found = (block.width, block.height)
    if all(said is None or abs(said - size) < _SAME_MM for said, size in zip(wanted, found, strict=True)):
        return
    raise UsageError(
        "block-drawn",
        f"Another finished size is wished for, but {file} is yours, and used as it is: "
        f"{size_text(block.width, block.height, units)}.",
        where="finish in job.toml",
        likely="It was drawn elsewhere, or put there from another job.",
        todo=f"Draw it in the size that is wanted, or take that back: {command('set', folder, 'finish=')}",
    )


def _told(wishes: Wishes, keys: Iterable[str], why: str) -> list[str]:
    usual = Wishes()
    said = [key for key in keys if getattr(wishes, KEYS[key][0], None) != getattr(usual, KEYS[key][0], None)]
    if not said:
        return []
    return [f"{why}: {', '.join(said)} in job.toml {'has' if len(said) == 1 else 'have'} no effect."]
