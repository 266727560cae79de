"""What things are made of: grounds, cards, rulers' bodies, as Blender's materials. Lengths in mm."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numpy.random import Generator
from PIL import Image, ImageDraw, ImageFilter

from .nodes import Colour, Shader

Made = Callable[[Generator, Path], Any]  # a material, drawn by lot; its pictures in a folder


def _linear(*colour: float) -> Colour:
    """An sRGB colour of 0 to 255 as linear reflectances."""
    red, green, blue = (float((c / 255) ** 2.2) for c in colour)
    return red, green, blue


def _wood(dark: Colour, pale: Colour, plank: float) -> Made:
    def made(rng: Generator, _: Path) -> Any:
        shader = Shader("wood")
        turn = float(rng.choice([0.0, np.pi / 2])) + float(rng.normal(0, 0.04))
        along = shader.stretched(0.006, 0.09, turn)
        fibre = shader.noise(shader.stretched(0.05, 1.6, turn), 1.0, 2.0, 0.6)
        rings = shader.maths("SINE", shader.maths("MULTIPLY", shader.noise(along, 1.0, 2.0), 26.0))
        tone = shader.maths("MULTIPLY_ADD", rings, 0.18, shader.maths("MULTIPLY", fibre, 0.9))
        colour = shader.ramp(tone, (0.15, dark), (0.75, pale))
        across = shader.node("ShaderNodeSeparateXYZ", {0: shader.stretched(1.0, 1.0, turn)}).outputs[1]
        share = shader.maths("FRACT", shader.maths("DIVIDE", across, plank))
        seam = shader.maths("LESS_THAN", share, 0.8 / plank)
        colour = shader.mix(seam, colour, (*(c * 0.25 for c in dark), 1.0))
        return shader.finish(colour, float(rng.uniform(0.3, 0.6)), Normal=shader.bumped(fibre, 0.15))

    return made


def _speckled(stops: tuple[tuple[float, Colour], ...], grain: float, rough: float) -> Made:
    def made(_: Generator, __: Path) -> Any:
        shader = Shader("stone")
        cells = shader.node("ShaderNodeTexVoronoi", {"Vector": shader.at, "Scale": 1 / grain}).outputs["Color"]
        value = shader.node("ShaderNodeSeparateColor", {0: cells}).outputs[0]
        cloud = shader.noise(shader.at, 0.06 / grain, 2.0)
        mixed = shader.maths("MULTIPLY_ADD", cloud, 0.5, shader.maths("MULTIPLY", value, 0.6))
        return shader.finish(shader.ramp(mixed, *stops), rough)

    return made


def _plain(colour: Colour, spread: float, grain: float, bump: float, rough: float) -> Made:
    def made(_: Generator, __: Path) -> Any:
        shader = Shader("plain")
        fine = shader.noise(shader.at, 1 / grain, 3.0, 0.65)
        wide = shader.noise(shader.at, 0.02, 2.0)
        value = shader.maths("MULTIPLY_ADD", fine, 0.5, shader.maths("MULTIPLY", wide, 0.5))
        low = tuple(c * (1 - spread) for c in colour)
        high = tuple(min(c * (1 + spread), 0.9) for c in colour)
        tone = shader.ramp(value, (0.3, low), (0.7, high))  # type: ignore[arg-type]
        more = {"Normal": shader.bumped(fine, bump)} if bump else {}
        return shader.finish(tone, rough, **more)

    return made


def _cloth(pattern: str) -> Made:
    def made(rng: Generator, folder: Path) -> Any:
        shader = Shader("cloth")
        turn = float(rng.normal(0, 0.15))
        picture = folder / f"{pattern}.png"
        _PATTERNS[pattern](rng).save(picture, compress_level=1)
        tile = float(rng.uniform(90, 170))
        colour = shader.image(picture, shader.stretched(1 / tile, 1 / tile, turn)).outputs[0]
        pitch = float(rng.uniform(0.45, 0.8))
        split = shader.node("ShaderNodeSeparateXYZ", {0: shader.stretched(6.2832 / pitch, 6.2832 / pitch, turn)})
        waves = [shader.maths("SINE", split.outputs[n]) for n in (0, 1)]
        weave = shader.maths("MULTIPLY", *waves)
        soft = shader.noise(shader.at, 0.012, 1.0)
        height = shader.maths("MULTIPLY_ADD", soft, 30.0, weave)
        shade = shader.ramp(shader.maths("MULTIPLY_ADD", weave, 0.5, 0.5), (0.0, (0.72,) * 3), (1.0, (1.0,) * 3))
        return shader.finish(shader.mix(1.0, colour, shade, "MULTIPLY"), 0.95, Normal=shader.bumped(height, 0.06))

    return made


def _flowers(rng: Generator) -> Image.Image:
    side = 1000
    back = tuple(int(c) for c in rng.choice([(232, 224, 206), (44, 58, 88), (150, 178, 166), (120, 40, 52)]))
    picture = Image.new("RGB", (side, side), back)
    pen = ImageDraw.Draw(picture)
    for _ in range(int(rng.integers(26, 60))):
        x, y, r = rng.uniform(0, side), rng.uniform(0, side), rng.uniform(18, 62)
        petals, colour = int(rng.integers(5, 8)), tuple(int(c) for c in rng.integers(60, 245, 3))
        for ox in (-side, 0, side):
            for oy in (-side, 0, side):
                if not (-100 < x + ox < side + 100 and -100 < y + oy < side + 100):
                    continue
                cx, cy = x + ox, y + oy
                pen.ellipse([cx + r, cy + r * 0.7, cx + 2.2 * r, cy + 1.2 * r], fill=(74, 112, 66))
                for k in range(petals):
                    a = 2 * np.pi * k / petals
                    px, py = cx + r * 0.8 * np.cos(a), cy + r * 0.8 * np.sin(a)
                    pen.ellipse([px - r / 2, py - r / 2, px + r / 2, py + r / 2], fill=colour)
                pen.ellipse([cx - r / 3, cy - r / 3, cx + r / 3, cy + r / 3], fill=(226, 186, 74))
    return picture.filter(ImageFilter.GaussianBlur(1.0))


def _checks(rng: Generator) -> Image.Image:
    side = 960
    base = rng.integers(150, 245, 3).astype(float)
    cloth = np.ones((side, side, 3)) * base
    for _ in range(int(rng.integers(2, 4))):
        colour, width = rng.uniform(0.35, 0.9, 3), int(rng.integers(20, 240))
        start = int(rng.integers(0, side - width))
        cloth[start : start + width] *= 0.5 + colour / 2
        cloth[:, start : start + width] *= 0.5 + colour / 2
    return Image.fromarray(cloth.astype(np.uint8))


def _one_colour(rng: Generator) -> Image.Image:
    return Image.new("RGB", (8, 8), tuple(int(c) for c in rng.integers(40, 235, 3)))


_PATTERNS = {"floral cloth": _flowers, "checked cloth": _checks, "plain cloth": _one_colour}

GROUNDS: dict[str, Made] = {
    "oak": _wood(_linear(150, 108, 66), _linear(206, 168, 118), 130.0),
    "walnut": _wood(_linear(62, 40, 28), _linear(118, 82, 58), 110.0),
    "granite": _speckled(
        ((0.2, _linear(36, 34, 36)), (0.5, _linear(120, 112, 108)), (0.8, _linear(206, 200, 194))), 2.2, 0.15
    ),
    "laminate": _plain(_linear(226, 222, 212), 0.05, 0.8, 0.0, 0.35),
    "concrete": _plain(_linear(140, 138, 134), 0.25, 3.0, 0.2, 0.9),
    "carpet": _plain(_linear(122, 104, 88), 0.5, 1.3, 2.2, 1.0),
    "floral cloth": _cloth("floral cloth"),
    "checked cloth": _cloth("checked cloth"),
    "plain cloth": _cloth("plain cloth"),
}
LIDS: dict[str, Made] = {
    "white lid": _plain(_linear(246, 246, 244), 0.01, 30.0, 0.0, 0.6),
    "grey lid": _plain(_linear(150, 152, 154), 0.02, 30.0, 0.0, 0.6),
    "black lid": _plain(_linear(30, 30, 32), 0.05, 30.0, 0.0, 0.6),
}

CARDS: dict[str, tuple[float, float]] = {  # thinnest and thickest, mm
    "grey chipboard": (0.8, 2.0),
    "cream card": (0.3, 0.8),
    "kraft card": (0.4, 0.9),
    "cereal box, printed side": (0.4, 0.6),
    "cereal box, grey side": (0.4, 0.6),
    "coloured card": (0.25, 0.5),
    "white paper": (0.2, 0.3),
    "frosted acrylic": (1.0, 2.0),
    "clear acrylic": (1.5, 2.0),
}
_FACES = {
    "grey chipboard": (158, 152, 142),
    "cream card": (238, 226, 196),
    "kraft card": (186, 146, 102),
    "cereal box, grey side": (172, 166, 154),
    "white paper": (244, 244, 242),
}


def card_materials(stock: str, tint: Colour, ink: Path | None, folder: Path, rng: Generator) -> tuple[Any, Any]:
    """A card's face and its side walls; `ink` is what is written on it, dark on white."""
    if stock.endswith("acrylic"):
        return _acrylic(stock, tint), _acrylic(stock, tuple(c * 0.5 for c in tint))  # type: ignore[arg-type]
    shader, side = Shader("face"), Shader("side")
    if stock == "cereal box, printed side":
        picture = folder / f"box{int(rng.integers(1 << 30))}.png"
        _box_front(rng).save(picture, compress_level=1)
        colour = shader.image(picture, shader.node("ShaderNodeUVMap").outputs[0]).outputs[0]
        wall = _linear(168, 160, 148)
    else:
        base = tint if stock == "coloured card" else _linear(*_FACES[stock])
        flecks = shader.noise(shader.at, 0.9, 3.0, 0.7)
        spread = 0.14 if "grey" in stock or "kraft" in stock else 0.03
        dark, pale = (tuple(min(c * f, 0.92) for c in base) for f in (1 - spread, 1 + spread))
        colour = shader.ramp(flecks, (0.3, dark), (0.7, pale))  # type: ignore[arg-type]
        wall = tuple(c * 0.85 for c in base)  # type: ignore[assignment]
    if ink is not None:
        colour = shader.mix(1.0, colour, shader.image(ink).outputs[0], "MULTIPLY")
    rough = 0.35 if stock == "cereal box, printed side" else 0.75
    return shader.finish(colour, rough), side.finish((*wall, 1.0), 0.95)


