"""Painted scenes given stuff, light and shadow on the GPU: linear pictures and what every pixel is.

Shadows are marched over the map of heights towards each lamp, so that they fall across whatever lies there.
"""

from collections.abc import Callable
from dataclasses import dataclass

import torch
import torch.nn.functional as F  # noqa: N812 - its usual name
from torch import Tensor

from training import looks
from training.looks import AT
from training.stuffs import Field, Stock, e1, e3, grounds, plain, scaled, uniform

SHADOW_SEEN = 0.15  # a shadow that takes less of the light is none to speak of
STEPS = 12


def _of(table: Tensor, number: Tensor, name: str) -> Tensor:
    """Column(s) `name` of each pixel's thing: (B, H, W), or (B, 3, H, W) for colours."""
    width = looks.COLUMNS[name]
    n, height, wide = number.shape
    flat = number.reshape(n, -1)
    out = [table[:, :, AT[name] + k].gather(1, flat).reshape(n, height, wide) for k in range(width)]
    return out[0] if width == 1 else torch.stack(out, 1)


def _surface(stock: Stock, field: Field, table: Tensor, number: Tensor, ground: Tensor, second: Tensor) -> Tensor:
    """(B, 3, H, W) linear light of the things `number` (B, H, W), unlit."""
    n = len(number)
    colour, other = _of(table, number, "colour"), _of(table, number, "other")
    turn, scale = _of(table, number, "turn"), _of(table, number, "scale")
    c, s = torch.cos(turn) * scale, torch.sin(turn) * scale
    start = number * 137.0 + 3000
    u, v = field.x * c + field.y * s + start, -field.x * s + field.y * c + start
    stuff, strength = _of(table, number, "texture"), _of(table, number, "strength")
    fine, soft = stock.white(0, u, v), stock.white(1, u, v)
    grained = stock.white(1, u / _of(table, number, "stretch"), v)
    # From a weave to two or three bands over a card: the border between two of its colours is no border of it.
    period = 6 * torch.exp(3.7 * _of(table, number, "photo"))
    wave = torch.sin(u / period * 6.28)
    line = torch.remainder(v, 9.0) / 9
    words = (
        (line < 0.5)
        & (stock.white(1, u * 0.7, torch.floor(v / 9.0) * 41) > -0.4)
        & (torch.remainder(u, 260.0) > 16)
    )
    mix = torch.zeros_like(u)
    for k, option in (
        (looks.GRAINED, torch.sigmoid(2 * grained)), (looks.STRIPES, (wave > 0.2).float()),
        (looks.CHECKS, 0.5 * ((wave > 0).float() + (torch.sin(v / period * 6.28) > 0).float())),
        (looks.TEXT, words.float()), (looks.SPOTS, (soft > 1.0).float()),
        (looks.FIBRES, torch.sigmoid(3 * soft) * 0.35 + (fine > 2.2) * 0.4),
    ):  # fmt: skip
        mix = torch.where(stuff == k, option, mix)
    out = torch.lerp(colour, other, (mix * strength)[:, None])
    # Prints of many colours: blots, and the panels of a box with words on some; their edges are no card's.
    third, fourth = _of(table, number, "third"), _of(table, number, "fourth")
    row = torch.floor(v / (period * 2.3))
    panel = stock.white(0, torch.floor(u / (period * 3) + 0.37 * row) * 31 + 2000, row * 17 + 2000)
    blot, spot = stock.white(3, u * 0.9, v * 0.9), stock.white(3, u * 1.4 + 900, v * 1.4 + 300)
    some = stock.white(3, u + 300, v + 1100)
    # Bands as on boxes, each of its own breadth and one of four colours; words here and there.
    breadth = period.clamp_min(16)
    band = torch.floor(u / breadth + 0.3 * torch.sin(u / breadth * 2.1))
    hue = stock.white(0, band * 31 + 2000, (v * 0 + number) * 17 + 2000)
    for k, first, second_, last in (
        (looks.BANDS, hue > 0.55, hue < -0.75, (hue > 1.3) | (words & (some > 0.5))),
        (looks.BLOTS, blot > 0.35, spot > 0.55, some > 0.9),
        (looks.PANELS, panel > 0.2, panel < -0.4, ((panel > 0.9) | (panel < -0.9)) & (words | (panel > 1.4))),
    ):
        print_ = torch.where(first[:, None], other, colour)
        print_ = torch.where(second_[:, None], third, print_)
        out = torch.where((stuff == k)[:, None], torch.where(last[:, None], fourth, print_), out)
    photo = stock.look_up(_of(table, number, "photo"), u, v)
    out = torch.where(
        (stuff == looks.PHOTO)[:, None], torch.lerp(colour, photo, (0.3 + 0.7 * strength)[:, None]), out
    )
    uneven = 1 + fine * _of(table, number, "grain") + field.soft(n, 5, 11) * _of(table, number, "cloud")
    gloss = _of(table, number, "gloss")
    shine = torch.sigmoid(4 * stock.white(2, u * 0.3, v * 0.3) - 1.5) * gloss
    out = out * uneven[:, None] * (1 - 0.5 * gloss[:, None]) + shine[:, None] * 0.8
    return torch.where(
        (number == 0)[:, None], ground, torch.where((_of(table, number, "sheet") > 0.5)[:, None], second, out)
    )


