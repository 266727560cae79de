"""Which reading of each graduated edge is the right one; or that only the person can tell.

Lengths of marks tell most graduations apart. Tenths of an inch and of a centimetre look alike: then another
edge with another graduation decides, then the marks' likely length, then the file's resolution (and the person
is told). The person's word chooses only among what the picture allows.
"""

import math
from collections.abc import Sequence

from attrs import evolve, field, frozen

from seamsurvey.errors import InputError, UndecidedError
from seamsurvey.model import Picture
from seamsurvey.photo.checked import SAY_LENGTH
from seamsurvey.photo.graduation import Reading
from seamsurvey.photo.lettering import allowed_by_lettering, printed_note
from seamsurvey.photo.ruler import GraduatedEdge
from seamsurvey.units import INCH

AGREE = 0.012  # scales of two edges of one scan agree so far: both axes, both rulers, generously
# In a photo steps are compared through a frame whose slant is known roughly; graduations differ by 1/5 at least.
AGREE_SLANTED = 0.1
# How far the camera was from what it saw: what lies on a table is photographed from 250 to 800 mm, seldom from
# nearer than 150 (common practice, no source), as ln-normal; and a phone's main lens is sharp from about 100 mm on.
USUAL_DISTANCE_MM = 450.0
DISTANCE_LN_SIGMA = 0.5
# A misread graduation is off by just these factors, a resized picture seldom: then the person is asked.
TELLING_FACTORS = (2.0, 0.5, 2.54, 1 / 2.54)
DPI_AGREE = 0.03  # a scanner's true resolution is within this of what it writes
CLEAR_CREDENCE = 3.0  # ln odds of 20 to 1 by the marks' length decide
ABSURD_CREDENCE = 8.0  # against odds of 3000 to 1 even the person's word is doubted


@frozen(eq=False)
class Choice:
    """Of each edge the reading that is right (None: it takes no part), and what the person should know."""

    readings: tuple[Reading | None, ...]
    warnings: tuple[str, ...] = ()


@frozen(eq=False)
class _Scale:
    """A scale that explains edges: each, by its place in the list, with the reading that has it."""

    px_per_mm: float
    distance_credence: float
    edges: dict[int, Reading] = field(factory=dict)

    @property
    def credence(self) -> float:
        return self.distance_credence + sum(reading.credence for reading in self.edges.values())

    def explains(self, sure: list[int]) -> bool:
        """Whether every sure edge has a reading of this scale."""
        return all(place in self.edges for place in sure)

    def choice(self, edges: Sequence[GraduatedEdge], *warnings: str) -> Choice:
        """Its reading of each edge."""
        return Choice(tuple(self.edges.get(place) for place in range(len(edges))), warnings)

    @property
    def units(self) -> set[str]:
        return {reading.graduation.unit for reading in self.edges.values()}

    def text(self) -> str:
        names = " and ".join(sorted({reading.graduation.text for reading in self.edges.values()}))
        return f"{names} ({self.px_per_mm * INCH:.0f} px per inch)"


def choose(picture: Picture, edges: Sequence[GraduatedEdge], ruler: str, *, slanted: bool = False) -> Choice:
    """The right readings of ``edges`` (each with one reading or more); ``ruler`` is "auto", "inch" or "cm".

    ``slanted``: a camera took the picture, whose resolution tag says nothing. Edges whose hierarchy is not sure
    decide nothing; they are taken along where they fit. What is printed beside the marks is read only where they
    alone leave it unclear.

    UndecidedError ``units-unclear``, ``references-disagree``; InputError ``ruler-contradicts``.
    """
    if slanted:
        picture = evolve(picture, dpi=None)
    try:
        return _choose(picture, edges, ruler, slanted=slanted)
    except UndecidedError:
        told = [evolve(e, readings=allowed_by_lettering(picture.pixels, e.comb, e.readings)) for e in edges]
        if all(one.readings == edge.readings for one, edge in zip(told, edges, strict=True)):
            raise
        choice = _choose(picture, told, ruler, slanted=slanted)
    return evolve(choice, warnings=(*choice.warnings, printed_note(choice.readings)))


def _choose(picture: Picture, edges: Sequence[GraduatedEdge], ruler: str, *, slanted: bool) -> Choice:
    sure = [place for place, edge in enumerate(edges) if edge.is_sure]
    if not sure:
        longest = max(edges, key=lambda edge: edge.marks)
        names = " or ".join(reading.graduation.text for reading in longest.readings)
        raise _unclear(
            picture,
            f"The ruler's marks can be read as {names}, and their lengths do not tell which.",
            "The longest marks are broken, worn or covered.",
            f"{SAY_LENGTH} Or take the picture again with the ruler's marks clean and in full view.",
        )
    scales = _scales(edges, sure, picture.focal_px if slanted else None, AGREE_SLANTED if slanted else AGREE)
    whole = [scale for scale in scales if scale.explains(sure)]
    if not whole:
        raise _contradict(picture, [edges[place] for place in sure], scales)
    whole.sort(key=lambda scale: -scale.credence)
    if ruler != "auto":
        return _by_word(picture, whole, ruler).choice(edges)
    best = whole[0]
    if len(whole) == 1:
        _doubt(picture, best)
        return best.choice(edges)
    fitting = [scale for scale in whole if _dpi_agrees(picture, scale)]
    if best.credence - whole[1].credence >= CLEAR_CREDENCE and (not fitting or best in fitting):
        return best.choice(edges)
    if len(fitting) == 1:
        return fitting[0].choice(
            edges,
            f"The marks alone do not tell {_either(whole)}; the file's resolution of "
            f"{_dpi(picture):.0f} dpi decided for {fitting[0].text()}. "
            f"If that is wrong, give --ruler {_other(fitting[0])}.",
        )
    raise _unclear(
        picture,
        f"The ruler's marks can be read in two ways: {_either(whole)}.",
        "Tenths of an inch and of a centimetre are marked alike, and nothing else in the picture decides.",
        "Say which it is: --ruler inch or --ruler cm.",
    )


