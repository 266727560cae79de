"""foundation.json: the sections, the order, the joins (format seamsurvey.foundation/1)."""

from attrs import field, frozen

from seamsurvey.job.conversion import from_json, to_json
from seamsurvey.model import (
    AddedSeam,
    Advice,
    Array,
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


@frozen
class SectionEntry:
    """One section to print; its outlines stand in the block frame at the first place."""

    name: str
    copies: int
    outline_mm: Array
    pieces: list[SectionPieceEntry]
    places: list[Place]


@frozen
class AddedSeamEntry:
    """A cut through a piece."""

    piece: str
    from_mm: Point
    to_mm: Point
    why: str


@frozen
class JoinEntry:
    """A seam between two sections or earlier results; ``corners_mm`` is the whole run of a bent one."""

    step: int
    parts: tuple[str, str]
    result: str
    from_mm: Point
    to_mm: Point
    kind: str
    corners_mm: list[Point] = field(factory=list)


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
                    pieces=[SectionPieceEntry(p.label, p.piece, p.outline) for p in section.pieces],
                    places=list(section.places),
                )
                for section in plan.sections
            ],
            added_seams=[AddedSeamEntry(seam.piece, seam.start, seam.end, seam.why) for seam in plan.added_seams],
            joins=[
                JoinEntry(j.step, j.parts, j.result, j.start, j.end, j.kind, list(j.corners)) for j in plan.joins
            ],
            advice=[AdviceEntry(advice.code, advice.text, advice.at) for advice in plan.advice],
            proof=plan.proof,
        )
    )


def read_foundation(text: bytes, file: str = "foundation.json") -> FoundationPlan:
    """Return the plan of a foundation.json; InputError ``file-unreadable`` says what is wrong with it."""
    entries = from_json(text, FoundationFile, file, FORMAT)
    return FoundationPlan(
        sections=tuple(
            Section(
                name=section.name,
                outline=section.outline_mm,
                pieces=tuple(
                    SectionPiece(label=p.label, piece=p.piece, outline=p.outline_mm) for p in section.pieces
                ),
                places=tuple(section.places),
            )
            for section in entries.sections
        ),
        added_seams=tuple(AddedSeam(s.piece, s.from_mm, s.to_mm, s.why) for s in entries.added_seams),
        joins=tuple(
            Join(j.step, j.parts, j.result, j.from_mm, j.to_mm, j.kind, tuple(j.corners_mm)) for j in entries.joins
        ),
        advice=tuple(Advice(a.code, a.text, a.at_mm) for a in entries.advice),
        proof=entries.proof,
    )
