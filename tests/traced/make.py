"""One picture: everything drawn by lot from its seed, laid down, traced, developed and written with its truth."""

from __future__ import annotations

import json
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.random import Generator
from numpy.typing import NDArray
from shapely.geometry import Polygon

from tests.scene.trade_block import TradeBlock
from tests.scene.trade_blocks import TRADE_BLOCKS

from . import develop, references, surfaces
from .lens import Flatbed, Phone, framed
from .lettering import HANDS, PER_MM, written
from .references import Reference
from .scatter import NoRoomError, Thing, field_for, laid_down
from .shapes import CutCard, Hand, Points, carried, cut_by_hand
from .trace import Light, Slab, Work, begin, traced
from .truth import Placed, record

# One kind after another, so that any run of pictures has its share of each.
KINDS = ("scan", "down", "mat", "down", "tilted", "scan", "down", "down", "scan", "mat", "down", "tilted", "scan",
         "down", "mat", "tilted")  # fmt: skip
BED_MM = (215.9, 297.0)
DPI = 300.0
SIZES = ((2880, 2160), (2848, 2136))  # six megapixels: the dearer ones gain no evidence
SEAM_MM = 6.35  # a quarter inch


@dataclass(frozen=True)
class Laid:
    """What lies where: cards and references with their maps onto the table."""

    cards: list[tuple[CutCard, bool, NDArray[np.float64]]]
    references: list[tuple[Reference, NDArray[np.float64]]]
    field: tuple[float, float]  # mm, that they take


@dataclass(frozen=True)
class Stock:
    """What all cards of a picture are cut from."""

    name: str
    tint: tuple[float, float, float]
    thickness: float
    face: str | None  # of the hand that writes on them


def make_picture(seed: int, number: int, out: Path, samples: int, threads: int) -> tuple[Path, str]:
    """The picture's folder, and a line about it."""
    kind = KINDS[number % len(KINDS)]
    order = np.random.default_rng([seed, 7]).permutation(len(TRADE_BLOCKS))
    rng = np.random.default_rng([seed, number, 11])
    which = number
    while True:
        trade = TRADE_BLOCKS[int(order[which % len(order)])]
        allowance = SEAM_MM if rng.random() < 0.8 else 0.0
        try:
            laid = _laid(trade, kind, allowance, rng)
            break
        except NoRoomError:
            which += 13  # too large for a scanner's bed, say
    stock = _stock(rng)
    folder = out / f"{number:02d}-{trade.name.replace(' ', '-').replace(chr(39), '')}"
    folder.mkdir(parents=True, exist_ok=True)
    begin()
    with tempfile.TemporaryDirectory() as scratch:
        work, path = Work(samples, threads), folder / "picture.jpg"
        if kind == "scan":
            told = _scan(trade, laid, stock, rng, work, Path(scratch), path)
        else:
            told = _photo(trade, kind, laid, stock, rng, work, Path(scratch), path)
    truth = record(trade, kind, allowance, _placed(trade, laid, stock, told), laid.references, told)
    truth["seed"], truth["number"] = seed, number
    (folder / "truth.json").write_text(json.dumps(truth), encoding="utf-8")
    kinds = ", ".join(reference.kind for reference, _ in laid.references)
    return folder, f"{kind}, {told['table']}, {stock.name}, {kinds}, allowance {allowance}"


def _stock(rng: Generator) -> Stock:
    weights = np.array([5, 4, 3, 2, 2, 3, 2, 1.5, 1.0])
    name = str(rng.choice(list(surfaces.CARDS), p=weights / weights.sum()))
    tints = ((0.55, 0.08, 0.07), (0.08, 0.22, 0.5), (0.6, 0.45, 0.08), (0.1, 0.35, 0.15), (0.5, 0.2, 0.4))
    tint = tints[int(rng.integers(len(tints)))]
    if name.endswith("acrylic"):
        tint = ((0.9, 0.96, 0.93), (0.95, 0.7, 0.55), (0.6, 0.85, 0.9))[int(rng.integers(3))]
    low, high = surfaces.CARDS[name]
    writes = rng.random() < 0.5 and not name.endswith("acrylic")
    return Stock(name, tint, float(rng.uniform(low, high)), str(rng.choice(HANDS)) if writes else None)


