"""Photos of one ruler each, for the benchmark of rulers: every kind, slant, angle, size, half of them part covered.

Only the ruler's surroundings are rendered, a window of a 12-megapixel frame with that frame's own pixels a
millimetre: the tool is told the frame's focal length and takes the window's middle for the camera's axis, which is
off by up to 200 px.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tests.scene.camera import Phone, PhoneView
from tests.scene.cards import Cutting, cut_card
from tests.scene.families import random_family
from tests.scene.geometry import placement
from tests.scene.photo import Exposure, photograph
from tests.scene.plates import CLEAR, TAPES
from tests.scene.rulers import RULERS, UNIT_MM, RulerKind, marks_of
from tests.scene.scene import LaidCard, LaidRuler, Scene

Floats = NDArray[np.float64]

KINDS: dict[str, RulerKind] = {**RULERS, **CLEAR, **TAPES}
FRAME = (4000, 3000)
SHARES = (1 / 2, 1 / 3)  # of the frame's width, that the ruler takes
MAX_TILT_DEG = 35.0
ROOM_PX = 90  # round the ruler
GROUNDS = ("white", "oak", "birch", "walnut", "linen", "gingham", "floral", "dark")
# Black print on a clear body can't be seen on a dark table, nor pale print on a light one.
LIGHT_GROUNDS, DARK_GROUNDS = ("white", "birch", "oak", "linen", "gingham", "floral"), ("walnut", "dark")


@dataclass(frozen=True)
class RulerPhoto:
    """One photo and all that is true of it."""

    kind: RulerKind
    pixels: NDArray[np.uint8]
    focal_px: float
    view: PhoneView
    ruler: LaidRuler
    tilt: float
    share: float
    ground: str
    covered: bool

    def on_ruler(self, points_px: Floats) -> Floats:
        """(n, 2) image points in the ruler's own frame, mm, by Newton's method on OpenCV's projection."""
        height = self.kind.print_height
        own = np.full((len(points_px), 2), [self.kind.length / 2, self.kind.width / 2])
        for _ in range(20):
            here = self._seen(own, height)
            slope = np.stack(
                [(self._seen(own + step, height) - here) / 0.1 for step in ([0.1, 0.0], [0.0, 0.1])], axis=-1
            )
            own = own + np.linalg.solve(slope, (points_px - here)[..., None])[..., 0]
        return own

    def _seen(self, own: Floats, height: float) -> Floats:
        return self.view.pixels(self.ruler.place(own), height)

    def finest_px(self) -> float:
        """Px from one mark to the next where they are closest, on the scale that is easiest to see."""
        return max(self._closest(number) for number in range(len(self.kind.scales)))

    def _closest(self, number: int) -> float:
        scale = self.kind.scales[number]
        feet = np.array([mark.foot for mark in marks_of(self.kind, scale)])
        return float(np.hypot(*np.diff(self._seen(feet, self.kind.print_height), axis=0).T).min())

    def steps_mm(self) -> set[tuple[str, float]]:
        """Unit and step of each of its scales."""
        return {(scale.unit, UNIT_MM[scale.unit] / scale.levels[-1][0]) for scale in self.kind.scales}


def ruler_photo(seed: int) -> RulerPhoto:
    """The photo of that number: its kind goes by turns, all else is drawn."""
    rng = np.random.default_rng([seed, 77])
    kind = list(KINDS.values())[seed % len(KINDS)]
    tilt, azimuth = float(rng.uniform(0, MAX_TILT_DEG)), float(rng.uniform(0, 360))
    turn, share = float(rng.uniform(0, 360)), SHARES[int(rng.integers(2))]
    ground = str(rng.choice({"clear": LIGHT_GROUNDS, "clear-light": DARK_GROUNDS}.get(kind.look, GROUNDS)))
    whole = Phone(size=FRAME, focal_35mm=float(rng.uniform(23, 28)))
    distance = whole.focal_px * kind.length / (share * FRAME[0])
    bow = float(rng.uniform(-2, 2)) if kind in TAPES.values() else 0.0
    at = np.array([200.0, 150.0])
    ruler = LaidRuler(kind, placement(turn, at, (kind.length / 2, kind.width / 2)), bow)
    posed = replace(
        whole, k1=float(rng.uniform(-0.02, 0.01)), distance=distance, tilt=tilt, azimuth=azimuth,
        roll=float(rng.uniform(0, 360)), principal=tuple(rng.uniform(-140, 140, 2)),
    )  # fmt: skip
    outline = PhoneView(posed, at).pixels(ruler.outline, kind.thickness)
    low, high = outline.min(axis=0) - ROOM_PX, outline.max(axis=0) + ROOM_PX
    size = (int(high[0] - low[0]), int(high[1] - low[1]))
    axis = (np.array(FRAME) - 1) / 2 + posed.principal - (low + high - 1) / 2
    phone = replace(
        posed, size=size, focal_35mm=whole.focal_35mm * math.hypot(*FRAME) / math.hypot(*size),
        principal=(float(axis[0]), float(axis[1])),
    )  # fmt: skip
    covered = bool(rng.random() < 0.5)
    covers = (_cover(ruler, rng),) if covered else ()
    scene = Scene("ruler", seed, random_family(1), Cutting(), (400.0, 300.0), (), (ruler,), covers=covers)
    exposure = Exposure(
        ground=ground, lamp=float(rng.uniform(0, 360)), falloff=float(rng.uniform(0, 0.4)),
        level=float(rng.uniform(0.5, 0.9)), psf=float(rng.uniform(0.6, 1.0)), worn=float(rng.uniform(0, 0.04)),
    )  # fmt: skip
    view = PhoneView(phone, at)
    return RulerPhoto(
        kind, photograph(scene, view, exposure), whole.focal_px, view, ruler, tilt, share, ground, covered
    )


def _cover(ruler: LaidRuler, rng: np.random.Generator) -> LaidCard:
    """A card over a tenth to a quarter of the ruler's length, reaching across all or part of its width."""
    kind = ruler.kind
    long, wide = float(rng.uniform(0.1, 0.25)) * kind.length, float(rng.uniform(0.5, 1.6)) * kind.width
    outline = np.array([[0.0, 0.0], [long, 0.0], [long, wide], [0.0, wide]])
    card = cut_card("A", outline, Cutting(), "", rng)
    x = float(rng.uniform(0.15, 0.85)) * kind.length
    y = kind.width / 2 + float(rng.choice([-1.0, 1.0])) * float(rng.uniform(0.2, 0.6)) * kind.width
    middle = ruler.place(np.array([[x, y]]))[0]
    to_table = placement(float(rng.uniform(0, 360)), middle, (long / 2, wide / 2))
    return LaidCard(card, False, 0.8, str(rng.choice(["cream", "chipboard", "blue", "kraft"])), to_table)
