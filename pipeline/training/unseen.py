"""The family that no training ever sees: grounds, real textures and lights of its own kinds."""

import torch
from torch import Tensor

from training.compose import Family
from training.stuffs import Field, Stock, e1, e3, photographs, plain, scaled, uniform


def _tiles(u: Tensor, v: Tensor, size: Tensor) -> Tensor:
    """Six-sided tiles with joints: 1 on a tile's joint, else 0."""
    a, b, c = u / size, (u * 0.5 + v * 0.866) / size, (u * 0.5 - v * 0.866) / size
    near = [(torch.remainder(q, 1) - 0.5).abs() for q in (a, b, c)]
    return (torch.stack(near).amax(0) > 0.47).float()


def grounds(stock: Stock, field: Field, n: int, _level: Tensor) -> Tensor:
    """(n, 3, H, W) linear light, never calm: tiles, herringbone, tweed, terrazzo, ribs, rings, other photos."""
    d = stock.device
    u, v = field.turned(uniform(d, n, high=3.14))
    size = e1(scaled(d, n, low=14.0, high=90.0))
    kind = torch.randint(0, 8, (n, 1, 1), device=d)
    side = torch.floor(u / size) % 2 * 2 - 1
    bone = (torch.remainder(v + side * u, size / 3) < size / 6).float()
    tweed = torch.sigmoid(3 * stock.white(0, u / 2 + 3000, v + 3000)) * (0.5 + 0.5 * torch.sin((u + v) * 0.8))
    chips = torch.sigmoid(12 * (stock.white(1, u * 0.6 + 3000, v * 0.6 + 3000) - 0.9)) + torch.sigmoid(
        12 * (stock.white(1, u * 0.35 + 9000, v * 0.35) - 1.1)
    )
    ribs = 0.5 + 0.5 * torch.sin(u / size * 25)
    rings = 0.5 + 0.5 * torch.sin(
        torch.hypot(torch.remainder(u, size * 3) - size * 1.5, torch.remainder(v, size * 3) - size * 1.5) / size * 9
    )
    mix = torch.zeros_like(u)
    for k, option in enumerate((_tiles(u, v, size), bone, tweed, chips, ribs, rings)):
        mix = torch.where(kind == k, option, mix)
    base, other = plain(d, n), plain(d, n)
    other = torch.where(
        uniform(d, n, 1, 1, 1) < 0.6,
        (base * torch.exp(torch.randn(n, 3, 1, 1, device=d) * 0.35)).clamp(0, 1),
        other,
    )
    image = torch.lerp(
        base.expand(n, 3, field.height, field.width),
        other.expand(n, 3, field.height, field.width),
        (mix * e1(uniform(d, n, low=0.1)))[:, None],
    )
    image = torch.where((kind >= 6)[:, None], photographs(stock, field, n), image)
    return (image * (1 + 0.05 * stock.white(0, u + 4000, v + 4000)[:, None] * e3(uniform(d, n)))).clamp(0.003, 1)


def light(field: Field, n: int, device: torch.device) -> Tensor:
    """(n, H, W): a blind's slats, a round spot, a bright corner."""
    u, v = field.turned(uniform(device, n, high=6.28))
    half = field.width / 2
    slats = torch.sigmoid(torch.sin(u / e1(scaled(device, n, low=12.0, high=60.0))) * 6) * e1(
        (uniform(device, n) < 0.35) * uniform(device, n, low=0.1, high=0.6)
    )
    spot = torch.sigmoid(
        (torch.hypot(u / half - 0.2, v / half) - e1(uniform(device, n, low=0.5, high=1.2)))
        * e1(scaled(device, n, low=4.0, high=60.0))
    )
    spot = spot * e1((uniform(device, n) < 0.35) * uniform(device, n, low=0.2, high=0.7))
    return ((1 - slats) * (1 - spot) * (1 + 0.35 * u / half)).clamp(0.05, 2)


UNSEEN = Family(grounds, light)
