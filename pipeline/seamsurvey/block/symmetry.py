"""The symmetries a block can have: where the images of a piece lie, and which symmetry a finished layout has.

Names: "quarter-turn" (and so half-turn), "half-turn", "mirror" (left to right), "mirror-diagonal" (about the
diagonal through the lower left), "none".
"""

from collections.abc import Sequence

ORDER = {"quarter-turn": 4, "half-turn": 2, "mirror": 2, "mirror-diagonal": 2, "none": 1}
Move = tuple[str, bool, complex, complex]
"""A move of the block's outline onto itself: name, mirrored, turn, shift."""

SQUARE_ONLY = frozenset({"quarter-turn", "mirror-diagonal"})


def image(
    name: str, size: Sequence[float], corners: Sequence[complex], turns: int = 1
) -> tuple[bool, list[complex]]:
    """Whether the image shows the other face, and its corners, counter-clockwise.

    ``size`` is the block's (width, height), mm; ``corners`` are complex mm, block frame. A turned image keeps the
    order of the corners; a mirrored one has corner k where ``geometry.reversed_face`` has it.
    """
    middle = complex(size[0], size[1]) / 2
    if name in ("quarter-turn", "half-turn"):
        turn = (1j if name == "quarter-turn" else -1) ** turns
        return False, [middle + turn * (c - middle) for c in corners]
    if name == "mirror":
        flipped = [complex(size[0] - c.real, c.imag) for c in corners]
    else:
        flipped = [complex(c.imag, c.real) for c in corners]
    return True, [flipped[0], *flipped[:0:-1]]


def images(name: str, size: Sequence[float], corners: Sequence[complex]) -> list[tuple[bool, list[complex]]]:
    """All images of a piece but itself."""
    return [image(name, size, corners, k) for k in range(1, ORDER[name])]


def isometries(size: Sequence[float], tolerance: float) -> list[Move]:
    """The moves that carry the block's outline to itself: (name, mirrored, turn, shift).

    A point z goes to turn · z + shift, or to turn · conj(z) + shift when mirrored. All eight where width and height
    agree to within the tolerance, else four.
    """
    w, h = size
    moves: list[Move] = [
        ("none", False, 1 + 0j, 0j),
        ("half-turn", False, -1 + 0j, complex(w, h)),
        ("mirror", True, -1 + 0j, complex(w, 0)),
        ("mirror", True, 1 + 0j, complex(0, h)),
    ]
    if abs(w - h) <= tolerance:
        moves += [
            ("quarter-turn", False, 1j, complex(h, 0)),
            ("quarter-turn", False, -1j, complex(0, w)),
            ("mirror-diagonal", True, 1j, 0j),
            ("mirror-diagonal", True, -1j, complex(h, w)),
        ]
    return moves
