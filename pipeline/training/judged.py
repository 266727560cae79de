"""Finding judged against truth: which faces were found, what was made up; one rule for chooser and tables."""

import json
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]

FOUND = 0.9  # overlap (area in common over area together) from which on a face counts as found
SEEN = 0.9  # part of a face that must be in sight for it to count
LEAST_AREA = 300.0  # px at a long side of 1024: a card of 25 px; smaller ones count neither way


@dataclass(frozen=True)
class Truth:
    """Faces (n, 2) in *image* px; `counts`: whether each must be found; the others may be."""

    faces: list[Points]
    counts: list[bool]


def read(path: Path, long_side: int) -> Truth:
    """The truth written by `pictures`, or by the renderer of the tests; `long_side` of the picture, px."""
    held = json.loads(path.read_text(encoding="utf-8"))
    if "faces" in held:
        faces = [np.array(f, float) for f in held["faces"]]
        seen = held["seen"]
    else:
        faces = [np.array(p["ascut_outline_px"], float) for p in held["placed"]]
        seen = [1.0] * len(faces)
    least = LEAST_AREA * (long_side / 1024) ** 2
    return Truth(
        faces,
        [s >= SEEN and cv2.contourArea(f.astype(np.float32)) >= least for f, s in zip(faces, seen, strict=True)],
    )


def overlap(a: Points, b: Points) -> float:
    """Area in common over area together, to an eighth of a pixel or a 600th of their size."""
    low, high = np.minimum(a.min(0), b.min(0)), np.maximum(a.max(0), b.max(0))
    if (np.minimum(a.max(0), b.max(0)) <= np.maximum(a.min(0), b.min(0))).any():
        return 0.0
    scale = min(8.0, 600 / float((high - low).max()))
    size = np.ceil((high - low) * scale).astype(int) + 1
    masks = []
    for outline in (a, b):
        mask = np.zeros((int(size[1]), int(size[0])), np.uint8)
        cv2.fillPoly(mask, [np.rint((outline - low) * scale * 16).astype(np.int32)], 1, shift=4)
        masks.append(mask)
    return float((masks[0] & masks[1]).sum() / max(int((masks[0] | masks[1]).sum()), 1))


def fits(outlines: list[Points], truth: Truth) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Each outline's best overlap with a face, and which face it is."""
    best, which = np.zeros(len(outlines)), np.full(len(outlines), -1)
    boxes = [(f.min(0), f.max(0)) for f in truth.faces]
    for i, outline in enumerate(outlines):
        low, high = outline.min(0), outline.max(0)
        for k, (face_low, face_high) in enumerate(boxes):
            common = np.prod(np.maximum(np.minimum(high, face_high) - np.maximum(low, face_low), 0))
            together = np.prod(high - low) + np.prod(face_high - face_low) - common
            if common > max(best[i], 0.3) * 0.6 * together and (fit := overlap(outline, truth.faces[k])) > best[i]:
                best[i], which[i] = fit, k
    return best, which


@dataclass(frozen=True)
class Score:
    """Of `wanted` faces `found`; `made_up`: outlines given that are no face; `loose`: a face's, not to a tenth."""

    wanted: int
    found: int
    made_up: int
    loose: int


def score(outlines: list[Points], truth: Truth) -> Score:
    """How a picture's finding did. An outline half over a face is that face's, loosely; below, it is made up."""
    fit, which = fits(outlines, truth)
    found = {int(k) for k, f in zip(which, fit, strict=True) if f > FOUND}
    wanted = {k for k, counts in enumerate(truth.counts) if counts}
    return Score(
        len(wanted), len(found & wanted), int((fit <= 0.5).sum()), int(((fit > 0.5) & (fit <= FOUND)).sum())
    )
