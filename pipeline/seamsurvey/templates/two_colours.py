"""A face of two plain colours that meet in one straight line: two cards side by side, or one cut from a box.

Nothing in the picture tells the two apart, so that a person is asked. A shadow's border parts a face so as well,
but takes as much light off what the card lies on.
"""

import cv2
import numpy as np

from seamsurvey.model import Picture, Plane
from seamsurvey.templates.masks import Floats, Mask, disc
from seamsurvey.templates.own_colour import coarse_around

_RIM_MM = 1.0  # where a face's border is blurred into what lies round it
_SIDE_MM = 4.0  # a card's side and its own shadow reach no farther
_LEAST_PART = 0.1  # of the face: a smaller part is print
_IN_LINE = 0.97  # of the face lies on its own colour's side of the line: the rest is writing
_APART = 4.0  # spreads of either colour that lie between the two
_LEAST_POINTS = 100


def parted_by_colour(picture: Picture, outline: Floats, plane: Plane) -> bool:
    """Whether one straight line parts what an outline (n, 2) image px holds into two plain colours."""
    light, blob, _, _, per_mm = coarse_around(picture, outline, plane)
    rows, columns = np.nonzero(cv2.erode(blob, disc(_RIM_MM * per_mm), borderValue=0))
    if len(rows) < _LEAST_POINTS:
        return False
    few = np.s_[:: max(1, len(rows) // 4000)]
    at, colour = np.column_stack([columns, rows])[few].astype(float), light[rows, columns][few]
    one = _of_two(colour)
    if not _LEAST_PART < one.mean() < 1 - _LEAST_PART:
        return False
    apart = np.median(colour[one], axis=0) - np.median(colour[~one], axis=0)
    size = float(np.linalg.norm(apart))
    along = colour @ (apart / size)
    spreads = [1.4826 * float(np.median(np.abs(along[part] - np.median(along[part])))) for part in (one, ~one)]
    normal, place, share = _line_between(at, one)
    if size < _APART * max(spreads) or share < _IN_LINE:
        return False
    rows, columns = np.nonzero(cv2.dilate(blob, disc(_SIDE_MM * per_mm)) == 0)
    beyond = np.column_stack([columns, rows]) @ normal > place
    if min(beyond.sum(), (~beyond).sum()) < _LEAST_POINTS:
        return True
    ground = light[rows, columns]
    step = np.median(ground[beyond], axis=0) - np.median(ground[~beyond], axis=0)
    return bool(step @ apart < 0.5 * size**2)


def _of_two(colour: Floats) -> Mask:
    """(n,) which of two colours each is nearer to: the two means that Lloyd's way (1982) comes to."""
    middle = colour.mean(axis=0)
    _, _, ways = np.linalg.svd(colour - middle, full_matrices=False)
    one = np.asarray((colour - middle) @ ways[0] > 0)
    for _ in range(20):
        if not one.any() or one.all():
            return one
        means = np.array([colour[part].mean(axis=0) for part in (one, ~one)])
        far = np.linalg.norm(colour[:, None] - means, axis=2)
        again = np.asarray(far[:, 0] < far[:, 1])
        if np.array_equal(again, one):
            break
        one = again
    return one


def _line_between(at: Floats, one: Mask) -> tuple[Floats, float, float]:
    """The straight line that parts points (n, 2) best: ``x @ normal > place`` is the ``one`` part's side of it.

    And what share lies on its own side. The normal is Fisher's discriminant (1936).
    """
    parts = at[one], at[~one]
    within = sum(np.cov(part.T) * len(part) for part in parts) / len(at)
    normal = np.linalg.solve(within, parts[0].mean(axis=0) - parts[1].mean(axis=0))
    places = at @ normal
    order = np.argsort(places)
    right = int(one.sum()) + np.concatenate([[0], np.cumsum(np.where(one[order], -1, 1))])
    best = int(np.argmax(right))
    return normal, float(places[order[max(best - 1, 0)]]), float(right[best]) / len(at)