def _cast(high: Tensor, toward: Tensor, slope: Tensor, soft: Tensor, field: Field) -> Tensor:
    """(B, H, W) part of a lamp's light kept off: `toward` (B,) direction, `slope` px of height a px across."""
    dark = torch.zeros_like(high)
    reach = high.flatten(1).amax(1) / slope
    size = torch.tensor([2.0 / field.width, 2.0 / field.height], device=high.device)
    middle = torch.stack([(field.x + 0.5) * size[0], (field.y + 0.5) * size[1]], -1)
    way = torch.stack([torch.cos(toward), torch.sin(toward)], 1) * size
    for k in range(STEPS):
        far = reach * ((k + 0.6) / STEPS)
        grid = middle + (way * far[:, None])[:, None, None]
        there = F.grid_sample(high[:, None], grid, align_corners=False, padding_mode="border", mode="nearest")[:, 0]
        above = there - high - e1(far * slope)
        dark = torch.maximum(dark, (above / e1(0.15 * reach * slope / STEPS + 0.05)).clamp(0, 1))
    wide, wider = (
        F.avg_pool2d(dark[:, None], 5, 1, 2)[:, 0],
        F.avg_pool2d(F.avg_pool2d(dark[:, None], 9, 1, 4), 9, 1, 4)[:, 0],
    )
    return torch.where(
        e1(soft < 0.5),
        torch.lerp(dark, wide, e1(soft * 2).clamp(0, 1)),
        torch.lerp(wide, wider, e1(soft * 2 - 1).clamp(0, 1)),
    )


def _rim(high: Tensor, toward: Tensor, field: Field) -> Tensor:
    """(B, H, W) how far a pixel is an edge, above its neighbour towards the lamp: it catches light."""
    size = torch.tensor([2.0 / field.width, 2.0 / field.height], device=high.device)
    way = torch.stack([torch.cos(toward), torch.sin(toward)], 1) * size * 1.2
    grid = torch.stack([(field.x + 0.5) * size[0], (field.y + 0.5) * size[1]], -1) + way[:, None, None]
    there = F.grid_sample(high[:, None], grid, align_corners=False, padding_mode="border")[:, 0]
    return (high - there).clamp(0, 1)


def _lower(table: Tensor, own: Tensor, chosen: Tensor) -> Tensor:
    """(n, 3) colours: where `chosen` (n, 1) that of the paper or mat on the table, if there is one; else `own`."""
    lower = (table[:, :, AT["label"]] == looks.GROUND_LABEL) & (table[:, :, AT["sheet"]] < 0.5)
    lower = lower & (table[:, :, AT["height"]] > 0)
    first = lower.float().argmax(1)
    colour = table[torch.arange(len(table), device=table.device), first, :3]
    return torch.where(chosen & lower.any(1)[:, None], colour, own)


