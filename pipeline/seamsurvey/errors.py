"""What can go wrong, as a person is told it: what, where, the likely cause, and what to do next.

Every error carries a code; ``docs/reference/errors.md`` has one heading for each. The exit codes are the
contract of the command line.
"""

import shlex
from enum import IntEnum

# Stands for a space inside a command, where no line may be broken; ``plain`` makes spaces of it again.
_UNBROKEN = "\u00a0"
_PROGRAM = "seamsurvey"


def command(*words: object) -> str:
    """A command as a person can paste it: every word quoted where it must be, and never broken over two lines."""
    return shlex.join([_PROGRAM, *map(str, words)]).replace(" ", _UNBROKEN)


def plain(text: str, program: str = _PROGRAM) -> str:
    """A text whose commands call the program as it can be called from where the person stands."""
    return text.replace(f"{_PROGRAM}{_UNBROKEN}", f"{program} ").replace(_UNBROKEN, " ")


class Exit(IntEnum):
    """Exit codes of the command line."""

    DONE = 0
    BUG = 1
    USAGE = 2
    INPUT = 3
    UNDECIDED = 4
    CANNOT_WRITE = 5
    PART_MISSING = 6
    INTERRUPTED = 130


class SeamsurveyError(Exception):
    """An error a person can act on.

    ``what`` is one sentence on what is wrong; ``where`` names the file, the template or the place in it;
    ``likely`` is the most probable cause; ``todo`` says what to do now, with the command to try next.
    """

    exit = Exit.INPUT

    def __init__(self, code: str, what: str, *, where: str = "", likely: str = "", todo: str = "") -> None:
        super().__init__(what)
        self.code = code
        self.what = what
        self.where = where
        self.likely = likely
        self.todo = todo

    def __str__(self) -> str:
        parts = [self.what, self.where and f"Where: {self.where}", self.likely, self.todo, f"[{self.code}]"]
        return plain("\n".join(part for part in parts if part))


class InputError(SeamsurveyError):
    """The input can't be used: a picture, a file, a count."""


class UndecidedError(SeamsurveyError):
    """A person must decide: the units are unclear, several layouts fit."""

    exit = Exit.UNDECIDED


class UsageError(SeamsurveyError):
    """The command was called in a way that makes no sense."""

    exit = Exit.USAGE


class CannotWriteError(SeamsurveyError):
    """The disk refuses: no permission, no room, a file in the way."""

    exit = Exit.CANNOT_WRITE


class PartMissingError(SeamsurveyError):
    """An optional part of the installation is missing."""

    exit = Exit.PART_MISSING
