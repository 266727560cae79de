"""What is kept of the cards in a picture: where copies lie, what was read on them, and what was taken for none."""

from itertools import product

from attrs import frozen

from seamsurvey.plane import Array, array_field


@frozen(kw_only=True)
class CopySeen:
    """Another card of a template's shape: its name, and where it lies."""

    name: str
    photo: int
    corners_px: Array = array_field()  # (n, 2) image: the cut corners


@frozen(kw_only=True)
class CardWriting:
    """A line that is written on a card, as it was read, or several that say one thing.

    ``kind`` is what it speaks of: "name", "count", "allowance", or "" where it says nothing that is known;
    ``means``, what it says of that, as a person would write it in job.toml: "B2", "4+2", "1/4in", "none"; "" where
    that is unclear. ``probability``: that it means this, as found on rendered handwriting. ``clear``: it is likely
    enough to be used where no person says otherwise.
    """

    card: str  # the card's first name: the template's own, or a copy's
    text: str
    probability: float
    kind: str = ""
    means: str = ""
    clear: bool = False

    @property
    def may_mean(self) -> tuple[str, ...]:
        """What a count may mean, as it was read first: a 1 may be written so that it reads 7."""
        if self.kind != "count" or not self.means:
            return ()
        return tuple("".join(way) for way in product(*((f, "1") if f == "7" else (f,) for f in self.means)))


@frozen(kw_only=True)
class LeftOut:
    """Something in the picture that was not taken for a template, and why."""

    photo: int
    outline_px: Array = array_field()  # (n, 2) image
    why: str = ""
