"""Which of the candidates are cards: each gets a chance by what was learned; the likeliest that fit are taken."""

import cv2
import numpy as np
from attrs import frozen
from numpy.typing import NDArray

from seamsurvey.sight.candidates import Candidate, Points, area_of, candidates
from seamsurvey.sight.evidence import Evidence, maps, session
from seamsurvey.sight.traits import LARGER, traits

SURE = 0.5  # likelier a card than not
_OVERLAP = 0.1  # of the smaller: cards lie beside one another
_WITHIN = 0.95  # of its area: what lies in another
_MAY_BE = 0.25  # chance: less is a blot
_CLEAR = 2.0  # px: a border that runs along a card's own is the same, drawn less well


@frozen(eq=False)
class Sighted:
    """A card: its outline (n, 2) in *image* px, clockwise on the screen, and how likely it is one."""

    outline: Points
    chance: float


def chances(rows: NDArray[np.float32]) -> NDArray[np.float64]:
    """How likely each row of `traits` is a card's outline to within a tenth of its area: (n,)."""
    if not len(rows):
        return np.zeros(0)
    (score,) = session("chooser.onnx").run(None, {"traits": np.ascontiguousarray(rows, np.float32)})
    return np.asarray(1 / (1 + np.exp(-score[:, 0].astype(float))))


def _common(a: Points, b: Points) -> float:
    """Area that two outlines have in common, in px (to a px or so)."""
    low, high = np.maximum(a.min(0), b.min(0)), np.minimum(a.max(0), b.max(0))
    if (high <= low).any():
        return 0.0
    size = np.ceil(high - low).astype(int) + 1
    masks = []
    for outline in (a, b):
        mask = np.zeros((int(size[1]), int(size[0])), np.uint8)
        cv2.fillPoly(mask, [np.rint((outline - low) * 16).astype(np.int32)], 1, shift=4)
        masks.append(mask)
    return float((masks[0] & masks[1]).sum())


def fitting(found: list[Candidate], chance: NDArray[np.float64], least: float = SURE) -> list[int]:
    """Numbers of the candidates taken, the surest first: none below `least`, none over another.

    Where a card is sure, and so is one thing in it, the thing is printed on it: cards lie on no cards.
    """
    taken: list[int] = []
    for i in np.argsort(-chance, kind="stable"):
        if chance[i] < least:
            break
        if not lies_over(found[i], [found[j] for j in taken]):
            taken.append(_bearer(int(i), taken, found, chance))
    return taken


def _bearer(i: int, taken: list[int], found: list[Candidate], chance: NDArray[np.float64]) -> int:
    """The number of the sure card that candidate `i` is printed on; `i` itself where there is none."""
    area = area_of(found[i].outline)
    others = [found[j] for j in taken]
    for j in np.flatnonzero(chance >= SURE):
        if (
            area_of(found[j].outline) > LARGER * area
            and _clear_of(found[i].outline, found[j].outline)
            and not lies_over(found[j], others)
            and not _holds_another(int(j), i, found, chance)
        ):
            return int(j)
    return i


def _clear_of(one: Points, other: Points) -> bool:
    """Whether an outline lies within another all round, nowhere along it."""
    ring = other.astype(np.float32)
    return all(cv2.pointPolygonTest(ring, (float(x), float(y)), measureDist=True) > _CLEAR for x, y in one[::2])


def _holds_another(holder: int, i: int, found: list[Candidate], chance: NDArray[np.float64]) -> bool:
    """Whether something else that may be a card lies in `holder` beside `i`: then they lie on it, a sheet."""
    return any(
        chance[k] >= _MAY_BE
        and k not in (holder, i)
        and _common(found[k].outline, found[holder].outline) > _WITHIN * area_of(found[k].outline)
        and not lies_over(found[k], [found[i]])
        for k in range(len(found))
    )


def lies_over(one: Candidate, others: list[Candidate]) -> bool:
    """Whether a tenth of it, or of another, lies on the other."""
    area = area_of(one.outline)
    return any(
        _common(one.outline, other.outline) > _OVERLAP * min(area, area_of(other.outline)) for other in others
    )


def choose(evidence: Evidence, least: float = SURE) -> list[Sighted]:
    """The cards of a picture, the surest first, in *image* px."""
    found = candidates(evidence)
    chance = chances(traits(evidence, found))
    return [Sighted(evidence.to_image(found[i].outline), float(chance[i])) for i in fitting(found, chance, least)]


def cards(picture: NDArray[np.uint8], least: float = SURE) -> list[Sighted]:
    """The cards in `picture` ((h, w, 3) uint8, sRGB, upright), the surest first, in *image* px.

    `least`: how likely one must be to be named. Raises TypeError when it is no such array.
    """
    return choose(maps(picture), least)
