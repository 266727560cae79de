"""Numbers and names as sentences have them."""

from collections.abc import Sequence


def counted(number: int, one: str, many: str = "") -> str:
    """``1 piece``, ``4 pieces``."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def listed(names: Sequence[str]) -> str:
    """``A, B and C``."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