def _room_light(field: Field, n: int, device: torch.device) -> Tensor:
    """(n, H, W) uneven light: falling off, pools, frames' and people's shadows across everything."""
    half = field.width / 2
    a = uniform(device, n, high=6.28)
    x, y = field.x / half, field.y / half
    out = 1 + 0.6 * e1(uniform(device, n, low=-1.0)) * (x * e1(torch.cos(a)) + y * e1(torch.sin(a)))
    cx, cy = e1(uniform(device, n, low=-0.8, high=0.8)), e1(uniform(device, n, low=-0.8, high=0.8))
    out = out * torch.exp(-((x - cx) ** 2 + (y - cy) ** 2) * e1(uniform(device, n) ** 2 * 1.2))
    for k in range(4):
        u, _ = field.turned(uniform(device, n, high=6.28))
        u = u / half
        soft = e1(scaled(device, n, low=0.003, high=0.15))
        wide = e1(
            torch.where(
                uniform(device, n) < 0.6,
                scaled(device, n, low=0.03, high=0.5),
                torch.full((n,), 5.0, device=device),
            )
        )
        at = e1(uniform(device, n, low=-1.0, high=1.0))
        band = torch.sigmoid((u - at) / soft) * torch.sigmoid((wide - (u - at)) / soft)
        out = out * (
            1 - band * e1((uniform(device, n) < (0.3 if k < 2 else 0.15)) * uniform(device, n, low=0.15, high=0.85))
        )
    # A window's panes: bright fields, dark bars between them, dark beyond.
    u, v = field.turned(uniform(device, n, high=6.28))
    soft = e1(scaled(device, n, low=0.004, high=0.06))
    wide, tall = e1(scaled(device, n, low=0.12, high=0.7)), e1(scaled(device, n, low=0.12, high=0.9))
    u, v = (
        u / half + e1(uniform(device, n, low=-1.0, high=1.0)),
        v / half + e1(uniform(device, n, low=-1.0, high=1.0)),
    )
    u = u + v * e1(torch.randn(n, device=device) * 0.3)
    bar = e1(scaled(device, n, low=0.02, high=0.12))
    inside = torch.sigmoid(((u / wide - torch.floor(u / wide) - 0.5).abs() * -wide + (wide - bar) / 2) / soft)
    inside = inside * torch.sigmoid(
        ((v / tall - torch.floor(v / tall) - 0.5).abs() * -tall + (tall - bar) / 2) / soft
    )
    extent = e1(scaled(device, n, low=0.3, high=3.0))
    inside = inside * torch.sigmoid((extent - torch.maximum(u.abs(), v.abs())) / soft)
    out = out * (1 - (1 - inside) * e1((uniform(device, n) < 0.14) * uniform(device, n, low=0.2, high=0.8)))
    blob = torch.sigmoid((field.soft(n, 4, 6) - 0.2) / e1(scaled(device, n, low=0.02, high=0.5)))
    return (out * (1 - blob * e1((uniform(device, n) < 0.2) * uniform(device, n, low=0.2, high=0.75)))).clamp(
        0.03, 2
    )


@dataclass(frozen=True)
class Family:
    """Where grounds and uneven light come from; the unseen family has its own."""

    grounds: Callable[[Stock, Field, int, Tensor], Tensor] = grounds
    light: Callable[[Field, int, torch.device], Tensor] = _room_light


