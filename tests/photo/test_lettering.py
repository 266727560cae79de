"""What is printed on a ruler: its figures tell how it is divided, its word the unit, where marks alone don't."""

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from seamsurvey.errors import UndecidedError
from seamsurvey.model import Picture, Plane
from seamsurvey.photo import lettering
from seamsurvey.photo.graduation import GRADUATIONS, Reading
from seamsurvey.photo.lettering import Lettering, allowed_by_lettering, read_lettering
from seamsurvey.photo.plane import find_plane
from seamsurvey.photo.ruler import GraduatedEdge, find_graduated_edges
from tests.scene.cards import Cutting
from tests.scene.families import family
from tests.scene.geometry import placement
from tests.scene.rulers import RULERS, RulerKind
from tests.scene.scan import Scanner, scan
from tests.scene.scene import LaidRuler, Scene


@cache
def scanned(kind: RulerKind, turn_deg: float = 0.0) -> NDArray[np.uint8]:
    """A ruler alone on the glass."""
    half = np.array([kind.length, kind.width]) / 2
    room = (kind.length + 20.0, kind.width + 20.0)
    ruler = LaidRuler(kind, placement(turn_deg, np.array(room) / 2, half))
    return scan(Scene("ruler", 1, family("pantry-tiles"), Cutting(), room, (), (ruler,)), Scanner())


@cache
def edges(kind: RulerKind, turn_deg: float = 0.0) -> list[GraduatedEdge]:
    """Its graduated edges, found in the scan."""
    return find_graduated_edges(scanned(kind, turn_deg))


@pytest.mark.parametrize("turn_deg", [0.0, 180.0])
@pytest.mark.parametrize(
    ("name", "per_unit"), [("plastic-6in-eighths", 8), ("dark-6in", 16), ("steel-6in-32nds", 32)]
)
def test_figures_tell_how_a_ruler_is_divided(name: str, per_unit: int, turn_deg: float) -> None:
    """By so much they grow from mark to mark, dark or light, on whichever edge, whichever way the ruler lies."""
    found = next(
        e for e in edges(RULERS[name], turn_deg) if per_unit in {r.graduation.per_unit for r in e.readings}
    )
    assert read_lettering(scanned(RULERS[name], turn_deg), found.comb).per_step == pytest.approx(1 / per_unit)


def test_bare_marks_say_nothing() -> None:
    """Without figures and words nothing is read."""
    (scale,) = RULERS["plastic-6in-eighths"].scales
    bare = replace(RULERS["plastic-6in-eighths"], scales=(replace(scale, figure_height=0.01),), word="")
    (found, *_) = edges(bare)
    assert read_lettering(scanned(bare), found.comb) == Lettering()


def reading(text: str) -> Reading:
    """A reading of a graduation by its name."""
    (graduation,) = [each for each in GRADUATIONS if each.text == text]
    return Reading(graduation, 0, 0.0, 1.0, 3.0)


@pytest.mark.parametrize(
    ("said", "left"),
    [
        (Lettering(1 / 16), ["inch, 1/16"]),
        (Lettering(0.1), ["cm, 1 mm", "inch, 1/10"]),  # figured alike
        (Lettering(1.0), ["cm, 1 mm"]),  # figures that count millimetres
        (Lettering(0.1, "cm"), ["cm, 1 mm"]),
        (Lettering(0.0, "inch"), ["inch, 1/16", "inch, 1/10"]),
        (Lettering(), ["cm, 1 mm", "inch, 1/16", "inch, 1/10"]),
        (Lettering(1 / 64), ["cm, 1 mm", "inch, 1/16", "inch, 1/10"]),  # fits none: another edge's, or misread
    ],
)
def test_readings_that_the_lettering_forbids_are_dropped(
    said: Lettering, left: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of the readings those stay that figures and word allow; where they allow none, they say nothing."""
    monkeypatch.setattr(lettering, "read_lettering", lambda *_: said)
    comb: Any = None
    readings = tuple(reading(text) for text in ("cm, 1 mm", "inch, 1/16", "inch, 1/10"))
    allowed = allowed_by_lettering(np.zeros((1, 1, 3), np.uint8), comb, readings)
    assert [each.graduation.text for each in allowed] == left


def test_the_word_decides_what_the_marks_leave_unclear() -> None:
    """Tenths marked unusually short are centimetres as "cm" stands beside them; without the word it is asked."""
    (scale,) = RULERS["plastic-15cm"].scales
    short = replace(RULERS["plastic-15cm"], scales=(replace(scale, levels=((1, 5.0), (2, 3.6), (10, 2.0))),))

    def plane(kind: RulerKind) -> Plane:
        return find_plane(Picture("scan.png", "0" * 64, scanned(kind)))

    between = (0.375, 0.7)  # figures 5 and 6
    found = plane(replace(short, word="cm", word_at=between))
    assert found.references[0].unit == "cm"
    assert any("printed beside" in text for text in found.warnings)
    with pytest.raises(UndecidedError) as caught:
        plane(replace(short, word=""))
    assert caught.value.code == "units-unclear"
