"""Grounds and surfaces drawn on the GPU: noise, wood, cloth, checks, prints, mats, stone, photographs of real ones.

All sizes are canvas pixels of a picture 900 px wide; frames as in `raster`.
"""

import math

import torch
import torch.nn.functional as F  # noqa: N812 - its usual name
from torch import Tensor

GROUNDS = 19
CALM = (0, 0, 0, 0, 1, 2, 2, 3, 3, 6, 7, 9, 9)  # which of the grounds are plain, wood, plain cloth, mats, paper
# Gingham, flowers, blots of two colours, stone too.
HOMELY = (0, 0, 0, 0, 0, 0, 1, 3, 3, 9, 9, 9, 8, 4, 4, 4, 14, 14, 14, 14, 10, 10, 10, 11, 11, 16)
BUSY = (4, 14, 14, 14, 14, 10, 10, 16)  # printed cloth alone
_WOODEN, _CHECKED, _FLOWERED, _BLOTTED, _STONE = (8, 9), 4, 14, 10, 11


def uniform(device: torch.device, *size: int, low: float = 0.0, high: float = 1.0) -> Tensor:
    """Even random numbers."""
    return torch.rand(*size, device=device) * (high - low) + low


def scaled(device: torch.device, *size: int, low: float, high: float) -> Tensor:
    """Random numbers even in their logarithm."""
    return torch.exp(uniform(device, *size, low=math.log(low), high=math.log(high)))


def e1(t: Tensor) -> Tensor:
    """(n,) as (n, 1, 1)."""
    return t[:, None, None]


def e3(t: Tensor) -> Tensor:
    """(n,) as (n, 1, 1, 1)."""
    return t[:, None, None, None]


class Stock:
    """Noise and texture crops kept on the device: drawn once, looked up ever after.

    `photos`: (n, 3, s, s) uint8 sRGB. `noise`: white, soft and softer, ... (4, 512, 512) of unit variance.
    """

    def __init__(self, device: torch.device, photos: Tensor) -> None:
        self.device = device
        self.photos = photos.to(device)
        self.layers = (self.photos.permute(1, 0, 2, 3)[None].float() / 255) ** 2.2  # (1, 3, n, s, s)
        layers = [torch.randn(512, 512, device=device)]
        for cells in (128, 32, 11):
            soft = F.interpolate(
                torch.randn(1, 1, cells, cells, device=device), (512, 512), mode="bicubic", align_corners=False
            )[0, 0]
            layers.append(soft / soft.std())
        self.noise = torch.stack(layers)

    def look_up(self, which: Tensor, u: Tensor, v: Tensor) -> Tensor:
        """(B, 3, H, W) linear light of crop `which` (B, H, W; 0 to 1) at (u, v) of its px, mirrored on and on."""
        n, side = self.layers.shape[2], self.layers.shape[3]
        index = torch.floor(which.clamp(0, 0.9999) * n)
        grid = torch.stack([u / side * 2 - 1, v / side * 2 - 1, (2 * index + 1) / n - 1], -1)
        grid[..., :2] = (torch.remainder(grid[..., :2] + 1, 4) - 2).abs() - 1
        out = F.grid_sample(self.layers, grid[None], align_corners=False, padding_mode="border")
        return out[0].transpose(0, 1)

    def white(self, level: int, u: Tensor, v: Tensor) -> Tensor:
        """Noise at (u, v) px, the nearest value: same shape."""
        return self.noise[level][torch.remainder(v.long(), 512), torch.remainder(u.long(), 512)]


