"""From a picture to sheets by one command that nothing was told: the trade's blocks, one card of each template.

Every block is one new picture of the tests' renderer: another card, ground, light, lens and ruler each time.
"""

import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from seamsurvey.job.layout_file import read_layout
from seamsurvey.model import Block
from tests.benchmarks.phones import LONG_RULERS, random_exposure, random_phone
from tests.benchmarks.table import Table
from tests.scene.cards import Cutting
from tests.scene.families import Family
from tests.scene.geometry import Points, signed_area
from tests.scene.grounds import GROUNDS, MATS, PAPERS
from tests.scene.looks import CARDS, LIDS
from tests.scene.make import make_photo, make_scan
from tests.scene.rulers import RULERS
from tests.scene.scan import BEDS, Scanner
from tests.scene.scatter import DoesNotFitError
from tests.scene.scene import Layout
from tests.scene.trade_block import TradeBlock, is_right_block
from tests.scene.trade_blocks import TRADE_BLOCKS

SEED = 10
COUNT = 40  # of the 61: in twenty minutes of one core
KINDS = ("down", "tilted", "mat", "scan")
PROGRAM = "from seamsurvey_cli.main import main\nmain()\n"
LIMIT_S = 300
FEW = 20  # tries to lay everything down
RIGHT, OFFERED, OTHER, ASKED, REFUSED = "right", "offered", "another block", "asked", "refused"
COLUMNS = ("block", "templates", "picture", "came to", "code or place", "width off by")


@dataclass(frozen=True)
class TradeFamily(Family):
    """A trade block as what the renderer lays down; its outline need not be a rectangle."""

    drawn: Points = ()  # type: ignore[assignment]

    @property
    def outline(self) -> Points:
        """(n, 2) the block's own outline, mm."""
        return self.drawn


@dataclass(frozen=True)
class Outcome:
    """What came of a picture: `what` one of those above, `place` the right layout's place or the code said."""

    what: str
    place: str = ""
    off_mm: float | None = None


def one_command(count: int = COUNT, keep: Path | None = None) -> Table:
    """The first `count` of the blocks, in an order of their own, each as one new picture; kept in `keep`."""
    order = np.random.default_rng([SEED, 61]).permutation(len(TRADE_BLOCKS))[:count]
    rows, outcomes = [], []
    with tempfile.TemporaryDirectory() as name:
        for k, which in enumerate(order):
            trade, kind = TRADE_BLOCKS[int(which)], KINDS[k % len(KINDS)]
            folder = (keep or Path(name)) / trade.name.replace(" ", "-")
            ground = draw(trade, kind, SEED * 1000 + int(which), folder)
            outcome = converted(trade, next(folder.glob("*.jpg")), folder / "job")
            outcomes.append(outcome)
            rows.append(_row(trade, ground, outcome))
            print(" | ".join(rows[-1]), file=sys.stderr, flush=True)
    came = Counter(each.what for each in outcomes)
    about = (
        "Each of the trade's blocks as one picture of the tests' renderer, one card of each template, most with an "
        "allowance of 1/4 in; `seamsurvey convert PICTURE --into JOB`, and nothing else said. "
        "Right: exit 0, and the block drawn first is the one meant. Offered: exit 0, and the right one "
        "is among those shown."
    )
    total = ", ".join(f"{came[what]} {what}" for what in (RIGHT, OFFERED, OTHER, ASKED, REFUSED))
    return Table(
        "Pictures to sheets by one command",
        ".venv/bin/python -m tests.benchmarks one-command",
        about,
        COLUMNS,
        rows,
        f"{len(outcomes)} pictures: {total}.",
    )


