"""What lines of writing on a template mean: its name, how many to cut, whether it carries an allowance.

Only the trade's own phrases are understood, and only where nothing else stands in them: "cut 2 of each colour" is a
count that says something else. Only text is looked at here; how well it was read is for ``writing``.
"""

import re
import unicodedata
from collections.abc import Sequence

from attrs import field, frozen

from seamsurvey.model import Count
from seamsurvey.units import INCH, parse_length

NAME, COUNT, ALLOWANCE = "name", "count", "allowance"
INCLUDED = "included"

_MOST_OF_ONE = 16  # of one template in one block; more are a whole quilt's (common practice, no source)
# In use (common practice, no source). What is read as another is more likely misread, "1/14 in" for "1/4 in".
_IN_USE_MM = (*(INCH * n / 16 for n in (2, 3, 4, 6, 8)), 5.0, 6.0, 7.0, 7.5, 8.0, 10.0)
_SAME_MM = 0.01


@frozen
class Label:
    """What the lines of one card mean; None where they don't say.

    ``allowance_mm``: 0 where the template is finished size; ``included``: it carries one, whose size isn't said.
    ``lines``: by kind, which lines speak of it. ``unclear``: the kinds of which they say something that is not to
    be relied on, be it given here or not.
    """

    name: str | None = None
    count: Count | None = None
    allowance_mm: float | None = None
    included: bool = False
    lines: dict[str, tuple[int, ...]] = field(factory=dict)
    unclear: frozenset[str] = frozenset()

    def value(self, kind: str) -> str | Count | float | None:
        """What they say of a kind; INCLUDED is an allowance whose size isn't said."""
        if kind == ALLOWANCE:
            return INCLUDED if self.included else self.allowance_mm
        return self.name if kind == NAME else self.count


def label_of(lines: Sequence[str]) -> Label:
    """What the lines of one card mean, in reading order."""
    said: dict[str, list[tuple[int, str]]] = {NAME: [], COUNT: [], ALLOWANCE: []}
    for number, line in enumerate(lines):
        plain = plainly(line)
        if before := _NAME_BEFORE.match(plain):
            said[NAME].append((number, before[1].upper()))
            plain = plain[before.end() :]
        squeezed = plain.lower().replace(" ", "")
        counting, rest = _parted(squeezed)
        if counting:
            said[COUNT].append((number, counting))
        elif said[COUNT] and (_REVERSED_ALONE.fullmatch(rest) or _MORE.match(rest)):
            said[COUNT].append((number, rest))
        elif name := _name(plain):
            said[NAME].append((number, name))
        if _OF_ALLOWANCE.search(rest):
            said[ALLOWANCE].append((number, rest))
    names = {name for _, name in said[NAME]}
    # A figure by itself may belong to the name: a "2" and a "B" written apart.
    figures = any(_FIGURES.fullmatch(plainly(line)) for line in lines)
    count, count_sure = _count(_GOES_ON.sub("", ";".join(text for _, text in said[COUNT])))
    allowance_mm, included = _allowance("".join(text for _, text in said[ALLOWANCE]))
    sure = {
        NAME: len(names) == 1 and not figures,
        COUNT: count_sure,
        ALLOWANCE: allowance_mm is not None or included,
    }
    return Label(
        name=min(names) if len(names) == 1 else None,
        count=count,
        allowance_mm=allowance_mm,
        included=included,
        lines={kind: tuple(number for number, _ in texts) for kind, texts in said.items() if texts},
        unclear=frozenset(kind for kind, texts in said.items() if texts and not sure[kind]),
    )


def _parted(squeezed: str) -> tuple[str, str]:
    """What of a line is about a count, and the rest: "cut 4, add seam"; twice the whole where nothing parts it."""
    if not _OF_COUNT.search(squeezed):
        return "", squeezed
    if not _OF_ALLOWANCE.search(squeezed):
        return squeezed, ""
    ways = [(squeezed[:k].rstrip(",;.-"), squeezed[k:]) for k in range(1, len(squeezed))]
    both = {way for way in ways if _count(way[0])[0] and _allowance(way[1]) != (None, False)}
    return both.pop() if len(both) == 1 else (squeezed, squeezed)


def plainly(text: str) -> str:
    """The text in plain characters: vulgar fractions and inch marks as they are typed."""
    spelled = unicodedata.normalize("NFKC", text).translate(_PLAIN).replace("''", '"')
    return " ".join(spelled.split())


_PLAIN = str.maketrans({"\u2044": "/", "×": "x", "′": "'", "″": '"', "’": "'", "‘": "'", "“": '"', "”": '"'})

# --- the name: a letter, doubled or with a figure; a figure with a letter. A figure alone may be a count ---

_LETTERS = r"[A-Za-z][0-9]{0,2}|([A-Za-z])\2|[A-Za-z][RrIlSsZz]|[0-9][A-Za-z]"
_NAME = re.compile(rf"(?:(?:template|piece|patch|part)\s*)?[\"'(]?({_LETTERS})[\"')]?[.:]?", re.IGNORECASE)
_NUMBERED = re.compile(r"(?:template|piece|patch|part|no\.?|nr\.?|#)\s*([0-9]{1,2})[.:]?", re.IGNORECASE)
_NAME_BEFORE = re.compile(r"[\"'(]?([A-Z][0-9]?|[0-9][A-Z])[\"')]?[\s:.,-]+(?=(?:cut|make|need))", re.IGNORECASE)
_FIGURES = re.compile(r"[0-9]{1,2}")
# A figure behind a letter may be read as a letter like it.
_FIGURE_LIKE = str.maketrans("ilsz", "1152")