def _acrylic(stock: str, tint: Colour) -> Any:
    """A thin tinted pane: light goes straight through, part of it mirrored; frosted scatters a share of it."""
    shader = Shader(stock)
    through = shader.node("ShaderNodeBsdfTransparent", {0: tint}).outputs[0]
    if stock.startswith("frosted"):
        milk = shader.node("ShaderNodeBsdfDiffuse", {0: (0.82, 0.84, 0.86)}).outputs[0]
        through = shader.node("ShaderNodeMixShader", {0: 0.45, 1: through, 2: milk}).outputs[0]
    gloss = shader.node("ShaderNodeBsdfGlossy", {"Roughness": 0.08}).outputs[0]
    # Only what comes from outside is mirrored; from behind, the pane would be taken for solid and mirror wholly.
    outside = shader.maths("SUBTRACT", 1.0, shader.node("ShaderNodeNewGeometry").outputs["Backfacing"])
    share = shader.maths("MULTIPLY", shader.node("ShaderNodeFresnel", {"IOR": 1.49}).outputs[0], outside)
    return shader.out(shader.node("ShaderNodeMixShader", {0: share, 1: through, 2: gloss}).outputs[0])


def _box_front(rng: Generator) -> Image.Image:
    """A printed box's front: bands, blobs and large invented words."""
    from .lettering import hand

    side = 1200
    picture = Image.new("RGB", (side, side), tuple(int(c) for c in rng.integers(40, 240, 3)))
    pen = ImageDraw.Draw(picture)
    for _ in range(4):
        start, tall = int(rng.integers(0, side)), int(rng.integers(60, 260))
        pen.rectangle([0, start, side, start + tall], fill=tuple(int(c) for c in rng.integers(30, 250, 3)))
    for _ in range(9):
        x, y, r = (float(rng.integers(*span)) for span in ((0, side), (0, side), (40, 170)))
        pen.ellipse([x - r, y - r, x + r, y + r], fill=tuple(int(c) for c in rng.integers(30, 250, 3)))
    for word in ("CRISP", "OAT RINGS", "with honey", "375 g"):
        place = int(rng.integers(0, 700)), int(rng.integers(0, 1050))
        pen.text(place, word, fill=tuple(int(c) for c in rng.integers(0, 255, 3)), font=hand(rng, 150))
    return picture


