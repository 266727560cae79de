"""What things are made of: a table of numbers a thing, drawn at random by what it is.

Columns are named by `COLUMNS`; colours are linear light, 0 to 1.
"""

import math

import numpy as np
from numpy.typing import NDArray

from training import homely, mats
from training.raster import MOST_THINGS, Kind, Maps
from training.shapes import Random

COLUMNS = {
    "colour": 3, "other": 3, "inked": 3,  # base colour, second colour, colour of the ink
    "texture": 1,  # which stuff: see STUFFS
    "photo": 1,  # which crop of a real texture, 0 to 1
    "turn": 1, "scale": 1, "stretch": 1,  # of the stuff's own frame
    "strength": 1,  # of its pattern
    "grain": 1, "cloud": 1,  # fine and coarse unevenness
    "gloss": 1, "tint": 1,  # mirror-likeness; how much light a clear thing takes
    "ink": 1, "height": 1,
    "label": 1,
    "sheet": 1,  # 1: made of the second ground
    "clear": 1,
    "third": 3, "fourth": 3,  # further colours of a print
    "calm": 1,  # of the ground alone: ODD, CALM, HOMELY or BUSY
}  # fmt: skip
AT = dict(zip(COLUMNS, np.cumsum([0, *list(COLUMNS.values())[:-1]]).tolist(), strict=True))
WIDTH = sum(COLUMNS.values())

PLAIN, GRAINED, STRIPES, CHECKS, PHOTO, TEXT, FIBRES, SPOTS, BLOTS, PANELS, BANDS = range(11)
ODD, CALM, HOMELY, BUSY = range(4)  # how far a scene is like people's own: see `table`; busy: on printed cloth
SMALL = 0.003  # of a scene: half of its cards are no larger
GROUND_LABEL, FACE, SIDE, SHADOW, RULER, CLUTTER, BORDER = range(7)
_LABELS = {
    Kind.GROUND: GROUND_LABEL,
    Kind.SHEET: GROUND_LABEL,
    Kind.CARD: FACE,
    Kind.SIDE: SIDE,
    Kind.RULER: RULER,
    Kind.CLUTTER: CLUTTER,
    Kind.PAGE: GROUND_LABEL,
    Kind.LONE_PAGE: RULER,
    Kind.MAT: GROUND_LABEL,
    Kind.TAG: CLUTTER,
    Kind.COIN: CLUTTER,
}


def colours(rng: Random, n: int) -> NDArray[np.float64]:
    """(n, 3) linear colours: greys, whites, blacks, kraft, pastels, strong ones."""
    base = rng.uniform(0.02, 0.95, (n, 3))
    grey = base.mean(1, keepdims=True)
    out = grey + (base - grey) * rng.random((n, 1)) ** 0.7 * 1.2
    kind = rng.random(n)
    white = rng.uniform(0.62, 0.95, (n, 1)) * (1 - rng.uniform(0, 0.16, (n, 1)) * np.array([0, 0.25, 1]))
    kraft = rng.uniform(0.3, 1.0, (n, 1)) * np.array([0.45, 0.29, 0.15]) * np.exp(rng.normal(0, 0.1, (n, 3)))
    dark = rng.uniform(0.005, 0.07, (n, 1)) * np.exp(rng.normal(0, 0.15, (n, 3)))
    board = rng.uniform(0.18, 0.5, (n, 1)) * (1 + rng.uniform(-0.05, 0.2, (n, 1)) * np.array([1, 0.3, -0.6]))
    for chosen, low, high in ((white, 0, 0.22), (kraft, 0.22, 0.36), (board, 0.36, 0.5), (dark, 0.5, 0.58)):
        pick = (kind >= low) & (kind < high)
        out[pick] = chosen[pick]
    return np.asarray(np.clip(out, 0.004, 0.97))


