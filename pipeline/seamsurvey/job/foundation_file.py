"""foundation.json: the sections, the order, the joins (format seamsurvey.foundation/1)."""

from attrs import field, frozen

from seamsurvey.job.conversion import SELDOM, from_json, to_json
from seamsurvey.job.photo_entries import unreadable
from seamsurvey.model import (
    AddedSeam,
    Advice,
    Array,
    Cure,
    FoundationPlan,
    Join,
    Place,
    PlanProof,
    Section,
    SectionPiece,
)

FORMAT = "seamsurvey.foundation/1"
Point = tuple[float, float]


@frozen
class SectionPieceEntry:
    """A piece in its section, in sewing order."""

    label: str
    piece: str
    outline_mm: Array
    part: int | None = None
    grain_deg: float | None = None
    unit: str | None = None
    bulges: tuple[float, ...] = field(default=(), metadata={SELDOM: True})


@frozen
class SectionEntry:
    """One section to print; its outlines stand in the block frame at the first place."""

    name: str
    copies: int
    outline_mm: Array
    pieces: list[SectionPieceEntry]
    places: list[Place]
    bulges: tuple[float, ...] = field(default=(), metadata={SELDOM: True})


@frozen
class AddedSeamEntry:
    """A cut through a piece."""

    piece: str
    from_mm: Point
    to_mm: Point
    why: str


@frozen
class JoinEntry:
    """A seam between two sections or earlier results; ``corners_mm`` is its whole run where not straight."""

    step: int
    parts: tuple[str, str]
    result: str
    from_mm: Point
    to_mm: Point
    kind: str
    corners_mm: list[Point] = field(factory=list)
    press_towards: str | None = None
    stop_mm: Point | None = None
    finish_after: int | None = None
    bulges: tuple[float, ...] = field(default=(), metadata={SELDOM: True})


@frozen
class CureEntry:
    """One way to be rid of the set-in seams, or to sew them."""

    kind: str
    text: str
    extra_fragments: int
    sections: int
    prints: int
    lines_mm: list[tuple[Point, Point]]
    chosen: bool


@frozen
class AdviceEntry:
    """A sentence for the person."""

    code: str
    text: str
    at_mm: Point | None = None


@frozen
class FoundationFile:
    """The whole file."""

    format: str
    sections: list[SectionEntry]
    added_seams: list[AddedSeamEntry]
    joins: list[JoinEntry]
    advice: list[AdviceEntry]
    proof: PlanProof
    cures: list[CureEntry] = field(factory=list)


def write_foundation(plan: FoundationPlan) -> bytes:
    """Return foundation.json as bytes."""
    return to_json(
        FoundationFile(
            format=FORMAT,
            sections=[
                SectionEntry(
                    name=section.name,
                    copies=section.copies,
                    outline_mm=section.outline,
                    pieces=[
                        SectionPieceEntry(p.label, p.piece, p.outline, p.part, p.grain_deg, p.unit, p.bulges)
                        for p in section.pieces
                    ],
                    places=list(section.places),
                    bulges=section.bulges,
                )
                for section in plan.sections
            ],
            added_seams=[AddedSeamEntry(seam.piece, seam.start, seam.end, seam.why) for seam in plan.added_seams],
            joins=[
                JoinEntry(
                    j.step,
                    j.parts,
                    j.result,
                    j.start,
                    j.end,
                    j.kind,
                    list(j.corners),
                    j.press_towards,
                    j.stop,
                    j.finish_after,
                    j.bulges,
                )
                for j in plan.joins
            ],
            advice=[AdviceEntry(advice.code, advice.text, advice.at) for advice in plan.advice],
            proof=plan.proof,
            cures=[
                CureEntry(c.kind, c.text, c.extra_fragments, c.sections, c.prints, list(c.lines), c.chosen)
                for c in plan.cures
            ],
        )
    )


def read_foundation(text: bytes, file: str = "foundation.json") -> FoundationPlan:
    """Return the plan of a foundation.json; InputError ``file-unreadable`` says what is wrong with it."""
    entries = from_json(text, FoundationFile, file, FORMAT)
    for section in entries.sections:
        if section.copies != len(section.places):
            raise unreadable(
                file, f"section {section.name} has {section.copies} copies, but {len(section.places)} places"
            )
    return FoundationPlan(
        sections=tuple(
            Section(
                name=section.name,
                outline=section.outline_mm,
                pieces=tuple(
                    SectionPiece(
                        label=p.label,
                        piece=p.piece,
                        outline=p.outline_mm,
                        part=p.part,
                        grain_deg=p.grain_deg,
                        unit=p.unit,
                        bulges=p.bulges,
                    )
                    for p in section.pieces
                ),
                places=tuple(section.places),
                bulges=section.bulges,
            )
            for section in entries.sections
        ),
        added_seams=tuple(AddedSeam(s.piece, s.from_mm, s.to_mm, s.why) for s in entries.added_seams),
        joins=tuple(
            Join(
                j.step,
                j.parts,
                j.result,
                j.from_mm,
                j.to_mm,
                j.kind,
                tuple(j.corners_mm),
                j.press_towards,
                j.stop_mm,
                j.finish_after,
                j.bulges,
            )
            for j in entries.joins
        ),
        advice=tuple(Advice(a.code, a.text, a.at_mm) for a in entries.advice),
        proof=entries.proof,
        cures=tuple(
            Cure(
                kind=c.kind,
                text=c.text,
                extra_fragments=c.extra_fragments,
                sections=c.sections,
                prints=c.prints,
                lines=tuple(c.lines_mm),
                chosen=c.chosen,
            )
            for c in entries.cures
        ),
    )