def body_material(body: str, face: Path, clear: bool) -> tuple[Any, Any]:
    """A reference's printed face and its body."""
    shader, side = Shader("print"), Shader("body")
    picture = shader.image(face)
    if clear:
        ink = shader.node("ShaderNodeBsdfDiffuse", {0: picture.outputs[0]}).outputs[0]
        none = shader.node("ShaderNodeBsdfTransparent").outputs[0]
        printed = shader.out(
            shader.node("ShaderNodeMixShader", {0: picture.outputs[1], 1: none, 2: ink}).outputs[0]
        )
        return printed, _acrylic("clear acrylic", (0.93, 0.97, 0.94))
    colour = picture.outputs[0]
    if body == "steel":
        brushed = shader.noise(shader.stretched(0.3, 8.0), 1.0, 2.0)
        face_made = shader.finish(colour, 0.42, Metallic=0.75, Normal=shader.bumped(brushed, 0.01))
        return face_made, side.finish((0.3, 0.3, 0.31, 1.0), 0.3, Metallic=1.0)
    if body == "wood":
        fibre = shader.noise(shader.stretched(0.08, 1.8), 1.0, 3.0)
        grain = shader.ramp(fibre, (0.3, (0.8, 0.74, 0.66)), (0.7, (1.0, 1.0, 1.0)))
        return shader.finish(shader.mix(1.0, colour, grain, "MULTIPLY"), 0.4), side.finish(
            (0.5, 0.3, 0.14, 1.0), 0.7
        )
    rough = {"plastic": 0.25, "cloth": 0.8, "mat": 0.6}[body]
    wall = {"plastic": (0.75, 0.75, 0.72, 1.0), "cloth": (0.6, 0.55, 0.35, 1.0), "mat": (0.1, 0.12, 0.12, 1.0)}[
        body
    ]
    return shader.finish(colour, rough), side.finish(wall, 0.7)