def _name(text: str) -> str | None:
    """The name as capitals and figures, "B2"; None where the line is something else."""
    if numbered := _NUMBERED.fullmatch(text):
        return numbered[1]
    match = _NAME.fullmatch(text)
    if match is None:
        return None
    name = match[1]
    if len(name) == 2 and name.isalpha() and name[0].upper() != name[1].upper() and name[1].upper() != "R":
        name = name[0] + name[1].lower().translate(_FIGURE_LIKE)
    return name.upper()


# --- the count. All below is without blanks, in small letters: "cut 4" may be read "cut4" ---

_N = r"([0-9li|o]{1,2})"
_CUT = r"(?:cut|make|need)"
_REVERSED = r"(?:r|rev|rev'?d|reversed?|mirror(?:ed|image)?|flipped|turnedover)\.?"
_PIECES = r"(?:pcs\.?|pieces?|patches|times|x|perblock|forone(?:block)?|forablock|/block)?"
_AND = r"(?:\+|,|;|&|and|plus)"
# A phrase, which of its numbers is face up and which reversed, and whether it can't be anything else: "4R" may.
_COUNTS = tuple(
    (re.compile(pattern), face, turned, sure)
    for pattern, face, turned, sure in (
        (rf"{_CUT}:?{_N}{_PIECES}\.?", 1, None, True),
        (rf"{_CUT}:?{_N};?{_REVERSED}", None, 1, True),
        (rf"{_CUT}?:?{_N}{_PIECES}{_AND}{_CUT}?{_N}{_REVERSED}", 1, 2, True),
        (rf"{_CUT}:?{_N}\.?{_CUT}{_N}{_REVERSED}", 1, 2, True),
        (rf"{_N}{_REVERSED}", None, 1, False),
    )
)
_OF_COUNT = re.compile(rf"{_CUT}|^[0-9]{{1,2}}{_REVERSED}$|^[0-9]{{1,2}}(?:\+|&|and)[0-9]{{1,2}}")
_REVERSED_ALONE = re.compile(_REVERSED)
_MORE = re.compile(r"(?:\+|&|and)")  # a second line that goes on with the first
_GOES_ON = re.compile(r";(?=\+|&|and)|(?<=[+&]);")
_ONES_AND_NOUGHTS = str.maketrans("li|o", "1110")


def _count(text: str) -> tuple[Count | None, bool]:
    """The count, and whether it is to be relied on: a 1 is often written so that others read a 7."""
    for pattern, face, turned, sure in _COUNTS:
        if match := pattern.fullmatch(text):
            said = {k: match[k] for k in (face, turned) if k}
            if any(len(number) > 1 and not number.isdigit() for number in said.values()):
                return None, False
            up, down = (int(said[k].translate(_ONES_AND_NOUGHTS)) if k else 0 for k in (face, turned))
            there = [number for k, number in ((face, up), (turned, down)) if k]
            if not all(there):
                return None, False
            clear = all(number <= _MOST_OF_ONE and "7" not in str(number) for number in there)
            return Count(up, down), sure and clear
    return None, False


# --- the allowance ---

_FIGURE = r"(\d+/\d+(?:in(?:ch(?:es)?)?\.?|\"|')?|\d+(?:[.,]\d+)?(?:mm|cm|in(?:ch(?:es)?)?\.?|\"))"
_SEAM = r"(?:seams?(?:allowances?|allow\.?)?|allowances?|s\.?a\.?)"
_IS = r"(?:is|are|:)?"
_HAS = r"(?:includ(?:ed|es|ing)|incl\.?|inc\.?|with)"
_A = r"(?:an?|the|your)?"
_ALLOWANCES = tuple(
    (re.compile(pattern), carried)
    for pattern, carried in (
        (rf"{_FIGURE}{_SEAM}{_IS}{_HAS}", True),
        (rf"{_HAS}{_A}{_FIGURE}{_SEAM}", True),
        (rf"{_SEAM}{_IS}{_HAS}\(?{_FIGURE}\)?", True),
        (rf"{_SEAM}(?:of)?{_FIGURE}{_IS}{_HAS}", True),
        (rf"{_SEAM}{_IS}{_HAS}", True),
        (rf"{_HAS}{_A}{_SEAM}", True),
        (rf"add{_A}{_FIGURE}?(?:for)?{_SEAM}(?:allround)?", False),
        (rf"add{_A}{_FIGURE}(?:allround)?", False),
        (rf"(?:no|without){_A}{_SEAM}{_HAS}?", False),
        (rf"{_SEAM}{_IS}not{_HAS}", False),
        (r"(?:finished|finish|fin\.)size", False),
    )
)
_OF_ALLOWANCE = re.compile(rf"seam|allow|incl|^finish|^add|^not?{_HAS}|{_FIGURE}")


def _allowance(text: str) -> tuple[float | None, bool]:
    """The allowance in mm, 0 for none, and whether there is one of a size that isn't said."""
    for pattern, carried in _ALLOWANCES:
        if match := pattern.fullmatch(text.rstrip(".")):
            if not carried:
                return 0.0, False
            figure = match[1] if pattern.groups else None
            if figure is None:
                return None, True
            mm = parse_length(figure.rstrip(".").replace(",", ".").replace("'", '"'), "in")
            return next((usual for usual in _IN_USE_MM if abs(mm - usual) < _SAME_MM), None), False
    return None, False
