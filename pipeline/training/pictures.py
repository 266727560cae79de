"""Pictures with exact truth beside them: to train the chooser on, or of the family that no training sees.

    python -m training.pictures --textures textures.npz --out DIR --count 60 --seed 9 [--unseen] [--mats] [--jobs 8]

Each NAME.png has a NAME.json: `faces`, outlines in *image* px of the cards' faces; `seen`, the part of each that no
border of the picture and no thing on it hides.
"""

import argparse
import json
import multiprocessing as mp
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import torch
from numpy.typing import NDArray

from training import textures
from training.camera import View, developed, views, warped
from training.compose import Family, compose
from training.layout import Laid, lay_out
from training.looks import table
from training.raster import filled
from training.stuffs import Field, Stock
from training.unseen import UNSEEN

CANVAS = (768, 1024)
BANK = 1  # seed of the noise that all pictures share
HELD = 10_000_000  # seeds from here on are the unseen family's


def _truth(laid: Laid, view: View, cards: NDArray[np.uint8], size: tuple[int, int]) -> dict[str, list[Any]]:
    """Faces in picture px, and how much of each is seen, from the map of cards' numbers as the camera saw it."""
    half = np.array([(CANVAS[1] - 1) / 2, (CANVAS[0] - 1) / 2])
    own = np.array([(size[1] - 1) / 2, (size[0] - 1) / 2])
    faces: list[Any] = []
    seen: list[Any] = []
    for outline, number in zip(laid.faces, laid.numbers, strict=True):
        there = torch.from_numpy((outline - half) / (CANVAS[1] / 2)).float()[None]
        points = view.picture(there)[0].double().numpy() * (size[1] / 2) + own
        low = np.floor(points.min(0)) - 1
        span = np.ceil(points.max(0) - low).astype(int) + 3
        if (span > 4000).any():
            continue
        whole = int(filled((int(span[1]), int(span[0])), [points], low).sum())
        faces.append(np.round(points, 2).tolist())
        seen.append(round(min(1.0, int((cards == number).sum()) / max(whole, 1)), 3))
    return {"faces": faces, "seen": seen}


def render(
    stock: Stock, field: Field, seed: int, family: Family, *, mats: bool = False
) -> tuple[NDArray[np.uint8], dict[str, list[Any]]]:
    """One picture (h, w, 3) uint8 BGR and its truth, from its seed."""
    torch.manual_seed(seed)
    rng = np.random.default_rng(seed)
    laid = lay_out(rng, CANVAS[1], CANVAS[0], mats=mats)
    top, below, ink = (torch.from_numpy(m)[None] for m in (laid.maps.top, laid.maps.below, laid.maps.ink))
    stuff = table(rng, laid.maps, is_homely=laid.is_homely)
    image, _, card = compose(stock, field, top, below, ink, torch.from_numpy(stuff)[None], family)
    view = _within(field, stock.device, 0.22 if laid.is_homely else 0.12)
    image, (cards,) = warped(view, image, [card], field, CANVAS)
    homely = torch.tensor([laid.is_homely], device=stock.device)
    pixels = (developed(image, homely)[0].permute(1, 2, 0).numpy()[..., ::-1] * 255).round().astype(np.uint8)
    truth = _truth(laid, view, cards[0].numpy(), CANVAS)
    if rng.random() < 0.3:  # upright: columns for rows, so that no view leaves the canvas
        pixels = np.ascontiguousarray(pixels.transpose(1, 0, 2))
        truth["faces"] = [[point[::-1] for point in face] for face in truth["faces"]]
    return pixels, truth


def _within(field: Field, device: torch.device, tilt: float) -> View:
    """A view that shows nothing beyond the canvas: there everything lies mirrored, and is not in the truth."""
    corner = torch.tensor([[-1.0, -1], [1, -1], [1, 1], [-1, 1], [0, -1], [0, 1], [1, 0], [-1, 0]], device=device)
    high = field.height / field.width
    for k in range(200):
        view = views(1, device, (min(0.75, 0.9 - 0.002 * k), 0.95 - 0.002 * k), tilt)
        at = view.canvas(corner[:, 0], corner[:, 1] * high)[0].abs()
        if bool((at[:, 0] < 1).all()) and bool((at[:, 1] < high).all()):
            break
    return view


def main() -> None:
    """The command above."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--textures", type=Path, required=True)
    parser.add_argument("--out", type=Path, required=True)
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--unseen", action="store_true")
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--mats", action="store_true", help="all on cutting mats")
    a = parser.parse_args()
    torch.set_num_threads(1)
    a.out.mkdir(parents=True, exist_ok=True)
    device = torch.device("cpu")
    crops = textures.read(a.textures, "unseen" if a.unseen else "train")
    torch.manual_seed(BANK)
    stock = Stock(device, torch.from_numpy(crops).permute(0, 3, 1, 2))
    field = Field(device, CANVAS[0], CANVAS[1], 6)
    render(stock, field, BANK, Family())  # fills the bank of noise: from here on a seed alone makes a picture

    def make(seed: int) -> None:
        torch.set_num_threads(1)
        pixels, truth = render(
            stock, field, seed + (HELD if a.unseen else 0), UNSEEN if a.unseen else Family(), mats=a.mats
        )
        cv2.imwrite(str(a.out / f"{seed:06d}.png"), pixels)
        (a.out / f"{seed:06d}.json").write_text(json.dumps(truth))

    def share(k: int) -> None:
        for seed in range(a.seed + k, a.seed + a.count, a.jobs):
            make(seed)

    if a.jobs == 1:
        share(0)
        return
    workers = [mp.get_context("fork").Process(target=share, args=(k,)) for k in range(a.jobs)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()


if __name__ == "__main__":
    main()
