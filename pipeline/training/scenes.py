"""Pictures to train on, made faster than they are used: layouts by processes, stuff and light on the GPU, a ring.

Layouts are drawn and painted by worker processes; each is kept on the device and given new stuff and light now and
then; each composed picture stays in a ring and is seen through a new camera at every use. So the GPU never waits.
"""

import multiprocessing as mp
from collections.abc import Iterator
from queue import Empty
from typing import Any

import cv2
import numpy as np
import torch
from torch import Tensor

from training import looks
from training.camera import developed, views, warped
from training.compose import bordered, compose
from training.layout import lay_out
from training.raster import Maps
from training.stuffs import Field, Stock

HEIGHT, WIDTH = 672, 896  # of canvas and picture: 4 to 3, multiples of 32
TILT = 0.26  # of a homely scene: see `camera.views`
TABLES = 3  # what a layout is made of, in so many ways


def _work(seed: int, queue: "mp.Queue[Any]") -> None:
    cv2.setNumThreads(1)
    rng = np.random.default_rng(seed)
    while True:
        laid = lay_out(rng, WIDTH, HEIGHT)
        if not laid.faces and rng.random() < 0.6:  # few pictures without a card
            continue
        queue.put(packed(laid.maps, rng, is_homely=laid.is_homely))


def packed(
    maps: Maps, rng: np.random.Generator, *, is_homely: bool
) -> tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]:
    """(3, H, W) uint8 topmost, below and ink; (TABLES, 256, looks.WIDTH) what it may be made of."""
    return np.stack([maps.top, maps.below, maps.ink]), np.stack(
        [looks.table(rng, maps, is_homely=is_homely) for _ in range(TABLES)]
    )


class Layouts:
    """A ring of painted layouts on the device, filled by worker processes (started before the GPU is touched)."""

    def __init__(self, seed: int, workers: int, kept: int) -> None:
        context = mp.get_context("fork")
        self.queue = context.Queue(64)
        self.workers = [
            context.Process(target=_work, args=(seed * 1000 + k, self.queue), daemon=True) for k in range(workers)
        ]
        for worker in self.workers:
            worker.start()
        self.kept, self.made = kept, 0

    def settle(self, device: torch.device) -> None:
        """Takes the memory on the device; then waits for the first few layouts."""
        self.maps = torch.zeros(self.kept, 3, HEIGHT, WIDTH, dtype=torch.uint8, device=device)
        self.tables = torch.zeros(self.kept, TABLES, 256, looks.WIDTH, device=device)
        while self.made < min(32, self.kept):
            self._take(self.queue.get())

    def _take(self, item: tuple[np.ndarray[Any, Any], np.ndarray[Any, Any]]) -> None:
        at = self.made % self.kept
        self.maps[at] = torch.from_numpy(item[0]).to(self.maps.device)
        self.tables[at] = torch.from_numpy(item[1]).to(self.maps.device)
        self.made += 1

    def draw(self, n: int, most: int) -> tuple[Tensor, Tensor]:
        """Draws n layouts and a table each; takes in at most `most` new ones first."""
        for _ in range(most):
            try:
                self._take(self.queue.get_nowait())
            except Empty:
                break
        device = self.maps.device
        pick = torch.randint(0, min(self.made, self.kept), (n,), device=device)
        return self.maps[pick], self.tables[pick, torch.randint(0, TABLES, (n,), device=device)]

    def stop(self) -> None:
        """Ends the worker processes."""
        for worker in self.workers:
            worker.terminate()


class Pictures:
    """Batches of pictures with labels, without end."""

    def __init__(self, layouts: Layouts, stock: Stock, batch: int, ring: int, uses: int) -> None:
        self.layouts, self.stock, self.batch, self.uses = layouts, stock, batch, uses
        self.field = Field(stock.device, HEIGHT, WIDTH)
        self.ring = ring
        self.images = torch.zeros(ring, 3, HEIGHT, WIDTH, dtype=torch.float16, device=stock.device)
        self.labels = torch.zeros(ring, 2, HEIGHT, WIDTH, dtype=torch.uint8, device=stock.device)
        self.homely = torch.zeros(ring, dtype=torch.bool, device=stock.device)
        self.filled = 0
        self.at = 0

    @torch.no_grad()  # type: ignore[untyped-decorator, unused-ignore]
    def _make(self) -> None:
        maps, table = self.layouts.draw(self.batch, self.batch // 2)
        image, label, card = compose(self.stock, self.field, maps[:, 0], maps[:, 1], maps[:, 2], table)
        slot = torch.arange(self.at, self.at + self.batch, device=image.device) % self.ring
        self.images[slot] = image.half()
        self.labels[slot, 0], self.labels[slot, 1] = label, card
        self.homely[slot] = table[:, 0, looks.AT["calm"]] >= looks.HOMELY
        self.at += self.batch
        self.filled = min(self.ring, self.at)

    @torch.no_grad()  # type: ignore[untyped-decorator, unused-ignore]
    def batches(self) -> Iterator[tuple[Tensor, Tensor]]:
        """(B, 3, h, w) encoded 0..1 and (B, h, w) labels; every other batch stands upright."""
        step = 0
        fresh = self.batch // self.uses
        while True:
            if step % self.uses == 0:
                self._make()
            first = self.at - self.batch + (step % self.uses) * fresh
            new = torch.arange(first, first + fresh, device=self.images.device) % self.ring
            old = torch.randint(0, self.filled, (self.batch - fresh,), device=self.images.device)
            pick = torch.cat([new, old])
            kept = [self.labels[pick, 0], self.labels[pick, 1]]
            homely = self.homely[pick]
            view = views(self.batch, self.images.device, tilt=torch.where(homely, TILT, 0.16))
            image, (label, card) = warped(view, self.images[pick].float(), kept, self.field, (HEIGHT, WIDTH))
            label = bordered(label, card)
            picture = developed(image, homely)
            if step % 2:
                picture, label = picture.transpose(2, 3), label.transpose(1, 2)
            step += 1
            yield picture, label.long()
