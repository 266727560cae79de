"""What the learned eye sees in a picture: what each part shows, and which outlines may be cards."""

import numpy as np
from attrs import field, frozen
from numpy.typing import NDArray

GROUND, FACE, SIDE, SHADOW, REFERENCE, CLUTTER, BORDER = range(7)


@frozen(kw_only=True)
class SeenCard:
    """An outline that may be a card's: (n, 2) *image* px, clockwise on the screen, and how likely it is one."""

    outline_px: NDArray[np.float64] = field(eq=False, repr=False)
    chance: float


@frozen(kw_only=True)
class Seen:
    """A picture as it is seen.

    ``maps`` (7, h, w) float32: each *small* pixel's chances to be GROUND, FACE, SIDE, SHADOW, REFERENCE, CLUTTER or
    BORDER (of a card), which sum to 1. *small*: the picture made small, ``scale`` small px an image px.
    ``cards``: the surest first, none over another; unlikely ones too, so that nothing is dropped without a word.
    ``outlined`` (h, w) bool: which small pixels lie in an outline that may be a card's, be it hardly likely, and is
    over none that surely is; None: nobody has looked at that.
    """

    maps: NDArray[np.float32] = field(eq=False, repr=False)
    scale: float
    cards: tuple[SeenCard, ...] = ()
    outlined: NDArray[np.bool_] | None = field(default=None, eq=False, repr=False)

    def to_px(self, small: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) *small* px as *image* px: pixels' edges, not centres, keep their place in shrinking."""
        return (small + 0.5) / self.scale - 0.5

    def to_small(self, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """(n, 2) *image* px as *small* px."""
        return (points_px + 0.5) * self.scale - 0.5
