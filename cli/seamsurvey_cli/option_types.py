"""What is said with an option, read as it stands in job.toml: lengths, counts, edges, units, colours."""

import os
from pathlib import Path
from typing import Any

import click

from seamsurvey.errors import UsageError
from seamsurvey.job.corrections import parse_drawn
from seamsurvey.job.layout_wishes import parse_exchange, parse_ignored, parse_meeting
from seamsurvey.job.sheet_wishes import parse_print_scale, parse_quilt_size
from seamsurvey.job.wish_keys import Finish as FinishedSize
from seamsurvey.job.wish_keys import (
    check_colour,
    parse_bars,
    parse_count,
    parse_finish,
)
from seamsurvey.model import Count
from seamsurvey.units import Worded
from seamsurvey.wishes import DrawnCard


class FolderPath(click.Path):
    """A folder by its path; an empty one, of a variable that was not set, is none, and not the present folder."""

    def __init__(self, *, exists: bool = False) -> None:
        super().__init__(path_type=Path, exists=exists, file_okay=not exists)

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> str | bytes | os.PathLike[str]:
        """Return the Path."""
        if not str(value).strip():
            self.fail("The folder's name is empty.", param, ctx)
        return super().convert(value, param, ctx)


class Length(click.ParamType[float]):
    """A length with a unit: 16in, 5 1/2 in, 6mm."""

    name = "length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return millimetres."""
        if isinstance(value, float):
            return value
        try:
            return Worded(value)
        except UsageError as error:
            self.fail(f"{error.what} {error.todo}", param, ctx)


class Allowance(Length):
    """A length, or "none", or "auto"."""

    name = "auto|none|length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return millimetres; 0 for "none"; "auto" as it is (no option given gives None)."""
        return 0.0 if value == "none" else value if value == "auto" else super().convert(value, param, ctx)


class Bars(click.ParamType[tuple[float, float]]):
    """Two lengths, lying x upright: 99.8mm x 100.2mm."""

    name = "length x length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        """Return millimetres of both."""
        if isinstance(value, tuple):
            return value
        try:
            return parse_bars(value)
        except (UsageError, ValueError):
            self.fail(f"“{value}” is not of the form 99.8mm x 100.2mm.", param, ctx)


class Finish(click.ParamType[FinishedSize]):
    """A width, a width and a height, or several widths: 16in, 12in x 16in, 6in,9in."""

    name = "length[ x length][,length...]"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> FinishedSize:
        """Return millimetres; None for a height that isn't said."""
        if isinstance(value, tuple):
            return value
        try:
            return parse_finish(value)
        except UsageError as error:
            self.fail(f"{error.what} {error.todo}", param, ctx)


class Snap(Length):
    """A length, or "off", or "auto"."""

    name = "auto|off|length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return millimetres; 0 for "off"; "auto" as it is (no option given gives None)."""
        return 0.0 if value == "off" else value if value == "auto" else super().convert(value, param, ctx)


class NamedCount(click.ParamType[tuple[str, Count]]):
    """NAME=N, or NAME=N+M with M of them reversed."""

    name = "name=n"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, Count]:
        """Return the template's name and its Count."""
        if isinstance(value, tuple):
            return value
        name, _, number = value.partition("=")
        try:
            return (name, parse_count(number)) if name else self.fail("The name is missing.", param, ctx)
        except ValueError:
            self.fail(f"“{value}” is not of the form T1=4, or T1=4+2 with 2 reversed.", param, ctx)


class Ignored(click.ParamType[str]):
    """A number of the overlay picture, or a place: scan.jpg 310 420."""

    name = "number"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Return it as job.toml has it."""
        try:
            return parse_ignored(value)
        except ValueError as error:
            self.fail(f"{error}.", param, ctx)


class Drawn(click.ParamType[DrawnCard]):
    """A picture's name and a card's corners in it: scan.jpg 310,420 800,420 800,900."""

    name = "photo x,y x,y x,y"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> DrawnCard:
        """Return the card."""
        if isinstance(value, DrawnCard):
            return value
        try:
            return parse_drawn(value)
        except ValueError as error:
            self.fail(f"{error}.", param, ctx)


class Meets(click.ParamType[tuple[str, str]]):
    """Two edges that are sewn to one another: T1.2=T3.1."""

    name = "edges"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, str]:
        """Return the two edges."""
        if isinstance(value, tuple):
            return value
        try:
            return parse_meeting(value)
        except ValueError as error:
            self.fail(f"{error}; two of them are said as T1.2=T3.1.", param, ctx)


class Exchange(click.ParamType[tuple[str, str]]):
    """Two units, each named by a piece in it: T1-3=T1-5."""

    name = "units"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, str]:
        """Return the two units."""
        if isinstance(value, tuple):
            return value
        try:
            return parse_exchange(value)
        except ValueError as error:
            self.fail(f"{error}; two of them are said as T1-3=T1-5.", param, ctx)


class PrintScale(click.ParamType[tuple[float, float]]):
    """Two factors, or what a page's two bars measure."""

    name = "scale"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:
        """Return the scale across and up the page."""
        if isinstance(value, tuple):
            return value
        try:
            return parse_print_scale(value)
        except UsageError as error:
            self.fail(f"{error.what} {error.todo}", param, ctx)


class QuiltSize(click.ParamType[dict[str, int]]):
    """ACROSSxDOWN."""

    name = "nxm"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> dict[str, int]:
        """Return the two numbers by name."""
        if isinstance(value, dict):
            return value
        try:
            return parse_quilt_size(value)
        except ValueError as error:
            self.fail(f"{error}.", param, ctx)


class NamedColour(click.ParamType[tuple[str, str]]):
    """NAME=#rrggbb."""

    name = "name=#rrggbb"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[str, str]:
        """Return the template's name and its colour, in lower case."""
        if isinstance(value, tuple):
            return value
        name, _, colour = value.partition("=")
        try:
            return (name, check_colour(colour)) if name else self.fail("The name is missing.", param, ctx)
        except ValueError:
            self.fail(f"“{value}” is not of the form T1=#4477aa.", param, ctx)
