"""Real pictures by others: what lies in them found, named or lost, and their scale right, asked for or made up."""

import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from seamsurvey.errors import SeamsurveyError, UndecidedError
from seamsurvey.model import Picture, Plane, TemplateSet, Wishes
from seamsurvey.plane import BARE
from seamsurvey.steps import picture_of, plane_of
from seamsurvey.templates.measure import measure_templates
from tests.benchmarks.real_judge import (
    ASKED,
    CRASH,
    LOST,
    REFUSED,
    RIGHT,
    TAKEN,
    TOLD,
    UNCHECKED,
    WRONG,
    Judged,
    as_expected,
    judge,
    scale_of,
)
from tests.benchmarks.real_truth import KINDS, MEASURED, STRAIGHT, THING, RealTruth, read_truths
from tests.benchmarks.table import Table

OTHERS = tuple(kind for kind in KINDS if kind not in (STRAIGHT, THING))
FATES = (RIGHT, WRONG, TAKEN, TOLD, LOST, REFUSED, CRASH)
COLUMNS = (
    *("picture", "scale expected", "scale", "with a word"),
    *("straight pieces", "other pieces", "made up", "things", "said"),
)


@dataclass(frozen=True)
class Outcome:
    """What became of one picture; ``judged`` is None where the folder has none of this name and content."""

    truth: RealTruth
    scale: str = ""
    judged: Judged | None = None
    said: str = ""
    worded: str = ""  # how its scale came out with the truth's word
    worded_said: str = ""


def real_photos(folder: Path) -> Table:
    """Every picture of the folder, measured as a person would who tells nothing, once with its scale, once without.

    Its pieces are measured in the plane that its references give, and without a scale where there is none or the
    tool asks or refuses.
    """
    outcomes = []
    for truth in read_truths(folder):
        outcomes.append(outcome_of(truth, folder))
        print(" | ".join(_row(outcomes[-1])), file=sys.stderr, flush=True)
    there = [each for each in outcomes if each.judged]
    rows = [_row(each) for each in outcomes]
    fates = [_fates(there, STRAIGHT), _fates(there, *OTHERS)]
    rows.append(["**all**", "", _scales(there), _worded(there), *fates, *_totals(there), ""])
    about = (
        "Real photos and scans by others, on which nothing was tuned; tests/benchmarks/real_photos.json says where "
        "each was published, and what lies in it, read by eye. A piece is right where a template overlaps it "
        "by more than 0.9 and has as many edges; wrong where one was meant for it and is not right; taken for a "
        "reference where the scale comes from it; named where something left out lies there; lost where nothing is "
        "said; refused with the whole picture. Other pieces are curved, touching, partly hidden or solid. A thing "
        "is no card, and may be measured or not. A scale is right within 2 %, and wrong also where the picture "
        "tells none; (!) marks what was not expected. The word is what a person would say who knows what lies "
        "there; with it the scale should be measured."
    )
    command = ".venv/bin/python -m tests.benchmarks real-photos --pictures FOLDER"
    return Table("Real pictures by others", command, about, COLUMNS, rows, _summary(there))


def outcome_of(truth: RealTruth, folder: Path) -> Outcome:
    """One picture through stages 1 and 2; whatever is raised is an outcome."""
    content = truth.content(folder)
    if content is None:
        return Outcome(truth, said=f"not in the folder: {truth.source}")
    scale = worded = CRASH
    worded_said = ""
    try:
        picture = picture_of(truth.file, content)
        if truth.word:
            _, worded, worded_said = _scale(truth, picture, truth.wishes)
        plane, scale, said = _scale(truth, picture, Wishes())
        found, refusal = _found(picture, plane or plane_of(picture, Wishes(reference="none")))
    except Exception as error:  # a crash is an outcome too
        what = f"{type(error).__name__}: {error}"[:80]
        return Outcome(truth, scale, _all_alike(truth, CRASH), what, worded, worded_said)
    said = "; ".join(part for part in (said, refusal) if part)
    if found is None:
        return Outcome(truth, scale, _all_alike(truth, REFUSED), said, worded, worded_said)
    judged = judge(
        truth.lying,
        [template.corners_px for template in found.templates],
        [each.outline_px for each in found.left_out],
        [reference.outline_px for reference in plane.references] if plane else (),
    )
    return Outcome(truth, scale, judged, said, worded, worded_said)