def _laid(trade: TradeBlock, kind: str, allowance: float, rng: Generator) -> Laid:
    hand = Hand(float(rng.uniform(0.03, 0.15)), float(rng.uniform(0.04, 0.12)), float(rng.uniform(0.15, 0.8)))
    cards = [cut_by_hand(t.finished, allowance, hand, rng) for t in trade.templates]
    over = [bool(t.reversed_count) and rng.random() < 0.4 for t in trade.templates]
    things = [Thing(card.outline, down) for card, down in zip(cards, over, strict=True)]
    if kind == "mat":
        return _on_mat(cards, over, things, rng)
    choices = references.ON_SCANNER if kind == "scan" else references.ON_TABLE
    for tries in range(40):
        count = 2 if kind == "tilted" and rng.random() < 0.6 else 1
        lain = [choices[int(rng.integers(len(choices)))](rng) for _ in range(count)]
        everything = things + [Thing(_sheet(each), aside=True) for each in lain]
        wide = bool(rng.random() < 0.7) and kind != "scan"
        field = field_for(everything, wide, 0.62 / 1.05**tries)
        if kind == "scan" and any(own > most - 12 for own, most in zip(field, BED_MM, strict=True)):
            break
        try:
            maps = laid_down(everything, field, rng)
        except NoRoomError:
            continue
        shift = np.array([6.0, 6.0]) if kind == "scan" else -np.array(field) / 2
        for each in maps:
            each[:, 2] += shift
        count = len(cards)
        return Laid(
            list(zip(cards, over, maps[:count], strict=True)), list(zip(lain, maps[count:], strict=True)), field
        )
    raise NoRoomError


def _on_mat(cards: list[CutCard], over: list[bool], things: list[Thing], rng: Generator) -> Laid:
    for tries in range(40):
        field = field_for(things, bool(rng.random() < 0.7), 0.5 / 1.05**tries)
        try:
            maps = laid_down(things, field, rng)
        except NoRoomError:
            continue
        mat = references.mat(rng, field[0] + 12, field[1] + 12)
        own = np.column_stack([np.eye(2), -np.array([mat.length, mat.width]) / 2])
        for each in maps:
            each[:, 2] -= np.array(field) / 2
        return Laid(list(zip(cards, over, maps, strict=True)), [(mat, own)], field)
    raise NoRoomError


def _sheet(reference: Reference) -> Points:
    w, h = reference.length, reference.width
    return np.array([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])


def _slabs(laid: Laid, stock: Stock, top_down: bool, base: float, counts: list[int], scratch: Path,
           rng: Generator) -> list[Slab]:  # fmt: skip
    """Everything that lies there; `top_down`: with upper faces at 0, as on a scanner's glass."""
    slabs = []
    for n, (card, down, matrix) in enumerate(laid.cards):
        ink = None
        if stock.face and not down:
            ink = scratch / f"ink{n}.png"
            lines = (chr(ord("A") + n), f"cut {counts[n]}")
            inside = np.array(Polygon(card.outline).representative_point().coords[0])
            dark = ((28, 30, 60), (24, 24, 24), (150, 20, 30))[int(rng.integers(3))]
            written(lines, card.outline, inside, dark, stock.face, rng, ink)
        face, side = surfaces.card_materials(stock.name, stock.tint, ink, scratch, rng)
        low, high = card.outline.min(axis=0), card.outline.max(axis=0)
        size = (high - low) * PER_MM
        # The raster is a whole number of pixels, its foot at the box's foot.
        uv = (card.outline - low) * PER_MM / np.ceil(size)
        uv[:, 1] += 1 - size[1] / np.ceil(size[1])
        bottom = -stock.thickness if top_down else base
        outline = carried(matrix, card.outline)
        slabs.append(Slab(outline, bottom, bottom + stock.thickness, face, side, uv))
    for n, (reference, matrix) in enumerate(laid.references):
        path = scratch / f"face{n}.png"
        reference.face.save(path, reference.clear)
        face, side = surfaces.body_material(reference.body, path, reference.clear)
        sheet = _sheet(reference)
        rows, columns = reference.face.ink.shape
        scale = reference.face.per_mm
        uv = np.column_stack([sheet[:, 0] * scale / columns, 1 - (reference.width - sheet[:, 1]) * scale / rows])
        outline = carried(matrix, sheet)
        low = -reference.thickness if top_down else 0.0
        high = low + reference.thickness
        if not reference.clear:
            slabs.append(Slab(outline, low, high, face, side, uv))
            continue
        # A clear plate is printed on the face that lies on the cloth: on the table below, on glass above.
        ink_z = marks_z(reference, top_down)
        slabs.append(Slab(outline, ink_z - 0.01, ink_z, face, face, uv))
        slabs.append(Slab(outline, low - 0.1 if top_down else 0.1, high - (0.06 if top_down else 0), side, side))
    return slabs