def stocks(rng: Random, n: int) -> NDArray[np.float64]:
    """(n, 3) linear colours of what templates are cut from: white, cream, kraft, chipboard, black, pastel."""
    warm = np.array([0.0, 0.25, 1.0])
    tones = np.stack([
        rng.uniform(0.62, 0.95, (n, 1)) * (1 - rng.uniform(0, 0.08, (n, 1)) * warm),
        rng.uniform(0.5, 0.88, (n, 1)) * (1 - rng.uniform(0.12, 0.4, (n, 1)) * warm),
        rng.uniform(0.4, 1.1, (n, 1)) * np.array([0.45, 0.29, 0.15]),
        rng.uniform(0.1, 0.5, (n, 1)) * (1 + rng.uniform(-0.02, 0.12, (n, 1)) * (1 - 2 * warm)),
        rng.uniform(0.006, 0.06, (n, 1)) * np.ones(3),
        rng.uniform(0.35, 0.85, (n, 3)),
    ])  # fmt: skip
    pick = rng.choice(len(tones), n, p=[0.26, 0.21, 0.15, 0.17, 0.09, 0.12])
    return np.asarray(np.clip(tones[pick, np.arange(n)] * np.exp(rng.normal(0, 0.03, (n, 3))), 0.004, 0.97))


def _looks(rng: Random, kinds: NDArray[np.int64], n: int) -> NDArray[np.float64]:
    """(n, WIDTH) one row for each look; `kinds` (n,) what it is for."""
    t = np.zeros((n, WIDTH))

    def put(name: str, value: object) -> None:
        t[:, AT[name] : AT[name] + COLUMNS[name]] = np.reshape(np.asarray(value), (n, -1))

    colour = colours(rng, n)
    put("colour", colour)
    put(
        "other",
        np.where(
            rng.random((n, 1)) < 0.5, colours(rng, n), np.clip(colour * np.exp(rng.normal(0, 0.3, (n, 3))), 0, 1)
        ),
    )
    light = colour.mean(1, keepdims=True)
    dark_ink = np.where(rng.random((n, 1)) < 0.6, rng.uniform(0, 0.08, (n, 1)), rng.uniform(0, 0.4, (n, 3)))
    put("inked", np.where((light < 0.25) | (rng.random((n, 1)) < 0.05), 1 - dark_ink, dark_ink))
    share = {
        Kind.CARD: [0.36, 0.04, 0.05, 0.03, 0.14, 0.06, 0.1, 0.02, 0.09, 0.05, 0.06],
        Kind.RULER: [0.5, 0.34, 0.02, 0.02, 0.04, 0, 0.05, 0.03, 0, 0, 0],
        Kind.CLUTTER: [0.33, 0.1, 0.07, 0.07, 0.2, 0.05, 0.05, 0.05, 0.03, 0.03, 0.02],
        Kind.SIDE: [0.7, 0.15, 0, 0, 0, 0, 0.15, 0, 0, 0, 0],
        Kind.LONE_PAGE: [0.8, 0, 0, 0, 0, 0, 0.2, 0, 0, 0, 0],
        Kind.PAGE: [0.8, 0, 0, 0, 0, 0, 0.2, 0, 0, 0, 0],
        Kind.TAG: [0.8, 0, 0, 0, 0, 0, 0.2, 0, 0, 0, 0],
        Kind.COIN: [0.6, 0, 0, 0, 0.2, 0, 0.2, 0, 0, 0, 0],
        Kind.MAT: [0.8, 0, 0, 0, 0, 0, 0.2, 0, 0, 0, 0],
    }
    cumulative = np.stack([np.cumsum(share.get(Kind(k), share[Kind.CARD])) for k in kinds])
    stuff = (rng.random((n, 1)) * cumulative[:, -1:] > cumulative).sum(1)
    put("texture", stuff)
    put("photo", rng.random(n))
    put("turn", rng.uniform(0, 6.3, n))
    put("scale", np.exp(rng.uniform(math.log(0.4), math.log(2.5), n)))
    put("stretch", np.where(stuff == GRAINED, np.exp(rng.uniform(math.log(6), math.log(40), n)), 1.0))
    put("strength", rng.uniform(0.1, 1, n))
    put("grain", np.where(rng.random(n) < 0.6, rng.uniform(0, 0.03, n), rng.uniform(0, 0.12, n)))
    put("cloud", rng.uniform(0, 1, n) ** 2 * 0.12)
    put("gloss", np.where(rng.random(n) < 0.12, rng.uniform(0.1, 0.9, n), 0))
    put("tint", rng.uniform(0.03, 0.45, n))
    put("ink", rng.uniform(0.35, 1, n))
    put("third", colours(rng, n))
    put("fourth", colours(rng, n))
    return t