def draw(trade: TradeBlock, kind: str, seed: int, folder: Path) -> str:
    """One picture of a block's templates with its truth beside it; what it lies on, and of what card it is."""
    rng = np.random.default_rng([seed, KINDS.index(kind), 2211])
    family = TradeFamily(trade.name, trade.size, trade.pieces, "in", trade.notes, trade.set_in, True, trade.outline)
    for tries in range(1000):
        if tries == FEW and kind == "scan":
            kind = "down"  # no scanner is so large
        allowance = float(rng.choice([6.35, 6.35, 6.35, 0.0]))
        cutting = Cutting(allowance, None, float(rng.uniform(0.02, 0.08)), 20.0, float(rng.uniform(0.2, 0.8)))
        names = LONG_RULERS if kind != "scan" else ("plastic-15cm", "steel-6in", "plastic-6in-eighths")
        layout = Layout(
            rulers=tuple(RULERS[str(rng.choice(names))] for _ in range(2 if kind == "tilted" else 1)),
            stock=str(rng.choice(sorted(CARDS))),
            thickness=float(rng.uniform(0.3, 1.7)),
            mat=MATS[str(rng.choice(sorted(MATS)))] if kind == "mat" else None,
        )
        try:
            if kind == "scan":
                scanner = Scanner(lid=str(rng.choice(sorted(LIDS))), psf=float(rng.uniform(0.5, 0.9)))
                make_scan(family, cutting, layout, scanner, BEDS["full"], seed=seed, into=folder)
                return f"scan, {scanner.lid} lid, {layout.stock}"
            phone = random_phone(rng, (5.0, 30.0) if kind == "tilted" else (0.0, 10.0))
            phone = replace(phone, distance=float(rng.uniform(430, 750)) + 20 * tries)
            exposure = random_exposure(rng, (*GROUNDS, *PAPERS))
            make_photo(family, cutting, layout, phone, exposure, seed=seed, into=folder)
            return f"{kind}, {layout.mat.name if layout.mat else exposure.ground}, {layout.stock}"
        except DoesNotFitError:
            seed += 100_000
    raise DoesNotFitError(trade.name)


def converted(trade: TradeBlock, picture: Path, job: Path) -> Outcome:
    """What one command makes of a picture. The job's folder is emptied first."""
    shutil.rmtree(job, ignore_errors=True)
    command = [sys.executable, "-c", PROGRAM, "convert", str(picture), "--into", str(job)]
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False, timeout=LIMIT_S)  # noqa: S603
    except subprocess.TimeoutExpired:
        return Outcome(REFUSED, "no end")
    if done.returncode:
        codes = re.findall(r"^  code +(\S+)", done.stderr + done.stdout, re.MULTILINE)
        return Outcome(
            ASKED if done.returncode == 4 else REFUSED, codes[-1] if codes else f"exit {done.returncode}"
        )
    found = [_Named.of(read_layout(path.read_bytes()), trade) for path in _layouts(job)]
    off = float(np.ptp(found[0].outline, axis=0).max()) - max(trade.size)
    for place, block in enumerate(found, start=1):
        if is_right_block(trade, block):
            return Outcome(RIGHT if place == 1 else OFFERED, f"{place} of {len(found)}", off)
    return Outcome(OTHER, f"of {len(found)}", off)


@dataclass(frozen=True)
class _NamedPiece:
    template: str
    outline: Points


@dataclass(frozen=True)
class _Named:
    """A found layout, its pieces called after the drawn templates that they are most like."""

    outline: Points
    pieces: tuple[_NamedPiece, ...]

    @classmethod
    def of(cls, block: Block, trade: TradeBlock) -> "_Named":
        drawn = [(template.name, _measures(template.finished)) for template in trade.templates]
        pieces = []
        for piece in block.pieces:
            own = _measures(piece.outline)
            like = [(float(np.abs(own - other).sum()), name) for name, other in drawn if len(other) == len(own)]
            pieces.append(_NamedPiece(min(like)[1] if like else "", piece.outline))
        return cls(block.outline, tuple(pieces))


def _measures(outline: Points) -> Points:
    """(n + 1,) sides in order of length, and the root of the area: mm."""
    sides = np.sort(np.hypot(*(np.roll(outline, -1, axis=0) - outline).T))
    return np.append(sides, np.sqrt(abs(signed_area(outline))))


def _layouts(job: Path) -> Iterator[Path]:
    several = sorted(job.glob("layout-*.json"), key=lambda path: int(path.stem.partition("-")[2]))
    yield from several or [job / "layout.json"]


def _row(trade: TradeBlock, picture: str, outcome: Outcome) -> list[str]:
    off = "" if outcome.off_mm is None else f"{outcome.off_mm:+.2f} mm"
    return [trade.name, str(len(trade.templates)), picture, outcome.what, outcome.place, off]
