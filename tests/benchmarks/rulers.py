"""Rulers in phone photos: read right, refused, or asked about; never misread."""

from collections import Counter
from dataclasses import dataclass
from itertools import groupby

import numpy as np

from seamsurvey.errors import SeamsurveyError
from seamsurvey.model import Picture
from seamsurvey.photo.evidence import Evidence
from seamsurvey.photo.found_rulers import find_rulers
from tests.benchmarks.ruler_photos import KINDS, Floats, RulerPhoto, ruler_photo
from tests.benchmarks.table import Table

COUNT = 200
SCALE_OFF = 0.01  # the factors by which rulers are misread are 2, 2.54 and more
TURNED_DEG = 2.0
OFF_MARK_MM = 0.4  # a mark found lies on a true one of the scale
LEAST_STEP_PX = 4.5  # marks closer together are beyond the stated limits


@dataclass(frozen=True)
class Outcome:
    """What became of one photo: "right", "asked", "refused", or in which way it was WRONG."""

    photo: RulerPhoto
    what: str
    edges: int

    @property
    def within_limits(self) -> bool:
        """Whether its marks are far enough apart everywhere, on one scale at least."""
        return self.photo.finest_px() >= LEAST_STEP_PX


def judged(photo: RulerPhoto) -> Outcome:
    """Run the tool's search for rulers on the photo and hold every edge against the truth."""
    picture = Picture(
        name="photo", sha256="", pixels=photo.pixels, dpi=None, camera="a phone", focal_px=photo.focal_px
    )
    try:
        found = find_rulers(picture, focal_px=photo.focal_px)
    except SeamsurveyError as error:
        return Outcome(photo, "asked" if error.code == "units-unclear" else f"WRONG: {error.code}", 0)
    if not found.rulers:
        return Outcome(photo, "refused" if found.complaint is None else "asked", 0)
    wrongs = [wrong for ruler in found.rulers if (wrong := misread(photo, ruler))]
    return Outcome(photo, f"WRONG: {wrongs[0]}" if wrongs else "right", len(found.rulers))


def misread(photo: RulerPhoto, ruler: Evidence) -> str:
    """How an edge contradicts the truth; "" where it is right."""
    observed = ruler.observed
    marks = (observed.axis == 0) & (observed.edge == -1)
    feet, own = photo.on_ruler(ruler.marks_px), photo.on_ruler(observed.points_px[marks])
    # The ruler's own direction along which the values run, from where the marks meet the edge; and the scale there.
    values = observed.nominal_mm[marks]
    way = _slope(np.unique(values), feet)
    way /= np.hypot(*way)
    scale = float(_slope(values, own) @ way)
    if (ruler.unit, ruler.step_mm) not in photo.steps_mm():
        return f"{ruler.graduation} by a factor {scale:.3g}"
    if abs(scale - 1) > SCALE_OFF:
        return f"scale {scale:.3g}"
    turned = np.degrees(np.arctan2(np.abs(way).min(), np.abs(way).max()))
    if turned > TURNED_DEG:
        return f"direction by {turned:.0f}°"
    # Its frame is the ruler's, seen from above: y to the left of x.
    seen = np.column_stack([observed.points_px, np.ones(len(observed.points_px))]) @ observed.rough.T
    if np.linalg.det(observed.rough) / np.prod(seen[:3, 2]) >= 0:
        return "mirrored"
    along = own @ way
    off = along - along.mean() - (values - values.mean())
    if np.percentile(np.abs(off), 90) > OFF_MARK_MM:
        return f"marks off by {np.abs(off).max():.1f} mm"
    return ""


def _slope(values: Floats, points: Floats) -> Floats:
    """(2,) how far (n, 2) points move per unit of their (n,) values, by least squares."""
    spread = values - values.mean()
    return np.asarray(spread @ (points - points.mean(axis=0)) / (spread @ spread))


def rulers(count: int = COUNT) -> Table:
    """The table, and under it every photo that was misread."""
    outcomes = [judged(ruler_photo(seed)) for seed in range(count)]
    by_kind = sorted(outcomes, key=lambda outcome: list(KINDS).index(outcome.photo.kind.name))
    rows = [_row(name, list(some)) for name, some in groupby(by_kind, lambda outcome: outcome.photo.kind.name)]
    within = [outcome for outcome in outcomes if outcome.within_limits]
    without = [outcome for outcome in within if outcome.what in ("asked", "refused")]
    return Table(
        heading="Rulers in phone photos",
        command="python -m tests.benchmarks rulers",
        about=(
            f"{count} photos of one ruler each, wood, steel, plastic, clear and tape, at tilts up to 35° and"
            " any angle, over a half or a third of a 12-megapixel frame, half of them partly covered by a"
            " card, on eight grounds. Only the ruler's surroundings are rendered, at the frame's own px per"
            " mm, and their middle stands for the frame's; a clear body's refraction and reflections are"
            " left out. Right: unit, step, scale to 1 %, direction and every edge's marks. Asked: even marks"
            " were found, and the unit is left to the person. Refused: no ruler was found. Beyond: asked or"
            f" refused, but the marks were closer than {LEAST_STEP_PX} px somewhere on every scale, which is"
            " beyond the stated limit."
        ),
        columns=("ruler", "photos", "right", "asked", "refused", "beyond", "WRONG"),
        rows=[*rows, _row("all", outcomes)],
        summary=(
            f"Within the limit {len(without)} of {len(within)} were asked about or refused"
            f" ({len(without) / max(len(within), 1):.1%})."
        ),
    )


def _row(name: str, outcomes: list[Outcome]) -> list[str]:
    what = Counter(
        "beyond"
        if outcome.what in ("asked", "refused") and not outcome.within_limits
        else outcome.what.partition(":")[0]
        for outcome in outcomes
    )
    counts = [what[kind] for kind in ("right", "asked", "refused", "beyond", "WRONG")]
    return [name, str(len(outcomes)), *(str(count) for count in counts)]
