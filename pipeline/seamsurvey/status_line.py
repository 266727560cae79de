"""How a job stands: what is fresh, what would be done again and why, and what waits for an answer."""

from collections.abc import Callable, Sequence

from attrs import frozen

from seamsurvey.convert import Line
from seamsurvey.errors import SeamsurveyError, command
from seamsurvey.job.folder import State
from seamsurvey.job.inputs import PhotoFile
from seamsurvey.job.said import size_unknown, with_counts
from seamsurvey.job.taken import taken_number
from seamsurvey.job.unclear import refuse_ignored_card, refuse_unclear
from seamsurvey.model import TemplateSet
from seamsurvey.sheets.rivals import others_fit
from seamsurvey.stage_keys import FOUNDATION, LAYOUT, MEASURED, layout_name
from seamsurvey.templates.allowance import refuse_open
from seamsurvey.templates.cards import may_be_templates

# What a person knows each stage by.
CALLED = {"measured": "templates", "layout": "block", "foundation": "sections", "sheets": "sheets"}


@frozen
class Standing:
    """One stage: whether it would be done again, and in half a sentence why, or how it stands."""

    name: str  # "measured", "layout", "foundation", "sheets"
    state: State
    why: str = ""

    @property
    def again(self) -> bool:
        """Whether the next run does it again."""
        return self.state in (State.STALE, State.CONFLICT)


def standings(line: Line, photos: Sequence[PhotoFile] = ()) -> list[Standing]:
    """Every stage of a job in the order of the work; ``photos`` are those that are named now."""
    found: list[Standing] = []
    measured = _measured(line, photos)
    if measured is not None:
        found.append(measured)
    for name, work in (("layout", _layout), ("foundation", _foundation), ("sheets", _sheets)):
        before = next((one for one in found if one.again), None)
        found.append(_after(line, name, before) if before else work(line))
    return found


@frozen
class Waiting:
    """What waits for a person's answer: an error that stops the job, or only other layouts that fit."""

    code: str
    what: str
    todo: str


def waiting(line: Line) -> list[Waiting]:
    """The answers that are missing, as far as the job has come."""
    found: list[Waiting] = []
    if line.job.made("layout") is None and line.job.read(LAYOUT) is not None:
        found += _waiting_for(line.refuse_other_size)
    if line.job.read(MEASURED) is None:
        return found
    templates, photos, folder = line.measured(), line.photos(), line.job.path
    if templates.in_px and line.wishes.finish_mm is None:
        found.append(_asked(size_unknown(folder)))
    checks: list[Callable[[], object]] = [
        lambda: None if photos else line.refuse_by_hand(templates),
        # Before they are measured again nobody knows what the templates will be called.
        lambda: None if photos and not line.is_measured(photos) else with_counts(templates, line.wishes),
        lambda: refuse_open(templates, line.wishes.allowance_mm, str(folder)),
        lambda: None if photos and not line.is_measured(photos) else _refuse_doubtful(line, templates),
    ]
    found += [one for check in checks for one in _waiting_for(check)]
    rivals = line.rivals()
    if rivals is not None and not rivals.by_person:
        again = command("convert", "--into", folder, "--layout", rivals.others[0])
        todo = f"If it is not your block: {again}"
        found.append(Waiting("others-fit", f"{others_fit(rivals)}; layouts.svg shows them.", todo))
    return found


def _refuse_doubtful(line: Line, templates: TemplateSet) -> None:
    refuse_unclear(templates, may_be_templates(templates), line.wishes.ignore, line.job.path)
    refuse_ignored_card(templates, line.wishes.ignore, line.job.path)


def _waiting_for(check: Callable[[], object]) -> list[Waiting]:
    """What a check stops at, if it does."""
    try:
        check()
    except SeamsurveyError as error:
        return [_asked(error)]
    return []


def _asked(error: SeamsurveyError) -> Waiting:
    return Waiting(error.code, error.what, error.todo)


def _after(line: Line, name: str, before: Standing) -> Standing:
    edited = [each for stage in _PARTS[name] for each in line.job.edited(stage)]
    if edited and not line.force:
        return Standing(
            name, State.CONFLICT, f"{', '.join(edited)} changed by hand, and the {CALLED[before.name]} will change"
        )
    return Standing(name, State.STALE, f"after the {CALLED[before.name]}")


_PARTS = {"layout": ("layouts", "layout"), "foundation": ("foundation",), "sheets": ("sheets",)}


def _measured(line: Line, given: Sequence[PhotoFile]) -> Standing | None:
    photos = given or line.photos()
    made = line.job.made("measured")
    if not photos and line.job.read(MEASURED) is None:
        return None
    if not photos or (made is None and not given and line.job.read(MEASURED) is not None and not line.force):
        return Standing("measured", State.FOREIGN, "by hand")
    key = line.keys.measured(photos)
    lost = [photo.name for photo in photos if photo.gone]
    if lost and made is not None and made.key == key:
        return Standing("measured", State.FRESH, f"{', '.join(lost)} is gone, and not needed as things are")
    known = dict(made.photos) if made else {}
    other = [photo.name for photo in photos if known.get(photo.name, photo.sha256) != photo.sha256]
    why = f"{', '.join(other)} is another picture now" if other else ""
    return _standing(line, "measured", "measured", key, MEASURED, why)


def _layout(line: Line) -> Standing:
    if line.job.read(MEASURED) is None:
        return Standing("layout", State.FOREIGN if line.job.read(LAYOUT) is not None else State.STALE)
    if line.job.made("layout") is None and line.job.read(LAYOUT) is not None and not line.force:
        return Standing("layout", State.FOREIGN, "by hand")
    templates = line.measured()
    searched = _standing(line, "layout", "layouts", line.layouts_key(templates), None)
    if searched.again:
        return searched
    try:
        number = taken_number(line.layouts(), line.wishes, templates, line.job.path)
    except SeamsurveyError as error:
        return Standing("layout", State.STALE, error.what)
    return _standing(line, "layout", "layout", line.keys.layout(number), LAYOUT, f"{layout_name(number)} is taken")


def _foundation(line: Line) -> Standing:
    return _standing(line, "foundation", "foundation", line.keys.foundation(line.units_of_job()), FOUNDATION)


def _sheets(line: Line) -> Standing:
    return _standing(line, "sheets", "sheets", line.keys.sheets(line.title(), line.units_of_job()), None)


def _standing(line: Line, name: str, stage: str, key: str, main: str | None, why: str = "") -> Standing:
    state = State.STALE if line.force else line.state(stage, key, main)
    edited = ", ".join(line.job.edited(stage))
    made = line.job.made(stage)
    words = {
        State.FRESH: "",
        State.FOREIGN: "by hand",
        State.EDITED: f"{edited} changed by hand",
        State.CONFLICT: f"{edited} changed by hand, and to be made anew",
        State.STALE: why or ("not made yet" if made is None else "something that bears on it has changed"),
    }
    return Standing(name, state, words[state])