class Field:
    """Smooth noise over the canvas from a bank, so that it costs a look-up."""

    def __init__(self, device: torch.device, height: int, width: int, kept: int = 48) -> None:
        self.device, self.height, self.width, self.kept = device, height, width, kept
        self.bank: dict[tuple[int, int], Tensor] = {}
        y, x = torch.meshgrid(
            torch.arange(height, device=device).float(), torch.arange(width, device=device).float(), indexing="ij"
        )
        self.x, self.y = x - width / 2, y - height / 2

    def soft(self, n: int, *cells: int | tuple[int, int]) -> Tensor:
        """(n, H, W): a sum of smooth noises with so many cells across (or down, across), coarse ones stronger."""
        out = torch.zeros(n, self.height, self.width, device=self.device)
        for cell in cells:
            key = (cell, cell) if isinstance(cell, int) else cell
            if key not in self.bank:
                made = torch.randn(self.kept, 1, *key, device=self.device)
                big = F.interpolate(made, (self.height, self.width), mode="bicubic", align_corners=False)
                self.bank[key] = (big[:, 0] * (8.0 / max(key)) ** 0.35).half()
            pick = self.bank[key][torch.randint(0, self.kept, (n,), device=self.device)]
            k = int(torch.randint(0, 4, (1,)))
            out += pick.flip([[], [1], [2], [1, 2]][k]) if k else pick
        return out

    def turned(self, angle: Tensor) -> tuple[Tensor, Tensor]:
        """Canvas px about its middle, turned by `angle` (n,): two (n, H, W)."""
        c, s = e1(torch.cos(angle)), e1(torch.sin(angle))
        return self.x * c + self.y * s, -self.x * s + self.y * c


def plain(device: torch.device, n: int) -> Tensor:
    """(n, 3, 1, 1) linear colours, many nearly grey."""
    base = uniform(device, n, 3, 1, 1, low=0.01, high=0.95)
    return torch.lerp(base, base.mean(1, keepdim=True).expand_as(base), uniform(device, n, 1, 1, 1) ** 0.6)


def photographs(stock: Stock, field: Field, n: int) -> Tensor:
    """Real textures as ground, turned, scaled, recoloured, flattened: (n, 3, H, W) linear."""
    d = stock.device
    u, v = field.turned(uniform(d, n, high=6.28))
    zoom = e1(scaled(d, n, low=0.25, high=1.6))
    shift = uniform(d, n, 2, 1, 1, high=1000.0)
    which = e1(uniform(d, n)).expand_as(u)
    t = stock.look_up(which, u * zoom + shift[:, 0], v * zoom + shift[:, 1])
    mean = t.mean((2, 3), keepdim=True)
    grey = torch.lerp(
        t, t.mean(1, keepdim=True).expand_as(t), (uniform(d, n, 1, 1, 1) < 0.4).float() * uniform(d, n, 1, 1, 1)
    )
    gain = torch.where(uniform(d, n, 1, 1, 1) < 0.5, torch.ones_like(mean), plain(d, n) / (mean + 0.02))
    flat = uniform(d, n, 1, 1, 1, low=0.12, high=1.0)
    return torch.lerp(mean * gain, grey * gain, flat).clamp(0.004, 1)


def usual(device: torch.device, n: int) -> Tensor:
    """(n, 3, 1, 1) linear colours of tables, cloths, lids and mats as people have them."""
    white = uniform(device, n, low=0.55, high=0.95)
    warm = 1 - uniform(device, n, 1, high=0.45) ** 1.5 * torch.tensor([0.0, 0.25, 1.0], device=device)
    grey = uniform(device, n, low=0.1, high=0.5)
    black = uniform(device, n, low=0.004, high=0.05)
    wood = scaled(device, n, low=0.08, high=0.65)
    brown = torch.tensor([1.0, 0.6, 0.3], device=device) * torch.exp(torch.randn(n, 3, device=device) * 0.1)
    mat = uniform(device, n, 3, low=0.015, high=0.35)
    options = torch.stack([
        white[:, None] * warm, white[:, None].expand(n, 3), grey[:, None].expand(n, 3), black[:, None].expand(n, 3),
        wood[:, None] * brown, wood[:, None] * brown, mat, white[:, None] * warm * (0.75 + 0.25 * mat / 0.35),
    ])  # fmt: skip
    pick = torch.randint(0, len(options), (n,), device=device)
    return options[pick, torch.arange(n, device=device)].clamp(0.003, 0.97)[:, :, None, None]


