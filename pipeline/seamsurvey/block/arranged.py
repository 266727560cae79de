"""Units of a closed layout turned where they lie, or exchanged, as a person asks: what fits that way fits this way.

A unit is a part of the block that straight seams part off, square, of two pieces or more. It is named by a piece in
it, "T1-3", and then the smallest such part is meant; or by two, "T1-3+T2-1", and then the smallest that holds both.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from attrs import evolve
from shapely import Polygon

from seamsurvey.block.parted import cut_apart
from seamsurvey.block.seams import seams_of
from seamsurvey.errors import InputError
from seamsurvey.model import Block, LayoutProof, Piece, Reason
from seamsurvey.unions import united

_EXACT_MM = 1e-5  # closed pieces meet to rounding; a unit that is not square misses by far more
_NEARLY = 0.02  # share of its side by which a part may miss being square, to be told why it can't be turned
_BY_HAND = Reason("arranged", "units lie as you have turned or exchanged them", 0.0)


@dataclass(frozen=True)
class _Unit:
    """Its pieces' names and its outline's corner points: low, and width and height, mm, block frame."""

    pieces: frozenset[str]
    low: np.ndarray
    size: np.ndarray

    @property
    def middle(self) -> np.ndarray:
        return self.low + self.size / 2


def arranged(block: Block, turn: Sequence[str], exchange: Sequence[tuple[str, str]]) -> Block:
    """The block with units a quarter turn counter-clockwise on (each time one is named), then pairs exchanged.

    InputError ``unit-unknown`` for a piece there is none of, ``unit-not-square`` for one in no unit that can be
    turned or exchanged.
    """
    if not turn and not exchange:
        return block
    for name in turn:
        block = _moved(block, [(_unit(block, name), _unit(block, name), 1)])
    for one, other in exchange:
        first, second = _unit(block, one), _unit(block, other)
        if first.pieces & second.pieces or np.abs(first.size - second.size).max() > _EXACT_MM:
            raise _not_square(f"{one} and {other}", "they are not of one size, or one is a part of the other")
        block = _moved(block, [(first, second, 0), (second, first, 0)])
    proof = LayoutProof(searched_all=False, layouts_found=block.proof.layouts_found, work_s=block.proof.work_s)
    return evolve(block, symmetry="as arranged", proof=proof, reasons=(_BY_HAND, *block.reasons))


def _moved(block: Block, moves: Iterable[tuple[_Unit, _Unit, int]]) -> Block:
    """Each unit at the place of another, so many quarter turns on."""
    places: dict[str, np.ndarray] = {}
    for unit, there, quarters in moves:
        turn = np.array([[0.0, -1.0], [1.0, 0.0]]) if quarters else np.eye(2)
        for piece in block.pieces:
            if piece.id in unit.pieces:
                places[piece.id] = (piece.outline - unit.middle) @ turn.T + there.middle
    pieces = tuple(evolve(p, outline=places[p.id]) if p.id in places else p for p in block.pieces)
    return evolve(block, pieces=pieces, seams=seams_of(pieces))


def _unit(block: Block, name: str) -> _Unit:
    """The smallest square part that holds the pieces named."""
    wanted = {part.strip() for part in name.split("+")}
    unknown = wanted - {piece.id for piece in block.pieces}
    if unknown:
        raise InputError(
            "unit-unknown",
            f"There is no piece {', '.join(sorted(unknown))} in this layout.",
            likely=f"Its pieces are {', '.join(piece.id for piece in block.pieces)}.",
            todo="Name a unit by a piece in it, T1-3, or by two, T1-3+T2-1; block.svg shows the names.",
        )
    sizes = []
    for part in _parts(block.pieces):
        if wanted <= {piece.id for piece in part} and len(part) > 1:
            outline = united(Polygon(piece.drawn) for piece in part)
            low_x, low_y, high_x, high_y = outline.bounds
            size = np.array([high_x - low_x, high_y - low_y])
            full = abs(outline.area - size.prod()) <= _EXACT_MM * size.max()
            unit = _Unit(frozenset(piece.id for piece in part), np.array([low_x, low_y]), size)
            if full and abs(size[0] - size[1]) <= _EXACT_MM:
                return unit
            if full and abs(size[0] - size[1]) <= _NEARLY * size.max():
                sizes.append(f"the part round it measures {size[0]:.2f} × {size[1]:.2f} mm")
    raise _not_square(name, sizes[0] if sizes else "no straight seams part off a square round it")


def _parts(pieces: Sequence[Piece]) -> list[tuple[Piece, ...]]:
    """The parts that straight seams part off, the smallest first."""
    found: list[tuple[Piece, ...]] = []
    waiting = [tuple(pieces)]
    while waiting:
        part = waiting.pop()
        found.append(part)
        rings = [piece.outline @ np.array([1.0, 1j]) for piece in part]
        sides = cut_apart(rings, _EXACT_MM) if len(part) > 1 else None
        if sides is not None:
            one = tuple(p for p, side in zip(part, sides, strict=True) if side)
            other = tuple(p for p, side in zip(part, sides, strict=True) if not side)
            waiting += [one, other]
    return sorted(found, key=len)


def _not_square(name: str, why: str) -> InputError:
    return InputError(
        "unit-not-square",
        f"{name} can't be turned or exchanged: {why}.",
        likely="Only a square unit of two pieces or more can be turned, and only units of one size exchanged.",
        todo="Name another piece, or two that lie in a larger unit: T1-3+T2-1.",
    )