def _of_paper(rng: Random, rows: NDArray[np.float64], chosen: NDArray[np.bool_]) -> None:
    """Makes the chosen rows white paper, in place."""
    n = int(chosen.sum())
    white = rng.uniform(0.6, 0.95, (n, 1)) * (1 - rng.uniform(0, 0.12, (n, 1)) * np.array([0, 0.25, 1]))
    rows[chosen, :3] = white
    rows[chosen, AT["other"] : AT["other"] + 3] = white * rng.uniform(0.85, 1, (n, 1))
    rows[chosen, AT["gloss"]] = 0


def _of_coins(rng: Random, rows: NDArray[np.float64], chosen: NDArray[np.bool_]) -> None:
    """Makes the chosen rows copper, brass, or silver, in place."""
    n = int(chosen.sum())
    metal = np.array([[0.4, 0.2, 0.1], [0.5, 0.38, 0.14], [0.5, 0.5, 0.48]])[rng.integers(0, 3, n)]
    rows[chosen, :3] = np.clip(
        metal * np.exp(rng.normal(0, 0.35, (n, 1))) * np.exp(rng.normal(0, 0.06, (n, 3))), 0, 0.9
    )
    rows[chosen, AT["gloss"]] = np.where(rng.random(n) < 0.5, rng.uniform(0.05, 0.6, n), 0)
    rows[chosen, AT["strength"]] = rng.uniform(0.05, 0.5, n)
    rows[chosen, AT["ink"]] = rng.uniform(0.3, 1, n)
    dark = rng.random((n, 1)) < 0.75  # what is struck into the metal is seen by its shadows, or by its gloss
    rows[chosen, AT["inked"] : AT["inked"] + 3] = rows[chosen, :3] * np.where(dark, 0.35, 1.5)


def _of_mats(rng: Random, rows: NDArray[np.float64], chosen: NDArray[np.bool_]) -> None:
    """Makes the chosen rows cutting mats, in place."""
    n = int(chosen.sum())
    colour = mats.colours(rng, n)
    rows[chosen, :3] = colour
    rows[chosen, AT["other"] : AT["other"] + 3] = colour * rng.uniform(0.7, 1.3, (n, 1))
    rows[chosen, AT["strength"]] = rng.uniform(0, 0.4, n)
    rows[chosen, AT["gloss"]] = 0
    rows[chosen, AT["ink"]] = rng.uniform(0.25, 1, n)
    pale = np.clip(rng.uniform(0.5, 1, (n, 1)) * np.array([1, 1, 0.8]) ** rng.uniform(0, 4, (n, 1)), 0, 1)
    rows[chosen, AT["inked"] : AT["inked"] + 3] = np.where(colour.mean(1, keepdims=True) < 0.3, pale, 0.1 * pale)


def _of_stock(rng: Random, rows: NDArray[np.float64], chosen: NDArray[np.bool_], share: float) -> None:
    """Makes a share of the chosen rows plain card as templates are cut from, in place; others keep their print."""
    chosen = chosen & (rng.random(len(rows)) < share)
    n = int(chosen.sum())
    colour = stocks(rng, n)
    rows[chosen, :3] = colour
    rows[chosen, AT["other"] : AT["other"] + 3] = np.clip(colour * np.exp(rng.normal(0, 0.15, (n, 3))), 0, 1)
    rows[chosen, AT["texture"]] = np.where(rng.random(n) < 0.6, PLAIN, FIBRES)
    rows[chosen, AT["strength"]] = rng.uniform(0.02, 0.5, n)
    rows[chosen, AT["gloss"]] = 0
    rows[chosen, AT["ink"]] = rng.uniform(0.4, 1, n)
    dark = colour.mean(1, keepdims=True) < 0.12
    ink = rng.uniform(0, 0.1, (n, 1)) * np.where(rng.random((n, 1)) < 0.7, 1.0, rng.uniform(0.3, 4, (n, 3)))
    rows[chosen, AT["inked"] : AT["inked"] + 3] = np.where(dark, 0.9, ink)


