"""What was read by eye of real pictures by others: what lies in them, and whether they tell their scale.

The pictures themselves are not kept here: ``real_photos.json`` says where each was published.
"""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from seamsurvey.model import Wishes

Floats = NDArray[np.float64]

OWN = Path(__file__).with_name("real_photos.json")
STRAIGHT, THING = "straight", "thing"
# A thing is no card, and whether it is measured is nobody's fault: a sheet, a telephone, a ruler.
KINDS = (STRAIGHT, "curved", "touching", "hidden", "solid", THING)
MEASURED, ASK, REFUSE = "measured", "ask", "refuse"


@dataclass(frozen=True)
class Lying:
    """Something in a picture: one of ``KINDS``, and its outline, (n, 2) image px."""

    kind: str
    outline: Floats


@dataclass(frozen=True)
class Known:
    """Two image points, (2, 2) px, whose distance on the table is known, mm."""

    points: Floats
    mm: float


@dataclass(frozen=True)
class RealTruth:
    """One picture: what lies in it, and what the tool should do about its scale, with the reason.

    ``word``: what a person would say of it, as an option and as wishes; its scale should then be measured.
    """

    file: str
    sha256: str
    source: str
    lying: Sequence[Lying]
    expect: str
    why: str
    known: Known | None
    word: str = ""
    wishes: Wishes = Wishes()

    def content(self, folder: Path) -> bytes | None:
        """The picture's bytes; None where the folder has none of this name, or another picture."""
        path = folder / self.file
        content = path.read_bytes() if path.exists() else b""
        return content if hashlib.sha256(content).hexdigest() == self.sha256 else None


def read_truths(folder: Path) -> Sequence[RealTruth]:
    """Those of the folder's own truth.json, or of the checkout where it has none."""
    own = folder / "truth.json"
    raw = json.loads((own if own.exists() else OWN).read_text(encoding="utf-8"))
    return [_truth(name, each) for name, each in raw["pictures"].items()]


def _truth(name: str, raw: dict[str, Any]) -> RealTruth:
    source, reference = raw["source"], raw.get("reference", {})
    known = Known(np.array(reference["points_px"]), reference["mm"]) if "mm" in reference else None
    return RealTruth(
        name,
        raw["sha256"],
        f"{source['repository']} {source['path']} @ {source['commit']}",
        [Lying(piece["kind"], np.array(piece["outline_px"])) for piece in raw["pieces"]],
        raw["expect"],
        raw["why"],
        known,
        ", ".join(f"--{key.replace('_', '-')} {value}" for key, value in raw.get("word", {}).items()),
        Wishes(**raw.get("word", {})),
    )
