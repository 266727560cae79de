"""Finding by the learned eye, and what the line measures of it, on pictures with exact truth.

    python -m training.tables FOLDER [--measured]

FOLDER holds NAME.png with NAME.json (of `pictures`), or folders with a truth.json (of the tests' renderer). Prints
a row a picture and a sum: faces, found (overlap above 0.9), made up, loose, candidates that hold a face, seconds of
processor time. `--measured`: stages 1 and 2 on the same pictures too, told the thickness where the truth says it,
without a scale where there is no reference to find.
"""

import json
import sys
import time
from dataclasses import astuple
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from seamsurvey.arcs import drawn_out
from seamsurvey.errors import SeamsurveyError
from seamsurvey.model import Picture
from seamsurvey.photo.bare import bare_plane
from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.read import read_picture
from seamsurvey.sight.candidates import candidates
from seamsurvey.sight.choose import SURE
from seamsurvey.sight.evidence import maps
from seamsurvey.sight.look import looked_at
from seamsurvey.templates.measure import measure_templates
from training.judged import FOUND, Points, Truth, fits, read, score


def as_measured(file: Path, truth: Path) -> list[Points]:
    """Outlines of the cards that stages 1 and 2 find, *image* px; raises SeamsurveyError where they refuse."""
    picture = looked_at(read_picture(file.name, file.read_bytes()))
    held = json.loads(truth.read_text(encoding="utf-8"))
    if "placed" in held:
        thickness = round(held["placed"][0]["thickness_mm"], 1)
        plane = find_plane(picture, thickness_mm=thickness, ruler_thickness_mm=held.get("told", {}).get("ruler_mm"))
        found = measure_templates([(picture, plane)], allowance_mm=0.0, thickness_mm=thickness, every_card=True)
    else:
        found = measure_templates([(picture, bare_plane(picture))], allowance_mm=0.0, every_card=True)
    out = []
    for template in found.templates:
        bulges = template.cut_bulges or (0.0,) * len(template.corners_px)
        out.append(np.asarray(drawn_out(template.corners_px, tuple(-b for b in bulges))))  # y is down
    return out


def by_sight(picture: NDArray[np.uint8], truth: Truth) -> tuple[list[Points], int, float]:
    """Outlines of sure cards, how many counting faces the first look has a candidate for, processor time, s."""
    begun = time.process_time()
    seen = looked_at(Picture("picture", "0" * 64, picture)).seen
    spent = time.process_time() - begun
    evidence = maps(picture)
    fit, which = fits([evidence.to_image(c.outline) for c in candidates(evidence)], truth)
    held = {int(k) for k, f in zip(which, fit, strict=True) if f > FOUND}
    sure = [card.outline_px for card in seen.cards if card.chance >= SURE] if seen else []
    return sure, sum(truth.counts[k] for k in held), spent


def _upright(file: Path) -> NDArray[np.uint8]:
    return np.ascontiguousarray(np.asarray(cv2.imread(str(file)), np.uint8)[:, :, ::-1])


def main() -> None:
    """The command above."""
    folder, measured = Path(sys.argv[1]), "--measured" in sys.argv
    pairs = [(p, p.with_suffix(".json")) for p in sorted(folder.glob("*.png"))]
    made = sorted(folder.glob("*/truth.json"))
    pairs += [(next(p for p in path.parent.iterdir() if p.suffix == ".jpg"), path) for path in made]
    sums: dict[str, NDArray[np.float64]] = {}
    for file, path in pairs:
        picture = _upright(file)
        truth = read(path, max(picture.shape[:2]))
        outlines, held, spent = by_sight(picture, truth)
        row = [*astuple(score(outlines, truth)), held, spent]
        told = f"{path.parent.name if path.name == 'truth.json' else file.stem}: sight {row[1]} of {row[0]}, "
        told += f"made up {row[2]}, loose {row[3]}, candidates hold {held}, {spent:.1f} s"
        sums["sight"] = sums.get("sight", np.zeros(6)) + np.array(row, float)
        if measured:
            try:
                other = [*astuple(score(as_measured(file, path), truth)), 0]
            except SeamsurveyError as error:
                other = [sum(truth.counts), 0, 0, 0, 1]
                told += f"; refused ({error.code})"
            else:
                told += f"; measured {other[1]}, made up {other[2]}, loose {other[3]}"
            sums["measured"] = sums.get("measured", np.zeros(5)) + np.array(other, float)
        sys.stdout.write(told + "\n")
        sys.stdout.flush()
    for way, total in sums.items():
        wanted, found, made_up, loose = total[:4].astype(int)
        last = (
            f"candidates hold {int(total[4])}, {total[5] / len(pairs):.2f} s"
            if way == "sight"
            else f"refused {int(total[4])}"
        )
        sys.stdout.write(
            f"{way}: {found} of {wanted} in {len(pairs)} pictures, made up {made_up}, loose {loose}, {last}\n"
        )


if __name__ == "__main__":
    main()