def motifs(stock: Stock, u: Tensor, v: Tensor, size: Tensor, colours: list[Tensor], few: Tensor) -> Tensor:
    """Printed cloth at (u, v) px: flowers or straight-sided figures, at most one a cell of `size` (n, 1, 1).

    `colours`: of the cloth and four more, (n, 3, 1, 1) or as large as the picture. `few` (n, 1, 1): how many cells
    stay bare, in deviations. (n, 3, H, W) linear light.
    """
    d, n = stock.device, len(u)
    i, j = torch.floor(u / size), torch.floor(v / size)
    a, b, c, e, f = (stock.white(0, i * 13 + 71 * k + 8000, j * 29 + 37 * k + 8000) for k in range(5))
    x, y = u / size - i - 0.5 - 0.2 * a.clamp(-1, 1), v / size - j - 0.5 - 0.2 * b.clamp(-1, 1)
    reach = 0.12 + 0.2 * torch.sigmoid(c)
    petals = torch.randint(3, 8, (n, 1, 1), device=d)
    turn = torch.atan2(y, x) + 3 * e
    flower = 0.65 + 0.35 * torch.cos(petals * turn)
    step = 2 * math.pi / petals
    straight = torch.cos(step / 2) / torch.cos(torch.remainder(turn, step) - step / 2)
    side = torch.where(uniform(d, n, 1, 1) < 0.65, flower, straight) * reach
    far = torch.hypot(x, y)
    there = (f > few) & (far < side)
    image = torch.where(
        (a + e > 0.3)[:, None], colours[1], torch.where((a - e > 0.3)[:, None], colours[2], colours[3])
    )
    image = torch.where(((far < 0.35 * reach) & (petals > 4))[:, None], colours[4], image)
    return torch.where(there[:, None], image, colours[0])


def _picked(kinds: tuple[int, ...], n: int, device: torch.device) -> Tensor:
    return torch.tensor(kinds, device=device)[torch.randint(0, len(kinds), (n, 1, 1), device=device)]


def _homely(kind: Tensor, base: Tensor, other: Tensor) -> tuple[Tensor, Tensor]:
    """Both colours (n, 3, 1, 1) as such a ground (n, 1, 1) has them: wood brown, gingham white, cloth pale."""
    d, n = kind.device, len(kind)
    kind = kind[:, None]
    brown = scaled(d, n, low=0.06, high=0.7)[:, None] * torch.tensor([1.0, 0.6, 0.3], device=d)
    brown = e3(brown.new_ones(n)) * (brown * torch.exp(torch.randn(n, 3, device=d) * 0.12))[:, :, None, None]
    pale = (uniform(d, n, 1, 1, 1, low=0.55, high=0.92)) * (1 - 0.25 * uniform(d, n, 3, 1, 1) ** 2)
    strong = torch.where(uniform(d, n, 1, 1, 1) < 0.6, 0.85 * uniform(d, n, 3, 1, 1) ** 2, plain(d, n))
    deep = uniform(d, n, 1, 1, 1) < 0.25
    wood = (kind == _WOODEN[0]) | (kind == _WOODEN[1])
    cloth = (kind == _CHECKED) | (kind == _FLOWERED) | (kind == _BLOTTED)
    base = torch.where(wood, brown, torch.where(cloth, torch.where(deep & (kind != _CHECKED), strong, pale), base))
    other = torch.where(cloth, strong, other)
    other = torch.where(wood, base * torch.exp(torch.randn(n, 1, 1, 1, device=d) * 0.35), other)
    return base.clamp(0.003, 0.97), other.clamp(0.003, 0.97)


