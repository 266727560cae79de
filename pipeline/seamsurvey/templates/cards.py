"""What a card is, roughly, and why a thing that was seen is none or could not be measured."""

from collections.abc import Sequence

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray
from shapely import Polygon

from seamsurvey.model import LeftOut, Picture, Plane, TemplateSet

Floats = NDArray[np.float64]

AT_BORDER = "it runs off the picture"
CUT_OFF = "it runs off the picture, so its size can't be known"  # of what likely is a card
TOUCHING = "something else touches it, or lies too near"
NO_ROOM = "it has no room for the allowance that the others show"
SIDE_BY_SIDE = "it may be two cards side by side"
NOT_ITS_SHAPE = "its edges do not add up to its shape"
HARDLY_KNOWN = "its edges wander so much that its size is hardly known"
TOO_SMALL = ("it is too small for a template", "it is too narrow for a template")
BEYOND = "by its place it can't lie on the table: the camera as measured sees none there"
HARDLY = "it looks like card, but its outline is hardly a template's"
UNCLEAR = "it may be a template, or part of what lies there or of what it lies on"
ROUND = "it is round: without a corner no edge has a beginning"
FRAME = "it is a border round other outlines"
WITHIN = "it lies inside another template"
EXCLUDED = "job.toml excludes it"
# A coin, a hand or the table's edge, a print's blot, a page's border and what stands inside an outline. Whatever
# else was left out lay there like a card, and its outline could not be followed.
_NO_TEMPLATE = (*TOO_SMALL, AT_BORDER, HARDLY, ROUND, FRAME, WITHIN)
MIN_AREA_MM2 = 120.0  # a finished triangle with legs of 5/8 in; smaller patches are not cut from card
MIN_HALF_WIDTH_MM = 4.0  # radius of the largest circle inside: a pencil, a pin or a tape's edge has less
CLOSE_MM = 1.5  # nearer than this two cards share their edges' shadows, and are seen as touching
UNDERLAYS = ("mat", "page", "target")  # references that templates lie on
MARKS_PROVE = 3  # so many of a reference's marks within a blob prove that the two hang together


@frozen(kw_only=True)
class Card:
    """One card, roughly: ``contour`` (n, 2) image pixels, counter-clockwise in the plane frame.

    ``motley``: its face has several colours.
    """

    contour: Floats = field(eq=False, repr=False)
    motley: bool = False


@frozen
class Found:
    """The cards of one picture, and what was left out and why."""

    cards: tuple[Card, ...]
    left_out: tuple[LeftOut, ...]


def too_small(shape: Polygon | None) -> str:
    """Why a shape in plane mm is no template by its size; "" when it may be one."""
    if shape is None or shape.area < MIN_AREA_MM2:
        return TOO_SMALL[0]
    return TOO_SMALL[1] if shape.buffer(-MIN_HALF_WIDTH_MM).is_empty else ""


def place_text(points_px: Floats, picture: Picture) -> str:
    """Where in the picture these points lie, as a person says it: ``scan.png, top left (at 310, 420)``."""
    x, y = points_px.mean(axis=0)
    row = ("top", "middle", "bottom")[min(2, max(0, int(3 * y / picture.height)))]
    column = ("left", "centre", "right")[min(2, max(0, int(3 * x / picture.width)))]
    return f"{picture.name}, {row} {column} (round {x:.0f}, {y:.0f})"


def left_out_warnings(left_out: Sequence[LeftOut], pictures: Sequence[tuple[Picture, Plane]]) -> tuple[str, ...]:
    """A sentence for each reason why something as large as a template was not taken for one."""
    of_reason: dict[str, list[int]] = {}
    for k, each in enumerate(left_out):
        if each.why not in TOO_SMALL:
            of_reason.setdefault(each.why, []).append(k)
    said = []
    for why, those in of_reason.items():
        marks = ", ".join(f"×{k + 1}" for k in those)
        if len(those) == 1:
            place = place_text(left_out[those[0]].outline_px, pictures[left_out[those[0]].photo][0])
            said.append(f"Something as large as a template was left out ({marks} in the overlay; {place}): {why}.")
        else:
            said.append(f"Things as large as a template were left out ({marks} in the overlay). Of each: {why}.")
    return tuple(said)


def may_be_templates(templates: TemplateSet) -> list[int]:
    """Indices into ``left_out`` of the things that may be templates: seen, but not measured."""
    return [
        k
        for k, left in enumerate(templates.left_out)
        if left.why not in _NO_TEMPLATE and not left.why.startswith(EXCLUDED)
    ]