def _scale(truth: RealTruth, picture: Picture, wishes: Wishes) -> tuple[Plane | None, str, str]:
    """The plane where the tool gives one, how its scale came out, and how far off it is or why there is none."""
    try:
        plane = plane_of(picture, wishes)
    except SeamsurveyError as error:
        refusal = ASKED if isinstance(error, UndecidedError) else REFUSED
        return None, scale_of(truth, None, refusal), error.code
    if truth.known is None:
        return plane, scale_of(truth, None), ", ".join(sorted({each.kind for each in plane.references}))
    ends = plane.to_mm(truth.known.points)
    distance_mm = float(np.hypot(*(ends[1] - ends[0])))
    return plane, scale_of(truth, distance_mm), f"off by {distance_mm / truth.known.mm - 1:+.2%}"


def _found(picture: Picture, plane: Plane) -> tuple[TemplateSet | None, str]:
    allowance_mm = None if plane.kind == BARE else 0.0
    try:
        return measure_templates([(picture, plane)], allowance_mm=allowance_mm, every_card=True), ""
    except SeamsurveyError as error:
        return None, error.code


def _all_alike(truth: RealTruth, fate: str) -> Judged:
    return Judged(["" if each.kind == THING else fate for each in truth.lying], 0)


def _row(outcome: Outcome) -> list[str]:
    truth, judged = outcome.truth, outcome.judged
    name = truth.file.rpartition(".")[0].replace("_", " ")
    if judged is None:
        return [name, truth.expect, *6 * ["–"], outcome.said]
    against = "" if as_expected(truth.expect, outcome.scale) else " (!)"
    unmet = "" if as_expected(MEASURED, outcome.worded) else " (!)"
    worded = f"{outcome.worded}{unmet}: `{truth.word}`, {outcome.worded_said}" if truth.word else "–"
    pieces = [_fates([outcome], STRAIGHT), _fates([outcome], *OTHERS)]
    return [name, truth.expect, outcome.scale + against, worded, *pieces, *_totals([outcome]), outcome.said]


def _fates(outcomes: Sequence[Outcome], *kinds: str) -> str:
    """The fates of the pieces of these kinds, counted: 4 right, 1 lost."""
    counts = {
        fate: sum(each.judged.count(fate, each.truth.lying, *kinds) for each in outcomes if each.judged)
        for fate in FATES
    }
    return ", ".join(f"{count} {fate}" for fate, count in counts.items() if count) or "–"


def _totals(outcomes: Sequence[Outcome]) -> tuple[str, str]:
    judged = [each.judged for each in outcomes if each.judged]
    return str(sum(each.made_up for each in judged)), str(sum(each.things for each in judged))


def _worded(outcomes: Sequence[Outcome]) -> str:
    return _counted([each.worded for each in outcomes if each.truth.word])


def _scales(outcomes: Sequence[Outcome]) -> str:
    return _counted([each.scale for each in outcomes])


def _counted(scales: Sequence[str]) -> str:
    kinds = (RIGHT, UNCHECKED, ASKED, REFUSED, WRONG, CRASH)
    return ", ".join(f"{scales.count(kind)} {kind}" for kind in kinds if kind in scales)


def _summary(outcomes: Sequence[Outcome]) -> str:
    tells = [each for each in outcomes if each.truth.expect == MEASURED or each.truth.word]
    straight = sum(piece.kind == STRAIGHT for each in outcomes for piece in each.truth.lying)
    refused = sum(REFUSED in each.judged.fates for each in outcomes if each.judged)
    return (
        f"{len(outcomes)} pictures. Of {len(tells)} that tell their scale, by themselves or to one who says a "
        f"word, it is {_scales(tells) or 'none'} with no word, {_worded(tells) or 'none'} with it; "
        f"of the others, {_scales([each for each in outcomes if each not in tells]) or 'none'}. "
        f"Of {straight} straight pieces: {_fates(outcomes, STRAIGHT)}; "
        f"of those that are curved, touching, hidden or solid: {_fates(outcomes, *OTHERS)}. "
        f"{_totals(outcomes)[0]} templates made up; {refused} pictures with pieces refused as a whole."
    )