def table(rng: Random, maps: Maps, *, is_homely: bool = False) -> NDArray[np.float32]:
    """(256, WIDTH) float32: every thing of a painted scene made of something; things of one look alike.

    Homely scenes are made of what people have, calm ones of plain card on plain grounds, odd ones of anything.
    """
    looks, of = np.unique(maps.looks, return_inverse=True)
    kinds = np.zeros(len(looks), np.int64)
    kinds[of] = maps.kinds
    rows = _looks(rng, kinds, len(looks))
    calm = is_homely or rng.random() < 0.66
    _of_paper(rng, rows, np.isin(kinds, (Kind.PAGE, Kind.LONE_PAGE, Kind.TAG)))
    _of_mats(rng, rows, kinds == Kind.MAT)
    _of_coins(rng, rows, kinds == Kind.COIN)
    if calm:
        _of_stock(rng, rows, kinds == Kind.CARD, 1.0 if is_homely else 0.75)
    card = maps.kinds == Kind.CARD
    sizes = np.bincount(maps.top.ravel(), minlength=MOST_THINGS)[card] / maps.top.size
    busy = is_homely and rng.random() < (0.4 if card.any() and np.median(sizes) < SMALL else 0.1)
    if is_homely:
        if np.count_nonzero(kinds == Kind.CARD) > 2 and rng.random() < 0.7:
            homely.of_motley(rng, rows, kinds == Kind.CARD, AT)
        strong = colours(rng, 3 * len(rows)).reshape(len(rows), 9)
        homely.of_cards(rng, rows, kinds == Kind.CARD, AT, strong, 0.55 if busy and rng.random() < 0.5 else 0.28)
        homely.of_references(rng, rows, kinds == Kind.RULER, AT)
    out = rows[of]
    n = MOST_THINGS
    # Cards of one set: each a little lighter or darker, its stuff turned and shifted its own way.
    colour = out[:, :3] * np.exp(rng.normal(0, 0.05, (n, 1))) * np.exp(rng.normal(0, 0.01, (n, 3)))
    out[:, :3] = np.clip(colour, 0.003, 0.98)
    out[card, AT["turn"]] = rng.uniform(0, 6.3, int(card.sum()))
    if rng.random() < 0.5:
        out[card, AT["photo"]] = rng.random(int(card.sum()))
    if is_homely:
        homely.of_clear(rng, out, maps.clear & (maps.kinds == Kind.RULER), AT)
    # A card's side is its stuff seen in another light.
    side = maps.kinds == Kind.SIDE
    if card.any() and side.any():
        face = out[np.flatnonzero(card)[0]]
        is_odd = face[:3].mean() < 0.12 or face[AT["texture"]] not in (PLAIN, FIBRES)
        core = face[:3] if rng.random() < (0.4 if is_odd else 0.7) else colours(rng, 1)[0]
        if is_odd and rng.random() < 0.5:  # dark and printed cardboard is often white or grey within
            core = rng.uniform(0.3, 1.0) * np.array([1, 0.96, 0.88])
        out[side, :3] = np.clip(core * rng.uniform(0.3, 1.25), 0, 0.97)
    out[:, AT["height"]] = maps.heights
    out[:, AT["label"]] = [_LABELS[Kind(k)] for k in maps.kinds]
    out[:, AT["sheet"]] = maps.kinds == Kind.SHEET
    out[:, AT["clear"]] = maps.clear
    out[0, AT["calm"]] = BUSY if busy else HOMELY if is_homely else CALM if calm else ODD
    return out.astype(np.float32)
