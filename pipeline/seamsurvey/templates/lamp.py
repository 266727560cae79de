"""The one look of all edges of a photo: the lamp, the lens, the cards' height, told by all of them together."""

import math
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from typing import Any

import attrs
import numpy as np
from numpy.typing import NDArray

from seamsurvey.templates.look import LEAST_BLUR_PX, Look, at_height
from seamsurvey.templates.profiles import INDEPENDENT, EdgeProfile, explained, places_tried

Floats = NDArray[np.float64]

REACH_MM = 1.0  # a rough outline is right to this, with the cards' sides or without them
_DIRECTIONS = 12
_LENGTHS_MM = (0.35, 0.6, 1.0, 1.6)  # of a shadow for each mm of height: a lamp 71 to 32 degrees high
_CASTS = (0.35, 0.7)
_MOST_EDGES = 24  # so many edges tell lamp and lens well enough
# Misfits that count little at first, so that a shadow a little too long is a better guess than none; the rounds.
_FIRST_DOUBT, _DOUBT = 8.0, 1.0
_LENGTHS_FOLLOWED = 2  # of the shadow, for each depth of it
_ROUNDS = 3
# Each of the look's values: what it is expected to be, and one standard deviation of that (common practice, no
# source); between what limits it is looked for; and the first step to another, about half of what it differs by.
_VALUES = {
    "blur_px": (0.9, 0.35, LEAST_BLUR_PX, 3.5, 0.15),
    "sharpened": (0.3, 0.3, 0.0, 1.5, 0.2),
    "cast": (0.5, 0.2, 0.0, 0.9, 0.12),
    "soft": (0.25, 0.2, 0.05, 1.2, 0.1),
    "contact": (0.15, 0.15, 0.0, 0.6, 0.08),
    "near": (0.6, 0.3, 0.1, 1.5, 0.2),
    "side": (0.5, 0.2, 0.05, 1.1, 0.1),
    "side_lit": (0.0, 0.2, -0.3, 0.6, 0.15),
}
_HEIGHTS_MM = (0.05, 4.0)  # between these: a height is told, or supposed, with its deviation
_TURN_DEG, _STRETCH = 15.0, 1.25
_SIDES_TRIED = (-0.2, -0.1, 0.0, 0.1, 0.2)  # of the face's light: what a side may have where it shows wider
_MOST_SHADOW = 3.0  # mm for each mm of height: a lower lamp throws shadows from card to card


def find_look(profiles: Sequence[EdgeProfile], height_mm: float, height_sigma_mm: float) -> Look:
    """The look that explains most of the edges best, each wherever it lies within REACH_MM of its line."""
    start = Look(height=height_mm)
    if not profiles:
        return start
    few = [profiles[k] for k in np.unique(np.linspace(0, len(profiles) - 1, _MOST_EDGES).astype(int))]

    def cost(look: Look, doubt: float) -> float:
        return _misfit(few, look, doubt) + _surprise(look, height_mm, height_sigma_mm)

    def descend(look: Look, share: float, doubt: float) -> Look:
        least = cost(look, doubt)
        for step in _steps(share, height_sigma_mm):
            while (value := cost(ahead := step(look), doubt)) < least - 1e-6:
                look, least = ahead, value
        return look

    guesses = _guesses(start, lambda look: cost(look, _FIRST_DOUBT))
    followed = (descend(descend(look, 1.0, _FIRST_DOUBT), 1.0, _DOUBT) for look in guesses)
    best = min(followed, key=lambda look: cost(look, _DOUBT))
    for halved in range(1, _ROUNDS):
        best = descend(best, 0.5**halved, _DOUBT)
    return attrs.evolve(best, height_sigma=_height_sigma(few, best, height_sigma_mm))


def _height_sigma(profiles: Sequence[EdgeProfile], best: Look, told_mm: float) -> float:
    """One standard deviation of the look's height, mm: as it was told, less what the edges say of it.

    A height that is off by ``told_mm``, the side as light as it then seems, explains the edges so much worse: half
    the square of that in units of what they tell. Neighbouring values of a profile say nothing new.
    """
    share = INDEPENDENT / float(np.mean([len(profile.distance) for profile in profiles]))
    least = _misfit(profiles, best, _DOUBT)
    worse = []
    for by in (-told_mm, told_mm):
        other = at_height(best, float(np.clip(best.height + by, *_HEIGHTS_MM)))
        tried = (_moved(other, name="side", by=step) for step in _SIDES_TRIED)
        worse.append(max(0.0, min(_misfit(profiles, look, _DOUBT) for look in tried) - least))
    return told_mm / math.sqrt(1 + 2 * share * float(np.mean(worse)))


def _misfit(profiles: Sequence[EdgeProfile], look: Look, doubt: float) -> float:
    """How badly the look explains the edges; one that no look explains counts little more than another."""
    total = 0.0
    for profile in profiles:
        left = float(explained(profile, look, places_tried(profile, REACH_MM, look.height)).min())
        total += len(profile.distance) / 2 * math.log1p(left / doubt)
    return total


def _surprise(look: Look, height_mm: float, height_sigma_mm: float) -> float:
    values = attrs.asdict(look)
    off = [(values[name] - mean) / sigma for name, (mean, sigma, *_) in _VALUES.items()]
    off.append((look.height - height_mm) / height_sigma_mm)
    return 0.5 * float(np.sum(np.square(off)))


def _guesses(start: Look, cost: Callable[[Look], float]) -> list[Look]:
    """Looks to set out from, some of each depth of shadow.

    From a faint shadow no small steps lead to a deep one: on the way, every edge that was taken for its shadow's
    end would lie worse than at either. A shadow's direction is found from any other.
    """
    guesses = []
    for cast in _CASTS:
        best = (min(_lamps(start, length, cast), key=cost) for length in _LENGTHS_MM)
        guesses += sorted(best, key=cost)[:_LENGTHS_FOLLOWED]
    return guesses


def _lamps(start: Look, length: float, cast: float) -> Iterator[Look]:
    """Looks with a shadow of this length and depth, from all sides."""
    for turn in np.arange(_DIRECTIONS) * (2 * math.pi / _DIRECTIONS):
        yield attrs.evolve(start, cast=cast, shadow=(length * math.cos(turn), length * math.sin(turn)))


def _steps(share: float, height_sigma_mm: float) -> Iterator[Callable[[Look], Look]]:
    """Functions that lead from a look to one a little different, one value at a time, forth and back."""
    for turn in (_TURN_DEG * share, -_TURN_DEG * share):
        yield partial(_lit, turn_deg=turn, stretch=1.0)
    for stretch in (_STRETCH**share, _STRETCH**-share):
        yield partial(_lit, turn_deg=0.0, stretch=stretch)
    for name, step in (*((name, row[-1]) for name, row in _VALUES.items()), ("height", 0.7 * height_sigma_mm)):
        for by in (step * share, -step * share):
            yield partial(_moved, name=name, by=by)


def _lit(look: Look, turn_deg: float, stretch: float) -> Look:
    x, y = look.shadow
    length = min(math.hypot(x, y) * stretch, _MOST_SHADOW)
    turn = math.atan2(y, x) + math.radians(turn_deg)
    return attrs.evolve(look, shadow=(length * math.cos(turn), length * math.sin(turn)))


def _moved(look: Look, name: str, by: float) -> Look:
    low, high = _HEIGHTS_MM if name == "height" else _VALUES[name][2:4]
    moved: dict[str, Any] = {name: float(np.clip(getattr(look, name) + by, low, high))}
    return attrs.evolve(look, **moved)
