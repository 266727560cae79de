"""What a camera or scanner makes of a scene: tilt, lens, crop, blur, noise, tone, sharpening, JPEG; on the GPU."""

import math
from dataclasses import dataclass

import torch
import torch.nn.functional as F  # noqa: N812 - its usual name
from torch import Tensor

from training.stuffs import Field, e3, scaled, uniform


@dataclass(frozen=True)
class View:
    """From picture to canvas, both in half widths about their middles: a (B, 3, 3) homography, then a lens (B,)."""

    matrix: Tensor
    lens: Tensor

    def canvas(self, x: Tensor, y: Tensor) -> Tensor:
        """(B, ..., 2) canvas places of picture places x, y (...)."""
        shape = (-1,) + (1,) * x.dim()
        bent = 1 + self.lens.reshape(shape) * (x * x + y * y)
        points = torch.stack([x.expand_as(bent) * bent, y.expand_as(bent) * bent, torch.ones_like(bent)], -1)
        flat = points.reshape(len(points), -1, 3) @ self.matrix.transpose(1, 2)
        return (flat[..., :2] / flat[..., 2:].clamp_min(0.3)).reshape(*points.shape[:-1], 2)

    def picture(self, points: Tensor) -> Tensor:
        """(B, n, 2) picture places of canvas places: what `canvas` does, undone."""
        flat = torch.cat([points, torch.ones_like(points[..., :1])], -1) @ torch.linalg.inv(self.matrix).transpose(
            1, 2
        )
        bent = flat[..., :2] / flat[..., 2:]
        straight = bent
        for _ in range(8):  # the lens bends by some percent: each round gains two digits
            straight = bent / (1 + self.lens[:, None, None] * (straight**2).sum(-1, keepdim=True))
        return straight


def views(
    n: int, device: torch.device, zoom: tuple[float, float] = (0.72, 1.12), tilt: Tensor | float = 0.16
) -> View:
    """Random ways to hold a camera; `zoom` below 1 looks closer. A third of them are scans: straight from above.

    `tilt`: how much nearer one border is than the middle (deviation; 0.4 is 30 degrees through a phone's lens).
    """
    turn = torch.randint(0, 2, (n,), device=device) * math.pi + torch.randn(n, device=device) * 0.1
    size, aspect = scaled(device, n, low=zoom[0], high=zoom[1]), scaled(device, n, low=0.88, high=1.14)
    flip = torch.where(uniform(device, n) < 0.5, -1.0, 1.0)
    matrix = torch.zeros(n, 3, 3, device=device)
    matrix[:, 0, 0], matrix[:, 0, 1] = size * torch.cos(turn) * aspect * flip, -size * torch.sin(turn)
    matrix[:, 1, 0], matrix[:, 1, 1] = size * torch.sin(turn) * aspect * flip, size * torch.cos(turn)
    matrix[:, 2, 2] = 1
    flat = uniform(device, n) < 0.33
    leaning = tilt[:, None] if isinstance(tilt, Tensor) else tilt
    matrix[:, 2, :2] = torch.where(flat[:, None], 0.0, torch.randn(n, 2, device=device) * leaning)
    matrix[:, :2, 2] = uniform(device, n, 2, low=-0.08, high=0.08)
    return View(matrix, torch.where(flat, 0.0, torch.randn(n, device=device) * 0.025))


def warped(
    view: View, image: Tensor, maps: list[Tensor], field: Field, size: tuple[int, int]
) -> tuple[Tensor, list[Tensor]]:
    """The picture (B, 3, h, w) of `size` (h, w), bilinear, and the maps, nearest; mirrored past the canvas."""
    height, width = size
    y, x = torch.meshgrid(
        torch.arange(height, device=image.device).float(),
        torch.arange(width, device=image.device).float(),
        indexing="ij",
    )
    half = (width - 1) / 2
    at = view.canvas((x - half) / (width / 2), (y - (height - 1) / 2) / (width / 2))
    grid = torch.stack([at[..., 0], at[..., 1] * (field.width / field.height)], -1)
    out = F.grid_sample(image, grid, align_corners=False, padding_mode="reflection")
    return out, [
        F.grid_sample(m[:, None].float(), grid, align_corners=False, padding_mode="reflection", mode="nearest")[
            :, 0
        ].to(m.dtype)
        for m in maps
    ]