def _contradict(picture: Picture, sure: Sequence[GraduatedEdge], scales: Sequence[_Scale]) -> UndecidedError:
    """No scale explains every sure edge: the true reason where all have one graduation, and seem of two sizes."""
    common = set.intersection(*({reading.graduation for reading in edge.readings} for edge in sure))
    if not common:
        return _unclear(
            picture,
            "The graduations in the picture contradict one another: " + "; ".join(s.text() for s in scales) + ".",
            "One of them may be no ruler's, or a ruler with a reduced scale lies in the picture.",
            "Take the picture again with one ordinary ruler, in inches or centimetres.",
        )
    steps = [edge.step for edge in sure]
    return UndecidedError(
        "references-disagree",
        f"Two rulers in the picture are divided alike, and one looks {max(steps) / min(steps):.2f} times as large "
        "as the other.",
        where=picture.name,
        likely="One lies higher than the other, nearer to the camera, or is a reduced copy: nobody can tell which "
        "of them is level with the templates.",
        todo="Lay one ruler, or all of them, flat on the table beside the templates, and take the picture again; "
        "or cover the one that lies higher.",
    )


def _scales(edges: Sequence[GraduatedEdge], sure: list[int], focal_px: float | None, agree: float) -> list[_Scale]:
    """Every scale a reading of a sure edge asks for, with the edges that have a reading of that scale."""
    scales: list[_Scale] = []
    for one in sure:
        for reading in edges[one].readings:
            value = edges[one].step / reading.graduation.step_mm
            if any(_near(scale.px_per_mm, value, agree) for scale in scales):
                continue
            scale = _Scale(value, _distance_credence(focal_px, value))
            for place, other in enumerate(edges):
                off = {
                    choice: abs(math.log(other.step / choice.graduation.step_mm / value))
                    for choice in other.readings
                }
                fitting = [choice for choice in other.readings if off[choice] <= agree]
                if fitting:
                    scale.edges[place] = min(fitting, key=off.__getitem__)
            scales.append(scale)
    return scales


def _distance_credence(focal_px: float | None, px_per_mm: float) -> float:
    """Ln likelihood of the distance from which a camera would see this scale."""
    if focal_px is None:
        return 0.0
    return -0.5 * (math.log(focal_px / px_per_mm / USUAL_DISTANCE_MM) / DISTANCE_LN_SIGMA) ** 2


def _by_word(picture: Picture, whole: list[_Scale], ruler: str) -> _Scale:
    """The scale in the unit the person named, unless the picture clearly says otherwise."""
    allowed = [scale for scale in whole if ruler in scale.units]
    if allowed and whole[0].credence - allowed[0].credence <= ABSURD_CREDENCE:
        return allowed[0]
    raise InputError(
        "ruler-contradicts",
        f"You said --ruler {ruler}, but the picture shows {whole[0].text()}.",
        where=picture.name,
        likely="The lengths of the marks repeat as they do on such a ruler, and not otherwise.",
        todo="Leave --ruler out, or check that this is the right picture.",
    )


def _doubt(picture: Picture, scale: _Scale) -> None:
    """Ask, where the file's resolution is just twice or half, or an inch's tenths, of what the ruler says."""
    for factor in TELLING_FACTORS if _has_dpi(picture) else ():
        if _near(scale.px_per_mm * INCH, _dpi(picture) * factor, DPI_AGREE):
            raise _unclear(
                picture,
                f"The marks read as {scale.text()}, but the file says {_dpi(picture):.0f} dpi, just the factor "
                f"{factor:.3g} by which a graduation is misread.",
                "Either the picture was resized after scanning, or the lengths of the ruler's marks mislead.",
                f"If the reading is right, say so with --ruler {min(scale.units)}.",
            )


def _near(a: float, b: float, share: float) -> bool:
    return abs(math.log(a / b)) <= share


def _has_dpi(picture: Picture) -> bool:
    return picture.dpi is not None and picture.camera is None


def _dpi(picture: Picture) -> float:
    return math.sqrt(picture.dpi[0] * picture.dpi[1]) if picture.dpi else math.nan


def _dpi_agrees(picture: Picture, scale: _Scale) -> bool:
    return _has_dpi(picture) and _near(scale.px_per_mm * INCH, _dpi(picture), DPI_AGREE)


def _either(whole: list[_Scale]) -> str:
    return " or ".join(scale.text() for scale in whole)


def _other(scale: _Scale) -> str:
    return "inch" if "cm" in scale.units else "cm"


def _unclear(picture: Picture, what: str, likely: str, todo: str) -> UndecidedError:
    return UndecidedError("units-unclear", what, where=picture.name, likely=likely, todo=todo)
