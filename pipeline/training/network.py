"""The network: a U-Net that starts at half the picture's resolution and looks at all of it at once.

Half resolution first, for a processor's sake; the full picture comes back at the end, for the borders' sake.
Attention over the coarsest cells (32 px) lets every part know the whole picture. Its shipped form is the ONNX file
of `export`, whose initialisers carry the names of these parameters.
"""

from collections.abc import Sequence
from itertools import pairwise

import torch
import torch.nn.functional as F  # noqa: N812 - its usual name
from torch import Tensor, nn

WIDTHS = (24, 48, 80, 128, 192)
CLASSES = 7
MIXES = 3
HEADS = 8
FINE = 8
STRIDE = 32  # heights and widths are multiples of it


def block(channels: int, out: int) -> nn.Sequential:
    """Two convolutions of 3 by 3."""
    return nn.Sequential(
        nn.Conv2d(channels, out, 3, padding=1, bias=False), nn.BatchNorm2d(out), nn.ReLU(True),
        nn.Conv2d(out, out, 3, padding=1, bias=False), nn.BatchNorm2d(out), nn.ReLU(True),
    )  # fmt: skip


class Mix(nn.Module):
    """Attention over the coarsest cells, so that every part knows the whole picture (Vaswani et al. 2017).

    Where a cell lies is told by a depthwise convolution (Chu et al. 2021), so that any size of picture will do.
    """

    def __init__(self, width: int) -> None:
        super().__init__()
        self.place = nn.Conv2d(width, width, 7, padding=3, groups=width)
        self.norm0, self.norm1, self.norm2 = nn.LayerNorm(width), nn.LayerNorm(width), nn.LayerNorm(width)
        self.qkv, self.out = nn.Linear(width, 3 * width), nn.Linear(width, width)
        self.wide, self.narrow = nn.Linear(width, 2 * width), nn.Linear(2 * width, width)

    def forward(self, x: Tensor) -> Tensor:
        """(B, C, h, w) to the same."""
        x = x + self.place(x)
        n, c, h, w = x.shape
        t = self.norm0(x.flatten(2).transpose(1, 2))
        q, k, v = self.qkv(self.norm1(t)).reshape(n, h * w, 3, HEADS, c // HEADS).permute(2, 0, 3, 1, 4)
        seen = F.scaled_dot_product_attention(q, k, v).transpose(1, 2).reshape(n, h * w, c)
        t = t + self.out(seen)
        t = t + self.narrow(F.relu(self.wide(self.norm2(t))))
        return t.transpose(1, 2).reshape(n, c, h, w)


class Net(nn.Module):
    """(B, 3, H, W) encoded RGB 0..1, H and W multiples of 32, to (B, CLASSES, H, W) logits."""

    def __init__(self, widths: Sequence[int] = WIDTHS) -> None:
        super().__init__()
        self.stem = nn.Conv2d(3, widths[0], 4, stride=2, padding=1)
        self.down = nn.ModuleList([block(a, b) for a, b in pairwise((widths[0], *widths))])
        self.mix = nn.ModuleList([Mix(widths[-1]) for _ in range(MIXES)])
        self.up = nn.ModuleList([block(b + a, a) for a, b in reversed(list(pairwise(widths)))])
        self.fine = nn.Conv2d(widths[0], 4 * FINE, 3, padding=1)
        self.sharp = nn.Conv2d(FINE + 3, 16, 3, padding=1)
        self.head = nn.Conv2d(16, CLASSES, 1)

    def forward(self, picture: Tensor) -> Tensor:
        """Logits of every pixel."""
        centred = picture - 0.5
        x = self.stem(centred)
        kept: list[Tensor] = []
        for i, stage in enumerate(self.down):
            x = stage(x if i == 0 else F.max_pool2d(x, 2))
            kept.append(x)
        for stage in self.mix:
            x = stage(x)
        for i, stage in enumerate(self.up):
            big = F.interpolate(x, scale_factor=2, mode="bilinear", align_corners=False)
            x = stage(torch.cat([big, kept[-2 - i]], 1))
        x = F.pixel_shuffle(F.relu(self.fine(x)), 2)
        out: Tensor = self.head(F.relu(self.sharp(torch.cat([x, centred], 1))))
        return out


def loss_of(logits: Tensor, label: Tensor, weight: Tensor) -> Tensor:
    """Cross-entropy with a part of dice (Milletari et al. 2016), so that thin borders and small cards count."""
    cross = F.cross_entropy(logits, label, weight=weight)
    chance = logits.softmax(1)
    one = F.one_hot(label, CLASSES).permute(0, 3, 1, 2)
    both, sizes = (chance * one).sum((0, 2, 3)), chance.sum((0, 2, 3)) + one.sum((0, 2, 3))
    return cross + 0.5 * (1 - (2 * both + 1) / (sizes + 1)).mean()