def compose(
    stock: Stock, field: Field, top: Tensor, below: Tensor, ink: Tensor, table: Tensor,
    family: Family | None = None,
) -> tuple[Tensor, Tensor, Tensor]:  # fmt: skip
    """Pictures and labels of painted scenes.

    `top`, `below`, `ink` (B, H, W) uint8 and `table` (B, 256, looks.WIDTH) on the device. Returns linear light
    (B, 3, H, W), labels (B, H, W) uint8 without borders, and the number of each pixel's card or 0, likewise.
    """
    d, n, family = stock.device, len(top), family or Family()
    number, under = top.long(), below.long()
    level = table[:, 0, AT["calm"]]
    quiet, homely = level >= looks.CALM, level >= looks.HOMELY
    ground, second = (family.grounds(stock, field, n, level) for _ in range(2))
    # Cards much like their ground are the hardest: make them often. Alike is what has the ground's mean colour, or
    # one of those that it is printed in: cream card on cream calico.
    alike = (uniform(d, n) < torch.where(homely, 0.18, 0.25)) & (table[:, 1:, AT["label"]] == looks.FACE).any(1)
    there = torch.randint(0, field.height * field.width, (n, 1, 1), device=d).expand(n, 3, 1)
    own = torch.where(uniform(d, n, 1) < 0.5, ground.mean((2, 3)), ground.flatten(2).gather(2, there)[..., 0])
    own = _lower(table, own, uniform(d, n, 1) < 0.6)
    card = table[:, :, AT["label"]] == looks.FACE
    near = (
        own[:, None] * torch.exp(torch.randn(n, 1, 1, device=d) * 0.1) + torch.randn(n, 1, 3, device=d) * 0.012
    ).clamp(0.01, 0.97)
    table = table.clone()
    like = (alike[:, None] & card)[..., None]
    table[:, :, :3] = torch.where(like, near.expand(n, 256, 3), table[:, :, :3])
    # Their fibres and their sides are of the same stuff, in another light: only this and shadows show the card.
    bare = (
        like
        & torch.isin(table[:, :, AT["texture"]], torch.tensor([looks.PLAIN, looks.FIBRES], device=d))[..., None]
    )
    fibres = slice(AT["other"], AT["other"] + 3)
    table[:, :, fibres] = torch.where(
        bare, (near * e3(scaled(d, n, low=0.75, high=1.3))[..., 0]).expand(n, 256, 3), table[:, :, fibres]
    )
    side = (alike & (uniform(d, n) < 0.7))[:, None] & (table[:, :, AT["label"]] == looks.SIDE)
    turned = (near * e3(uniform(d, n, low=0.45, high=1.25))[..., 0]).clamp(0, 0.97)
    table[:, :, :3] = torch.where(side[..., None], turned.expand(n, 256, 3), table[:, :, :3])
    image = _surface(stock, field, table, number, ground, second)
    clear = _of(table, number, "clear") > 0.5
    if bool(clear.any()):
        through = _surface(stock, field, table, under, ground, second)
        tint = _of(table, number, "tint")[:, None]
        seen = through * (1 - tint) + tint * image
        inside = -F.max_pool2d(-clear[:, None].float(), 3, 1, 1) > 0.5  # a clear plate's rim gathers light
        seen = torch.where(inside, seen, seen * e3(uniform(d, n, low=0.4, high=1.7)))
        image = torch.where(clear[:, None], seen, image)
    inked = ink.float()[:, None] / 255 * _of(table, number, "ink")[:, None]
    image = torch.lerp(image, _of(table, number, "inked"), inked)
    high = _of(table, number, "height")
    main = uniform(d, n, high=6.28)
    ambient = e1(uniform(d, n, low=0.12, high=0.9))
    slope = scaled(d, n, low=0.25, high=2.5)
    first = _cast(high, main, slope, uniform(d, n) ** 1.3, field)
    second_lamp = (uniform(d, n) < 0.3) * uniform(d, n, low=0.2, high=0.9)
    other = _cast(
        high, main + uniform(d, n, low=1.0, high=5.0), scaled(d, n, low=0.25, high=2.5), uniform(d, n), field
    )
    hue = (plain(d, n) * 0.25 + 0.85) * e3(uniform(d, n, low=0.9, high=1.1))
    lit = ambient[:, None] + (1 - ambient[:, None]) * (
        (1 - first)[:, None] + (1 - other)[:, None] * e3(second_lamp) * hue
    ) / (1 + e3(second_lamp))
    lit = lit * (1 + _rim(high, main, field) * e1(uniform(d, n, high=0.4)))[:, None]
    contact = F.avg_pool2d(high[:, None], 5, 1, 2)[:, 0] - high  # where little of the sky is seen
    lit = lit * (1 - (contact * 0.12).clamp(0, 0.4) * e1(uniform(d, n)))[:, None]
    glare = torch.sigmoid((field.soft(n, 3) - 1.6) * 4) * e1((uniform(d, n) < 0.15) * uniform(d, n, high=0.6))
    calm = uniform(d, n) < torch.where(quiet, 0.5, 0.3)  # a scanner, a cloudy day
    light = family.light(field, n, d)
    room = torch.where(e1(calm), 1 + (light - 1) * 0.08, light)
    image = image * lit * room[:, None] + glare[:, None] * e3(~calm)
    label = _of(table, number, "label").to(torch.uint8)
    taken = 1 - lit.mean(1)
    shaded = (label == looks.GROUND_LABEL) & (torch.maximum(first, other) > 0.3) & (taken > SHADOW_SEEN)
    label = torch.where(shaded, torch.full_like(label, looks.SHADOW), label)
    cards = torch.where(label == looks.FACE, top, torch.zeros_like(top))
    return image.clamp(0, 1.5), label, cards


def bordered(label: Tensor, card: Tensor) -> Tensor:
    """Labels with a card's outermost pixels as BORDER: those within two of what is no longer that card."""
    number = card.float()[:, None]
    other = (F.max_pool2d(number, 5, 1, 2) != number) | (-F.max_pool2d(-number, 5, 1, 2) != number)
    return torch.where(other[:, 0] & (label == looks.FACE), torch.full_like(label, looks.BORDER), label)