def marks_z(reference: Reference, top_down: bool) -> float:
    """The height of a reference's marks, mm."""
    if top_down:
        return 0.0
    return 0.06 if reference.clear else reference.thickness


def _photo(trade: TradeBlock, kind: str, laid: Laid, stock: Stock, rng: Generator, work: Work, scratch: Path,
           path: Path) -> dict[str, Any]:  # fmt: skip
    base = laid.references[0][0].thickness if kind == "mat" else 0.0
    flat = [carried(m, card.outline) for card, _, m in laid.cards]
    flat += [carried(m, _sheet(reference)) for reference, m in laid.references]
    seen = np.concatenate(flat)
    wide = bool(np.ptp(seen[:, 0]) > np.ptp(seen[:, 1]))
    size = SIZES[int(rng.integers(len(SIZES)))]
    size = size if wide else (size[1], size[0])
    equivalent = float(rng.choice([24.0, 26.0, 28.0, 35.0, 52.0])) * float(rng.normal(1, 0.006))
    focal = equivalent / 36.0 * max(size)
    centre = tuple(float(s / 2 - 0.5 + rng.normal(0, 0.002 * max(size))) for s in size)
    tilt = float(rng.uniform(10, 35) if kind == "tilted" else rng.uniform(0, 5))
    azimuth = float(-90 + rng.normal(0, 25) if kind == "tilted" else rng.uniform(0, 360))
    bend = float(rng.normal(0, 0.012)), float(rng.normal(0, 0.006))
    camera = framed(np.column_stack([seen, np.zeros(len(seen))]), size, focal, bend, centre, tilt, azimuth,  # type: ignore[arg-type]
                    float(rng.normal(0, 4)), float(rng.uniform(0.86, 0.95)))  # fmt: skip
    names = [name for name in surfaces.GROUNDS if kind != "mat" or "cloth" not in name]
    table = str(rng.choice(names))
    light = _daylight(rng)
    focus = float(np.abs(camera.place[2] / camera.turn[2][2]) * rng.normal(1, 0.01))
    aperture = float(rng.uniform(0.5, 1.3))
    slabs = _slabs(laid, stock, False, base, [len(t.copies) for t in trade.templates], scratch, rng)
    ground = surfaces.GROUNDS[table](rng, scratch)
    raw = traced(slabs, ground, 0.0, light, camera, aperture, focus, work, scratch)
    lit = np.array(light.key) + np.array(light.sky)
    balance = (lit.mean() / lit) ** float(rng.uniform(0.6, 1.0)) * rng.normal(1, 0.015, 3)
    sensor = develop.Sensor(
        float(rng.uniform(0.74, 0.93)), float(rng.uniform(0.5, 0.85)), float(rng.uniform(0.008, 0.03)),
        tuple(float(b) for b in balance), float(rng.uniform(0, 0.35)), float(rng.uniform(0.2, 0.9)),  # type: ignore[arg-type]
        int(rng.integers(85, 96)),
    )  # fmt: skip
    code = develop.developed(develop.bent(raw, camera), sensor, rng)
    told = equivalent if rng.random() < 0.8 else None
    develop.written(code, sensor, path, equivalent=told, turned=not wide)
    return _told(camera, light, table, 0.0, base, sensor, told, not wide, False)


