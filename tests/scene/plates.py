"""Clear quilters' rulers and tape measures: looks of our own, drawn as the other rulers are."""

from __future__ import annotations

from .rulers import RulerKind, Scale

_SIXTEENTHS = ((1, 9.5), (2, 7.0), (4, 5.2), (8, 3.8), (16, 2.6))
_EIGHTHS = ((1, 9.0), (2, 7.0), (4, 5.0), (8, 3.4))
_MILLIMETRES = ((1, 7.5), (2, 5.4), (10, 3.4))
_TAPE_SIXTEENTHS = ((1, 11.0), (2, 6.6), (4, 5.2), (8, 3.9), (16, 2.8))
_TAPE_MILLIMETRES = ((1, 8.0), (2, 5.4), (10, 3.2))


def _plate(
    name: str, look: str, levels: tuple[tuple[int, float], ...], *, columns: int, rows: int, under: bool
) -> RulerKind:
    """An inch plate graduated on all four sides, whose grid and marks count from its corner."""
    scales = (
        Scale("inch", levels, "lower", 0.0, columns, mark_width=0.2, figure_height=3.6, figures_beside=True),
        Scale(
            "inch", levels, "upper", columns * 25.4, columns, backwards=True, mark_width=0.2, figure_height=3.6,
            figures_beside=True,
        ),
        Scale("inch", levels, "left", 0.0, rows, mark_width=0.2),
        Scale("inch", levels, "right", 0.0, rows, mark_width=0.2),
    )  # fmt: skip
    return RulerKind(
        name, columns * 25.4, rows * 25.4, 2.9, look, scales, clear=True, printed_under=under, grid=25.4
    )


CLEAR: dict[str, RulerKind] = {
    kind.name: kind
    for kind in (
        _plate("clear-6x12", "clear", _SIXTEENTHS, columns=12, rows=6, under=True),
        _plate("clear-6x12-eighths", "clear", _EIGHTHS, columns=12, rows=6, under=False),
        _plate("clear-6x6", "clear-light", _EIGHTHS, columns=6, rows=6, under=True),
        RulerKind(
            "clear-1x12",
            304.8,
            38.0,
            2.5,
            "clear",
            (
                Scale("inch", _SIXTEENTHS, "upper", 0.0, 12, mark_width=0.2, figure_height=3.6),
                Scale("inch", _EIGHTHS, "lower", 0.0, 12, mark_width=0.2, figure_height=3.4),
            ),
            clear=True,
        ),
        RulerKind(
            "clear-30cm",
            300.0,
            150.0,
            3.0,
            "clear",
            (
                Scale("cm", _MILLIMETRES, "lower", 0.0, 30, mark_width=0.2, figure_height=3.2, figures_beside=True),
                Scale("cm", _MILLIMETRES, "left", 0.0, 15, mark_width=0.2),
            ),
            clear=True,
            printed_under=True,
            grid=10.0,
        ),
    )
}

# The first stretch of a tape, its end hook or grommet out of the picture.
TAPES: dict[str, RulerKind] = {
    kind.name: kind
    for kind in (
        RulerKind(
            "tape-inch-cm",
            420.0,
            19.0,
            0.5,
            "yellow",
            (
                Scale("inch", _TAPE_SIXTEENTHS, "upper", 0.0, 16, mark_width=0.25, figure_height=3.4,
                      figures_beside=True),
                Scale("cm", ((1, 5.4), (2, 4.2), (10, 2.6)), "lower", 0.0, 42, mark_width=0.22, figure_height=2.0),
            ),
            corner_radius=0.2,
        ),
        RulerKind(
            "tape-cloth-cm",
            300.0,
            15.0,
            0.4,
            "white",
            (Scale("cm", _TAPE_MILLIMETRES, "upper", 0.0, 30, mark_width=0.3, figure_height=3.6),),
            corner_radius=0.2,
        ),
    )
}  # fmt: skip
