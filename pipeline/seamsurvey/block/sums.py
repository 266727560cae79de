"""Sums of lengths or angles: what edges end to end, or corners round a point, can make."""

from collections.abc import Iterable


class Sums:
    """Which sums of some values, each as often as need be, there are up to a limit; 0 is none of them.

    They are the bits of an int, a step apart; the step is so fine that a sum of a few is off by less than the
    tolerance it is asked with.
    """

    def __init__(self, values: Iterable[float], limit: float, tolerance: float) -> None:
        self._step = tolerance / 8
        self._count = int(limit / self._step) + 2
        full = (1 << self._count) - 1
        reached = 1
        for shift in sorted({round(value / self._step) for value in values}):
            more = reached
            while more := (more << shift) & full:
                if not more & ~reached:
                    break
                reached |= more
        self._bits = reached & ~1

    def has(self, value: float, tolerance: float) -> bool:
        """Whether one of them lies within the tolerance; true beyond the limit."""
        if value <= 0:
            return False
        low, high = max(int((value - tolerance) / self._step), 0), int((value + tolerance) / self._step) + 1
        return high >= self._count or bool(self._bits >> low & (1 << high - low + 1) - 1)