def _scan(trade: TradeBlock, laid: Laid, stock: Stock, rng: Generator, work: Work, scratch: Path,
          path: Path) -> dict[str, Any]:  # fmt: skip
    # Scanned no further than things lie.
    size = round((laid.field[0] + 12) / 25.4 * DPI), round((laid.field[1] + 12) / 25.4 * DPI)
    camera = Flatbed(size, DPI, (float(rng.normal(0, 0.003)), float(rng.normal(0, 0.003))))
    side = float(rng.choice([-1.0, 1.0]))
    light = Light("bar", (0.0, 0.7071 * side, 0.7071), 500.0, 35.0, (2.2, 2.2, 2.25), (0.8, 0.8, 0.8))
    table = str(rng.choice(list(surfaces.LIDS), p=[0.65, 0.15, 0.2]))
    thickest = max([stock.thickness, *(reference.thickness for reference, _ in laid.references)])
    lid_z = -thickest - float(rng.uniform(0.0, 0.6)) - 0.2
    slabs = _slabs(laid, stock, True, 0.0, [len(t.copies) for t in trade.templates], scratch, rng)
    raw = traced(slabs, surfaces.LIDS[table](rng, scratch), lid_z, light, camera, 0.0, 0.0, work, scratch)
    sensor = develop.Sensor(
        float(rng.uniform(0.85, 0.97)), float(rng.uniform(0.45, 0.8)), float(rng.uniform(0.004, 0.012)),
        (1.0, 1.0, 1.0), 0.0, float(rng.uniform(0.0, 0.6)), int(rng.integers(85, 96)),
    )  # fmt: skip
    code = develop.developed(raw, sensor, rng, 0.9 * (light.key[1] + light.sky[1]) / np.pi)
    develop.written(code, sensor, path, dpi=DPI)
    return _told(camera, light, table, lid_z, 0.0, sensor, None, False, True)


def _daylight(rng: Generator) -> Light:
    kind = str(rng.choice(["sun", "lamp", "window", "window"]))
    high = np.radians(rng.uniform(32, 72))
    round_ = rng.uniform(0, 2 * np.pi)
    towards = (float(np.cos(high) * np.cos(round_)), float(np.cos(high) * np.sin(round_)), float(np.sin(high)))
    ratio = float(rng.uniform(0.5, 2.5))
    warm = {"sun": (1.0, 0.95, 0.86), "lamp": (1.0, 0.86, 0.68), "window": (0.93, 0.97, 1.0)}[kind]
    size = {"sun": rng.uniform(0.6, 4.0), "lamp": rng.uniform(80, 350), "window": rng.uniform(600, 1200)}[kind]
    distance = {"sun": 1000.0, "lamp": rng.uniform(700, 1300), "window": rng.uniform(1200, 2200)}[kind]
    sky = (0.92, 0.97, 1.0) if kind != "lamp" else (1.0, 0.95, 0.88)
    return Light(kind, towards, float(distance), float(size), tuple(3 * ratio * c for c in warm),  # type: ignore[arg-type]
                 tuple(3 * c for c in sky))  # type: ignore[arg-type] # fmt: skip


def _told(camera: Phone | Flatbed, light: Light, table: str, table_z: float, base: float, sensor: develop.Sensor,
          equivalent: float | None, turned: bool, top_down: bool) -> dict[str, Any]:  # fmt: skip
    return {
        "camera": camera, "light": light, "table": table, "table_z": table_z, "base": base, "sensor": sensor,
        "equivalent": equivalent, "turned": turned, "top_down": top_down,
    }  # fmt: skip


def _placed(trade: TradeBlock, laid: Laid, stock: Stock, told: dict[str, Any]) -> list[Placed]:
    top = 0.0 if told["top_down"] else told["base"] + stock.thickness
    return [
        Placed(template, card, down, matrix, stock.name, stock.thickness, top, bool(stock.face and not down))
        for template, (card, down, matrix) in zip(trade.templates, laid.cards, strict=True)
    ]
