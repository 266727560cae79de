"""Trains the network: one command, seeded, in pieces that go on where the last one ended.

    python -m training.train --textures textures.npz --out DIR --plan 240 --minutes 25 [--resume DIR]
                             [--weights sight.onnx ...]
    torchrun --nproc-per-node 2 -m training.train ...     the same on so many GPUs

`--plan` is all the minutes there will be (the rate falls along half a cosine over them), `--minutes` this piece's.
DIR gets weights.pt, average.pt, moments.pt (a piece that goes on needs them), sight.onnx (the averaged weights),
pictures.jpg (what it learns from and what it sees). `--weights` begins with a shipped file's own weights,
or with the mean of several files'.

On several GPUs each process makes pictures of its own and gradients are averaged; `--batch`, `--workers` are one's.
"""

import argparse
import math
import os
import sys
import time
from pathlib import Path

import cv2
import numpy as np
import torch
import torch.distributed as dist
from torch import Tensor

from training import export, textures
from training.network import CLASSES, Net, loss_of
from training.scenes import Layouts, Pictures
from training.stuffs import Stock

LAST_RATE = 1e-5
WEIGHTS = (1.0, 1.2, 1.2, 1.0, 1.2, 2.0, 2.2)  # of ground, face, side, shadow, reference, clutter, border
AVERAGE = 0.999
COLOURS = np.array(
    [[40, 40, 40], [80, 220, 80], [60, 60, 220], [0, 60, 120], [220, 160, 60], [200, 60, 200], [0, 255, 255]],
    np.uint8,
)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--textures", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--plan", type=float, default=240)
    parser.add_argument("--minutes", type=float, default=25)
    parser.add_argument("--resume", type=Path)
    parser.add_argument("--weights", type=Path, nargs="+")
    parser.add_argument("--rate", type=float, default=2e-3)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--batch", type=int, default=16)
    parser.add_argument("--workers", type=int, default=14)
    parser.add_argument("--layouts", type=int, default=2048)
    parser.add_argument("--ring", type=int, default=768)
    parser.add_argument("--uses", type=int, default=4)
    return parser.parse_args()


def _say(text: str) -> None:
    sys.stdout.write(text + "\n")
    sys.stdout.flush()


class Course:
    """A training that can be put down and taken up again."""

    def __init__(self, device: torch.device) -> None:
        self.net = Net().to(device)
        self.average = {k: v.clone() for k, v in self.net.state_dict().items()}
        self.optimizer = torch.optim.AdamW(self.net.parameters(), weight_decay=1e-3)
        self.spent, self.steps = 0.0, 0

    def begin_from(self, average: dict[str, Tensor]) -> None:
        """Takes `average` as weights and as their mean."""
        self.net.load_state_dict(average)
        self.average = {k: v.clone() for k, v in self.net.state_dict().items()}

    def write(self, folder: Path) -> None:
        """weights.pt, average.pt, moments.pt and sight.onnx."""
        folder.mkdir(parents=True, exist_ok=True)
        torch.save({"net": self.net.state_dict(), "spent": self.spent, "steps": self.steps}, folder / "weights.pt")
        torch.save(self.average, folder / "average.pt")
        moments = self.optimizer.state_dict()
        short = {
            k: {n: v.bfloat16() if n.startswith("exp") else v for n, v in s.items()}
            for k, s in moments["state"].items()
        }
        torch.save({"state": short, "param_groups": moments["param_groups"]}, folder / "moments.pt")
        mean = Net()
        mean.load_state_dict({k: v.cpu() for k, v in self.average.items()})
        export.save(mean, folder / "sight.onnx", f"{self.steps} steps")

    def read(self, folder: Path, device: torch.device) -> None:
        """Takes up what `write` put down."""
        held = torch.load(folder / "weights.pt", map_location=device)
        self.net.load_state_dict(held["net"])
        self.spent, self.steps = held["spent"], held["steps"]
        self.average = torch.load(folder / "average.pt", map_location=device)
        moments = torch.load(folder / "moments.pt", map_location=device)
        moments["state"] = {k: {n: v.float() for n, v in s.items()} for k, s in moments["state"].items()}
        self.optimizer.load_state_dict(moments)

    @torch.no_grad()  # type: ignore[untyped-decorator, unused-ignore]
    def mean_step(self) -> None:
        """Moves the averaged weights a little towards the present ones."""
        keep = min(AVERAGE, self.steps / (self.steps + 100))
        now = self.net.state_dict()
        floats = [k for k, v in now.items() if v.is_floating_point()]
        torch._foreach_lerp_([self.average[k] for k in floats], [now[k] for k in floats], 1 - keep)