def grounds(stock: Stock, field: Field, n: int, level: Tensor) -> Tensor:
    """(n, 3, H, W) linear light of what cards lie on.

    `level` (n,): from 1 on as plain as people's tables are; from 2 on those tables, and cloths, mats, stone;
    from 3 on printed cloth.
    """
    d = stock.device
    calm, homely = level > 0.5, level > 1.5
    base, third = torch.where(e3(calm), usual(d, n), plain(d, n)), plain(d, n)
    other = torch.where(
        uniform(d, n, 1, 1, 1) < 0.35,
        plain(d, n),
        (base + torch.randn(n, 3, 1, 1, device=d) * 0.25).clamp(0.01, 0.98),
    )
    kind = torch.where(uniform(d, n, 1, 1) < 0.1, 0, torch.randint(0, GROUNDS, (n, 1, 1), device=d))
    kind = torch.where(uniform(d, n, 1, 1) < 0.12, torch.randint(14, 16, (n, 1, 1), device=d), kind)
    kind = torch.where(e1(calm), _picked(CALM, n, d), kind)
    kind = torch.where(e1(homely), _picked(HOMELY, n, d), kind)
    kind = torch.where(e1(level > 2.5), _picked(BUSY, n, d), kind)
    other = torch.where(
        e3(calm) & (kind != 6)[:, None], base * torch.exp(torch.randn(n, 3, 1, 1, device=d) * 0.2), other
    )
    own_base, own_other = _homely(kind, base, other)
    base, other = torch.where(e3(homely), own_base, base), torch.where(e3(homely), own_other, other)
    u, v = field.turned(
        torch.where(
            uniform(d, n) < 0.5,
            torch.randint(0, 2, (n,), device=d) * (math.pi / 2) + torch.randn(n, device=d) * 0.08,
            uniform(d, n, high=3.14),
        )
    )
    u, v = (
        u + field.soft(n, 3) * e1(uniform(d, n, high=8.0)),
        v + field.soft(n, 4) * e1(uniform(d, n, high=8.0)),
    )  # cloth is never quite flat
    per = e1(scaled(d, n, low=3.0, high=18.0))  # weave
    wide = e1(scaled(d, n, low=8.0, high=130.0))  # checks, stripes, planks
    cloud, long = field.soft(n, 4, 9, 21), field.soft(n, (3, 200), (5, 380), (2, 60))
    long2 = torch.where(uniform(d, n, 1, 1) < 0.5, long, field.soft(n, (200, 3), (300, 5), (60, 2)))
    fine = stock.white(0, u + 5000, v + 5000)
    softer = stock.white(1, u * 1.3 + 5000, v * 1.3 + 5000)
    wave = 2 * math.pi
    line = e1(scaled(d, n, low=0.6, high=2.2))
    near = lambda q, step: (torch.remainder(q, step) - step / 2).abs()  # noqa: E731
    grid = torch.maximum((near(u, wide) < line).float(), (near(v, wide) < line).float())
    sub = torch.maximum((near(u, wide / 4) < line * 0.6).float(), (near(v, wide / 4) < line * 0.6).float()) * 0.45
    dots = torch.hypot(near(u, wide), near(v, wide))
    weave = 0.5 + 0.25 * (torch.sin(u / per * wave) + torch.sin(v / per * wave))
    half = (torch.sin(u / wide * wave) > 0).float() + (torch.sin(v / wide * wave) > 0).float()
    ring = torch.sin((cloud * 0.25 + v / wide * 0.5) * 14 + long2 * 1.2) * 0.5 + 0.5
    plank = torch.maximum(
        torch.sigmoid(3 * long2) * 0.6 + 0.3 * (torch.floor(v / wide / 2) % 2),
        (torch.remainder(v, wide * 2) < 1.8).float(),
    )
    blots = torch.where(uniform(d, n, 1, 1) < 0.5, field.soft(n, 14, 26), field.soft(n, 34, 60) * 1.6)
    blot = torch.sigmoid(e1(scaled(d, n, low=8.0, high=60.0)) * (blots - e1(uniform(d, n, low=0.1, high=0.6))))
    options = [
        torch.zeros_like(cloud), cloud * 0.25, torch.sigmoid(3 * (long2 + 0.3 * cloud)), weave, half * 0.5,
        ((torch.sin(u / wide * wave) * torch.sin(v / wide * wave + cloud)) > 0.5).float(),
        torch.maximum(grid, sub * (uniform(d, n, 1, 1) < 0.6)), torch.sigmoid(2.5 * fine + cloud),
        ring, plank, blot,
        torch.sigmoid(2.5 * softer) + (fine > 1.5) * 0.7,
        (torch.sin(u / wide * wave + cloud * 0.4) > uniform(d, n, 1, 1, low=-0.8, high=0.8)).float(),
        (dots < wide * uniform(d, n, 1, 1, low=0.15, high=0.4)).float(),
    ]  # fmt: skip
    mix = torch.zeros_like(cloud)
    for k, option in enumerate(options):
        mix = torch.where(kind == k, option, mix)
    strength = torch.where(
        uniform(d, n, 1, 1) < 0.5, uniform(d, n, 1, 1, low=0.03, high=0.3), uniform(d, n, 1, 1, low=0.2, high=1.0)
    )
    strength = torch.where(e1(calm) & (kind != 2) & (kind != 9), strength * 0.4, strength)
    full = uniform(d, n, 1, 1, low=0.35, high=1.0)
    strength = torch.where(
        e1(homely) & ((kind == _CHECKED) | (kind == 8) | (kind == 9) | (kind == _STONE) | (kind == _BLOTTED)),
        full,
        strength,
    )
    image = torch.lerp(
        base.expand(n, 3, field.height, field.width),
        other.expand(n, 3, field.height, field.width),
        (mix * strength)[:, None].clamp(-0.5, 1.3),
    )
    small = torch.where(uniform(d, n, 1, 1) < 0.5, field.soft(n, 11, 23), field.soft(n, 40, 70) * 1.6)
    spots = ((kind == _BLOTTED) | ((kind == 5) & (uniform(d, n, 1, 1) < 0.5))) & (small > 0.5)
    image = torch.where(spots[:, None], third.expand_as(image), image)
    # Leaves or buds below, flowers over them: from a few strewn to the calico that hides its own ground.
    few = e1(uniform(d, n, low=-2.2, high=0.8))
    size = torch.where(e1(homely), e1(scaled(d, n, low=8.0, high=110.0)), wide).clamp_min(8)
    leaves = motifs(
        stock, u + 6000, v + 5000, size * 0.8, [base, plain(d, n), third, plain(d, n), third], few + 0.4
    )
    printed = motifs(stock, u + 4000, v + 4000, size, [leaves, other, third, plain(d, n), plain(d, n)], few)
    image = torch.where(((kind == 14) | (kind == 15))[:, None], printed, image)
    real = (kind >= 16) | ((kind < 14) & e1(~calm & (uniform(d, n) < 0.2)))
    image = torch.where(real[:, None], photographs(stock, field, n), image)
    rough = (
        1
        + fine[:, None] * e3(uniform(d, n) ** 2 * torch.where(calm, 0.05, 0.12))
        + weave[:, None].sub(0.5) * e3((uniform(d, n) < 0.3) * uniform(d, n, high=0.2))
    )
    dust = (field.soft(n, 200) > e1(uniform(d, n, low=1.1, high=2.5))) & e1(uniform(d, n) < 0.2)
    image = torch.where(dust[:, None], image * e3(uniform(d, n, low=0.3, high=1.8)), image * rough)
    return (
        image
        + cloud[:, None] * e3((uniform(d, n) < 0.5) * uniform(d, n, high=0.04) * torch.where(homely, 0.3, 1.0))
    ).clamp(0.003, 1)
