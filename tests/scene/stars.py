"""Blocks that turn about their middle or fan out from a corner, each a function of its sizes."""

from __future__ import annotations

import math

import numpy as np

from .drafting import Design, Drawing, between, crossing, quarter_turns, spelled
from .geometry import Points, polygon


def millrace_star(
    *,
    cell: float = 5.0,
    arm: float = 1.75,
    knee_x: float = 1.25,
    knee_y: float = 1.5,
    hub_x: float = 3.0,
    hub_y: float = 2.25,
    notch: float = 2.75,
) -> Drawing:
    """A star in four quarter turns; at the knee and the hub of each cell no seam runs straight through."""
    c = {
        "O": (0.0, 0.0), "A": (arm, 0.0), "B": (cell, 0.0), "F": (cell, notch), "C": (cell, cell),
        "D": (0.0, cell), "E": (0.0, arm), "I": (knee_x, knee_y), "J": (hub_x, hub_y),
    }  # fmt: skip
    return quarter_turns(spelled(c, "OAIE AJI ABJ BFJ FCJ CDJ DEIJ"), cell)


def eight_lights(side: float = 8.0) -> Drawing:
    """The star of eight 45 degree diamonds with set-in squares and triangles."""
    d = side / (2.0 + math.sqrt(2.0))
    h = d / math.sqrt(2.0)
    half = d + h  # half the side: d (2 + sqrt 2) / 2, written so that the corners coincide
    cell = [
        polygon([(0.0, 0.0), (d, 0.0), (half, h), (h, h)]),
        polygon([(0.0, 0.0), (h, h), (h, half), (0.0, d)]),
        polygon([(h, h), (half, h), (half, half), (h, half)]),
        polygon([(d, 0.0), (half, -h), (half, h)]),
    ]
    return quarter_turns(cell, half)


def weathervane_turn(
    *, cell: float = 3.75, low: float = 1.0, high: float = 2.25, toe: float = 2.25, tail: float = 1.5
) -> Drawing:
    """A pinwheel without a mirror: four quarter turns of a slanted cell, sewn straight throughout."""
    c = {
        "O": (0.0, 0.0), "a": (toe, 0.0), "b": (cell, 0.0), "c": (cell, high), "d": (cell, cell),
        "e": (tail, cell), "f": (0.0, cell), "g": (0.0, low),
    }  # fmt: skip
    return quarter_turns(spelled(c, "Oacg abc gef gcde"), cell)


def kite_crown(cell: float = 4.0, knot: float = 1.25, notch: float = 1.75) -> Drawing:
    """Four kites meeting in the middle, triangles set in between them, trapezoids round the outside."""
    c = {
        "O": (0.0, 0.0), "p": (knot, -knot), "t": (cell, 0.0), "q": (knot, knot), "l": (0.0, cell),
        "r": (cell, cell - notch), "s": (cell - notch, cell), "C": (cell, cell),
    }  # fmt: skip
    return quarter_turns(spelled(c, "Optq qtl trsl rCs"), cell)


def whirl_court(short: float = 2.25, long: float = 4.25, clip_x: float = 1.5, clip_y: float = 1.125) -> Drawing:
    """Four rectangles whirling round a square, a corner of each clipped: its middle has no straight cut."""
    cell = [
        polygon([(clip_x, 0.0), (long, 0.0), (long, short), (0.0, short), (0.0, clip_y)]),
        polygon([(0.0, 0.0), (clip_x, 0.0), (0.0, clip_y)]),
    ]
    side = short + long
    pieces = [polygon([(short, short), (long, short), (long, long), (short, long)])]
    for piece in cell:
        turned = piece
        for _ in range(4):
            pieces.append(turned)
            turned = np.column_stack([side - turned[:, 1], turned[:, 0]])
    return Drawing((side, side), tuple(pieces))


def box_in_box(side: float = 160.0, lean: float = 80.0) -> Drawing:
    """A square in a square in a square in a square, each with its corners on the sides of the next."""
    ring = [(0.0, 0.0), (side, 0.0), (side, side), (0.0, side)]
    pieces: list[Points] = []
    for _ in range(3):
        inner = [between(ring[k], ring[(k + 1) % 4], lean / side) for k in range(4)]
        pieces += [polygon([inner[k - 1], ring[k], inner[k]]) for k in range(4)]
        ring = inner
    return Drawing((side, side), (*pieces, polygon(ring)))


def harbour_fan(
    *,
    side: float = 6.0,
    pivot_x: float = 3.0,
    pivot_y: float = 2.75,
    sky_x: float = 3.0,
    sky_y: float = 3.0,
    first_rib: float = 1.75,
    last_rib: float = 1.5,
) -> Drawing:
    """A fan of five blades round a corner, two pieces of sky beyond it: eight pieces, all different."""
    pivot, right, top = (0.0, 0.0), (side, sky_y), (sky_x, side)
    ribs = [(side, first_rib), between(right, top, 0.3), between(right, top, 0.75), (last_rib, side)]
    near, far = (pivot_x, 0.0), (0.0, pivot_y)
    w, x, y, z = (crossing(pivot, rib, near, far) for rib in ribs)
    c = {
        "O": pivot, "A": near, "Z": far, "w": w, "x": x, "y": y, "z": z,
        "S": (side, 0.0), "1": ribs[0], "2": ribs[1], "3": ribs[2], "4": ribs[3],
        "R": right, "T": top, "C": (side, side), "L": (0.0, side),
    }  # fmt: skip
    blades = "AS1w w1R2x x23y y3T4z z4LZ"
    return Drawing((side, side), tuple(spelled(c, "OAZ " + blades + " RC2 2CT")))


STARS = (
    Design(
        "millrace-star",
        millrace_star,
        "in",
        0.25,
        "10 in: a cell of seven pieces in four quarter turns; seams must be set in at knee and hub",
        set_in=True,
    ),
    Design(
        "eight-lights",
        eight_lights,
        "in",
        0.25,
        "8 in: eight 45 degree diamonds of side 8 / (2 + sqrt 2), squares and triangles set in",
        set_in=True,
    ),
    Design(
        "weathervane-turn",
        weathervane_turn,
        "in",
        0.25,
        "7 1/2 in: a pinwheel without mirror, all seams straight",
    ),
    Design(
        "kite-crown",
        kite_crown,
        "in",
        0.125,
        "8 in: kites and set-in triangles in a square on point, trapezoids outside",
        set_in=True,
    ),
    Design(
        "whirl-court",
        whirl_court,
        "in",
        0.125,
        "6 1/2 in: four clipped rectangles whirling round a square: a partial seam",
        set_in=True,
    ),
    Design("box-in-box", box_in_box, "mm", 4.0, "160 mm: three rounds of corners about a square"),
    Design("harbour-fan", harbour_fan, "in", 0.25, "6 in: five blades round a pivot, eight pieces, all different"),
)