def _averaged(net: Net, spent: float) -> float:
    """Gradients and minutes spent as the mean over all processes', in place; the minutes."""
    grads = [p.grad for p in net.parameters() if p.grad is not None]
    flat = torch.cat([*(g.flatten() for g in grads), grads[0].new_tensor([spent])])
    dist.all_reduce(flat)
    flat /= dist.get_world_size()
    at = 0
    for g in grads:
        g.copy_(flat[at : at + g.numel()].view_as(g))
        at += g.numel()
    return float(flat[-1])


def _shown(net: Net, picture: Tensor, label: Tensor, path: Path) -> None:
    net.eval()
    with torch.no_grad():
        guess = net(picture[:6]).argmax(1).cpu().numpy()
    net.train()
    pixels = (picture[:6].permute(0, 2, 3, 1).cpu().numpy()[..., ::-1] * 255).astype(np.uint8)
    rows = [
        np.vstack([p, COLOURS[t], COLOURS[g]])
        for p, t, g in zip(pixels, label[:6].cpu().numpy(), guess, strict=True)
    ]
    cv2.imwrite(
        str(path),
        cv2.resize(np.hstack(rows), None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA),
        [cv2.IMWRITE_JPEG_QUALITY, 80],
    )


def main() -> None:  # noqa: D103 - the module's docstring says it
    a = _arguments()
    begun = time.monotonic()
    rank, several = int(os.environ.get("RANK", "0")), int(os.environ.get("WORLD_SIZE", "1")) > 1
    seed = a.seed * 100 + rank
    layouts = Layouts(seed, a.workers, a.layouts)  # before the GPU is touched: processes are forked
    on_gpu = torch.cuda.is_available()
    device = torch.device("cuda", rank) if on_gpu else torch.device("cpu")
    if on_gpu:
        torch.cuda.set_device(device)
    if several:
        dist.init_process_group("nccl" if on_gpu else "gloo")
    torch.manual_seed(seed)
    torch.backends.cudnn.benchmark = True
    torch.backends.cuda.matmul.allow_tf32 = torch.backends.cudnn.allow_tf32 = True
    crops = torch.from_numpy(textures.read(a.textures, "train")).permute(0, 3, 1, 2)
    course = Course(device)
    if a.weights:
        export.load(a.weights, course.net)
        course.begin_from(course.net.state_dict())
    if a.resume and (a.resume / "weights.pt").exists():
        course.read(a.resume, device)
        _say(f"goes on after {course.steps} steps, {course.spent:.1f} min")
    layouts.settle(device)
    source = Pictures(layouts, Stock(device, crops), a.batch, a.ring, a.uses).batches()
    weight = torch.tensor(WEIGHTS, device=device)
    net = course.net.to(memory_format=torch.channels_last)
    net.train()
    before, clock, seen = course.spent, time.monotonic(), time.monotonic()
    spent = before
    while spent - before < a.minutes and spent < a.plan:
        picture, label = next(source)
        rate = LAST_RATE + (a.rate - LAST_RATE) * 0.5 * (1 + math.cos(math.pi * spent / a.plan)) * min(
            1, (course.steps + 1) / 300
        )
        for group in course.optimizer.param_groups:
            group["lr"] = rate
        with torch.autocast(device.type, torch.bfloat16):
            logits = net(picture.contiguous(memory_format=torch.channels_last))
        loss = loss_of(logits.float(), label, weight)
        course.optimizer.zero_grad(set_to_none=True)
        loss.backward()
        spent = before + (time.monotonic() - begun) / 60
        if several:
            spent = _averaged(net, spent)
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        course.optimizer.step()
        course.steps += 1
        course.spent = spent
        course.mean_step()
        if rank == 0 and (course.steps % 200 == 0 or course.steps in (5, 50) or a.batch < 4):
            guess = logits.argmax(1)
            fit = [
                (((guess == k) & (label == k)).sum() / ((guess == k) | (label == k)).sum().clamp_min(1)).item()
                for k in range(CLASSES)
            ]
            took = time.monotonic() - seen
            told = f"{course.steps} steps, {spent:.2f} min, {took:.1f} s, {layouts.made} layouts"
            _say(f"{told}, loss {loss.item():.3f}, IoU " + " ".join(f"{v:.2f}" for v in fit))
            seen = time.monotonic()
    _say(f"{course.steps} steps, {time.monotonic() - clock:.0f} s in the loop")
    layouts.stop()
    if several:
        dist.destroy_process_group()
    if rank:
        return
    course.write(a.out)
    mean = Net().to(device)
    mean.load_state_dict(course.average)
    _shown(mean, picture, label, a.out / "pictures.jpg")


if __name__ == "__main__":
    main()
