"""The judge of the benchmark of rulers: it must see every way in which a ruler can be misread."""

import attrs
import numpy as np

from seamsurvey.model import Picture
from seamsurvey.photo.found_rulers import find_rulers
from tests.benchmarks.ruler_photos import ruler_photo
from tests.benchmarks.rulers import misread

STEEL_RULE = 4  # the photo's number: 32nds and 16ths of an inch, a card on it


def test_every_misreading_is_seen() -> None:
    """A right reading passes; twice the step, another unit, 2 % of scale, a mirror image, a lost mark do not."""
    photo = ruler_photo(STEEL_RULE)
    picture = Picture(name="p", sha256="", pixels=photo.pixels, dpi=None, camera="a phone", focal_px=photo.focal_px)
    found = find_rulers(picture, focal_px=photo.focal_px).rulers
    right = found[0]
    seen = right.observed
    assert [misread(photo, each) for each in found] == [""] * len(found)

    def at(nominal_mm: np.ndarray) -> str:
        return misread(photo, attrs.evolve(right, observed=attrs.evolve(seen, nominal_mm=nominal_mm)))

    marks = np.flatnonzero((seen.axis == 0) & (seen.edge == -1))
    lost = seen.nominal_mm.copy()
    lost[marks[len(marks) // 2 :]] += right.step_mm
    mirrored = attrs.evolve(seen, rough=np.diag([1.0, -1.0, 1.0]) @ seen.rough)
    assert "factor" in misread(photo, attrs.evolve(right, step_mm=2.5 * right.step_mm))
    assert "factor" in misread(photo, attrs.evolve(right, unit="cm"))
    assert "scale 0.5" in at(2.0 * seen.nominal_mm)
    assert "scale 0.98" in at(1.02 * seen.nominal_mm)
    assert at(lost) != ""
    assert misread(photo, attrs.evolve(right, observed=mirrored)) == "mirrored"