def blurred(image: Tensor, sigma: float) -> Tensor:
    """Gaussian blur of (B, C, H, W)."""
    k = max(1, round(sigma * 3))
    g = torch.exp(-(torch.arange(-k, k + 1, device=image.device).float() ** 2) / (2 * sigma * sigma))
    g = (g / g.sum())[None, None]
    c = image.shape[1]
    image = F.conv2d(F.pad(image, (k, k, 0, 0), mode="replicate"), g[:, :, None].expand(c, 1, 1, -1), groups=c)
    return F.conv2d(F.pad(image, (0, 0, k, k), mode="replicate"), g[:, :, :, None].expand(c, 1, -1, 1), groups=c)


def _cosines(device: torch.device) -> Tensor:
    k = torch.arange(8, device=device).float()
    basis = torch.cos(math.pi / 8 * (k[None] + 0.5) * k[:, None]) * 0.5
    basis[0] *= math.sqrt(0.5)
    return basis


def squeezed(image: Tensor, strength: Tensor) -> Tensor:
    """As if stored as JPEG: cosines of 8 by 8 px rounded, fine ones more (B, 3, H, W in 0..1; `strength` (B,))."""
    n, c, height, width = image.shape
    basis = _cosines(image.device)
    k = torch.arange(8, device=image.device).float()
    step = (1 + (k[:, None] + k[None]) * 0.9) * 0.012
    blocks = image.reshape(n, c, height // 8, 8, width // 8, 8).permute(0, 1, 2, 4, 3, 5)
    waves = basis @ (blocks - 0.5) @ basis.T
    q = step * strength.reshape(-1, 1, 1, 1, 1, 1)
    waves = torch.round(waves / q) * q
    return ((basis.T @ waves @ basis) + 0.5).permute(0, 1, 2, 4, 3, 5).reshape(n, c, height, width)


def developed(image: Tensor, homely: Tensor) -> Tensor:
    """Linear light (B, 3, H, W) as a camera would store it, 0..1, encoded: height and width multiples of 8.

    `homely` (B,) bool: balanced for a lamp or for daylight, nearly; others for anything.
    """
    d, n = image.device, len(image)
    warm = e3(uniform(d, n, low=-0.12, high=0.3)) * torch.tensor([0.4, 0.0, -1.0], device=d).reshape(1, 3, 1, 1)
    lamp = (1 + warm) * torch.exp(torch.randn(n, 3, 1, 1, device=d) * 0.025)
    balance = torch.where(e3(homely), lamp, torch.exp(torch.randn(n, 3, 1, 1, device=d) * 0.12))
    bright = image.mean((1, 2, 3)).clamp_min(0.02)
    exposed = torch.exp(uniform(d, n, low=-0.9, high=0.55)) * (0.32 / bright) ** uniform(d, n, low=0.0, high=0.9)
    image = image * balance * e3(exposed)
    if float(torch.rand(1)) < 0.35:  # a small sensor: fewer pixels, then made large
        small = float(torch.empty(1).uniform_(0.45, 0.9))
        low = F.interpolate(image, scale_factor=small, mode="area", recompute_scale_factor=True)
        image = F.interpolate(low, image.shape[2:], mode="bilinear", align_corners=False)
    image = blurred(image, float(torch.rand(1) * 1.3 + 0.25))
    grain = torch.randn_like(image) * torch.sqrt(image.clamp_min(0) + 0.01) * e3(uniform(d, n) ** 2 * 0.08)
    image = (image + grain).clamp(0, 1)
    image = image ** e3(uniform(d, n, low=0.36, high=0.62))
    curve = image * image * (3 - 2 * image)
    image = torch.lerp(image, curve, e3(uniform(d, n, low=-0.2, high=0.7)))
    around = F.interpolate(
        F.adaptive_avg_pool2d(image, (12, 16)), image.shape[2:], mode="bilinear", align_corners=False
    ).mean(1, keepdim=True)
    local = e3((uniform(d, n) < 0.25) * uniform(d, n, high=0.6))  # night modes lift what is dark around
    image = image * ((0.5 / around.clamp_min(0.06)) ** local)
    image = image + (image - blurred(image, 1.0)) * e3(uniform(d, n) ** 2 * 1.6)
    low = F.interpolate(
        torch.randn(n, 3, image.shape[2] // 2, image.shape[3] // 2, device=d),
        image.shape[2:],
        mode="bilinear",
        align_corners=False,
    )
    image = image + low * e3(uniform(d, n) ** 2 * 0.03)
    image = torch.where(
        e3(uniform(d, n) < torch.where(homely, 0.02, 0.08)), image.mean(1, keepdim=True).expand_as(image), image
    ).clamp(0, 1)
    return torch.where(e3(uniform(d, n) < 0.6), squeezed(image, scaled(d, n, low=0.3, high=6.0)), image).clamp(0, 1)
