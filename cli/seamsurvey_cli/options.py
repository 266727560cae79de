"""Options that several commands share, and how their values are read."""

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click
from click.core import ParameterSource

from seamsurvey.job.sheet_wishes import ONLY, SETTINGS, TURNED
from seamsurvey.job.wish_keys import (
    CARDS,
    OUTLINES,
    REFERENCES,
    RULERS,
    SYMMETRIES,
    TAKEN_WITH,
    TEMPLATES_ARE,
    UNITS,
    finish_fields,
)
from seamsurvey.model import CURES, PIECED_STARTS, PREFERENCES
from seamsurvey.units import SHEET_SIZES
from seamsurvey_cli.option_types import (
    Allowance,
    Bars,
    Drawn,
    Exchange,
    Finish,
    FolderPath,
    Ignored,
    Length,
    Meets,
    NamedColour,
    NamedCount,
    PrintScale,
    QuiltSize,
    Snap,
)

F = TypeVar("F", bound=Callable[..., Any])

time_limit = click.option(
    "--time-limit", type=click.FloatRange(min=1), metavar="SECONDS",
    help="Limit of each search: what one slow core does in this time. It is counted, so that every machine comes "
    "to the same.",
)  # fmt: skip


def photos_and_job(function: F) -> F:
    """PHOTO... --into JOB."""
    for decorate in (
        click.option("--into", required=True, type=FolderPath(), metavar="JOB", help="The job's folder."),
        click.option("--copy-photos", is_flag=True, help="Keep a copy of the photos in the job's folder."),
        click.argument("photos", nargs=-1, type=click.Path(path_type=Path), metavar="PHOTO..."),
    ):
        function = decorate(function)
    return function


def measuring(function: F) -> F:
    """Options of stages 1 and 2."""
    return _all(
        function,
        click.option(
            "--reference",
            type=click.Choice(REFERENCES),
            help="The only thing to take the scale from; letter, a4: a sheet of that paper, roughly; none: shapes "
            "and ratios, in pixels.",
        ),
        click.option(
            "--templates-are", type=click.Choice(TEMPLATES_ARE), help="Cut cards, or outlines printed on a page."
        ),
        click.option(
            "--cards", type=click.Choice(CARDS), help="Whether what is written on the cards is read and used."
        ),
        click.option("--scale-bar", type=Length(), help="What a bar or square on the printed page should measure."),
        click.option("--page-grid", type=Length(), help="What a square of the printed page's grid should measure."),
        click.option("--taken-with", type=click.Choice(TAKEN_WITH), help="What took the picture."),
        click.option("--ruler", type=click.Choice(RULERS), help="What the ruler is divided in."),
        click.option("--ruler-length", type=Length(), help="Checked distance of the first and last mark in view."),
        click.option("--ruler-thickness", type=Length(), help="How high the ruler's marks lie above the table."),
        click.option("--thickness", type=Length(), help="Thickness of the card."),
        click.option("--target-bars", type=Bars(), help="What the printed target's two bars measure."),
        click.option("--allowance", type=Allowance(), help="Margin the templates carry round the finished shape."),
        click.option("--units", type=click.Choice(UNITS), help="Units of the results."),
    )


def saying_what_lies_there(function: F) -> F:
    """Options that tell what something in a photo is."""
    return _all(
        function,
        click.option("--confirm", type=Ignored(), multiple=True, metavar="NUMBER",
                     help="What has this number behind × in the overlay is a template. May be repeated."),
        click.option("--drawn", type=Drawn(), multiple=True, metavar="'PHOTO X,Y X,Y X,Y'",
                     help="A card's corners in a photo, px, where it was seen wrongly or not. May be repeated."),
    )  # fmt: skip


def assembling(function: F) -> F:
    """Options of stage 3."""
    return _all(
        function,
        click.option("--count", "counts", type=NamedCount(), multiple=True,
                     help="How many a block takes: T1=4, or T1=4+2 with 2 reversed. May be repeated."),
        click.option("--symmetry", type=click.Choice(SYMMETRIES),
                     help="How the block repeats itself."),
        click.option("--outline", type=click.Choice(OUTLINES),
                     help="The block's shape; triangle: right isosceles."),
        click.option("--finish", type=Finish(),
                     help="Scale the block to this finished width; 12in x 16in says its shape too, and "
                     "6in,9in,12in gives a set of sheets in each size."),
        click.option("--snap", type=Snap(),
                     help="Round lengths to this where the measurements allow it: 1/16in, 1mm, off."),
        click.option("--picture", type=click.Path(exists=True, dir_okay=False), metavar="FILE",
                     help="A photo or drawing of the whole block, to choose between layouts that fit."),
        click.option("--meets", type=Meets(), multiple=True, metavar="EDGE=EDGE",
                     help="Edges seen sewn to one another, T1.2=T3.1: such layouts come first. May be repeated."),
        click.option("--layout", type=click.IntRange(min=1),
                     help="Take this one of the layouts that fit; 1, the likeliest, is taken unasked."),
        click.option("--turn", multiple=True, metavar="PIECE",
                     help="Turn the unit round this piece, T1-3, a quarter turn on. May be repeated."),
        click.option("--exchange", type=Exchange(), multiple=True, metavar="PIECE=PIECE",
                     help="Let the units round two pieces change places, T1-3=T1-5. May be repeated."),
        click.option("--ask", is_flag=True, help="Stop where several layouts fit, and let me choose."),
        click.option("--ignore", type=Ignored(), multiple=True, metavar="NUMBER",
                     help="What has this number behind × in the overlay is no template. May be repeated."),
        click.option("--seed", type=int, help="Seed of the search."),
        time_limit,
    )  # fmt: skip


def sectioning(function: F) -> F:
    """Options of stage 4."""
    return _all(
        function,
        click.option("--prefer", type=click.Choice(PREFERENCES), help="What the sections are chosen for."),
        click.option("--pieced-start", type=click.Choice(PIECED_STARTS),
                     help="Whether a joined unit may be the first patch of a section."),
        click.option("--way", type=click.Choice(CURES), help="Which way to sew what has Y-seams as drawn."),
        click.option("--cure", "way_before", type=click.Choice(CURES), hidden=True),  # its name before
        click.option("--never-cut", multiple=True, metavar="NAME",
                     help="A piece, or a template, that no added seam may cut. May be repeated."),
    )  # fmt: skip


def drawing(function: F) -> F:
    """Options of stage 5."""
    return _all(
        function,
        click.option("--title", help="Title on the sheets."),
        click.option("--paper", type=click.Choice(list(SHEET_SIZES)),
                     help="Paper of the sheets; both: prints whole on Letter and on A4."),
        click.option("--print-scale", type=PrintScale(),
                     help="Make up for a printer that is not true: 0.982x0.985, or what the bars measure, "
                     "98.2mm x 98.5mm."),
        click.option("--seam-allowance", type=Length(), help="Margin printed round sections and templates."),
        click.option("--oversize", type=Length(), help="How much larger than its piece a patch is."),
        click.option("--fabric-width", type=Length(), help="Usable width of your fabric, without selvedges."),
        click.option("--only", type=click.Choice(ONLY), help="Draw no other file than the foundations."),
        click.option("--quilt", type=QuiltSize(), help="Blocks across and down in the quilt's picture: 4x5."),
        click.option("--setting", type=click.Choice(SETTINGS), help="How the blocks lie in the quilt."),
        click.option("--sashing", type=Length(), help="Finished width of the strips between blocks."),
        click.option("--turned", type=click.Choice(TURNED), help="Which blocks are turned in the quilt."),
        click.option("--border", type=Length(), help="Finished width of the border round the quilt."),
        click.option("--blocks", type=click.IntRange(min=1), help="How many blocks the cutting list is for."),
        click.option("--colour", "colours", type=NamedColour(), multiple=True,
                     help="Colour of a template, piece or fabric: T1=#4477aa. May be repeated."),
    )  # fmt: skip


def on_a_job(function: F) -> F:
    """Options of every command that works on one job."""
    forget = click.option(
        "--forget", multiple=True, metavar="KEY",
        help="Take back what job.toml says of this: layout, allowance, counts.T1. May be repeated.",
    )  # fmt: skip
    return forget(running(function))


def running(function: F) -> F:
    """Options of every command that works on jobs."""
    return _all(
        function,
        click.option("--json", "as_json", is_flag=True, help="Print the result as JSON."),
        click.option("--dry-run", is_flag=True, help="Say what would be done, and do nothing."),
        click.option("--force", is_flag=True, help="Do every stage again, and overwrite files changed by hand."),
        click.option("-q", "--quiet", is_flag=True, help="No progress."),
        click.option("-v", "--verbose", is_flag=True, help="Times of the stages, and all templates measured."),
        click.option("--no-color", is_flag=True, help="No colours."),
        click.option("--debug", is_flag=True, help="A traceback where the program itself fails."),
    )


def _all(function: F, *decorators: Callable[[F], F]) -> F:
    for decorate in reversed(decorators):
        function = decorate(function)
    return function


# Options that are fields of Wishes.quilt.
_QUILT = {"setting": "setting", "sashing": "sashing_mm", "turned": "turned", "border": "border_mm"}

# How each option's value goes into the fields of Wishes.
_FIELDS = {
    "reference": "reference",
    "templates_are": "templates_are",
    "cards": "cards",
    "scale_bar": "scale_bar_mm",
    "page_grid": "page_grid_mm",
    "taken_with": "taken_with",
    "ruler": "ruler",
    "ruler_length": "ruler_length_mm",
    "ruler_thickness": "ruler_thickness_mm",
    "thickness": "thickness_mm",
    "target_bars": "target_bars_mm",
    "allowance": "allowance_mm",
    "units": "units",
    "symmetry": "symmetry",
    "outline": "outline",
    "finish": "finish",
    "snap": "snap_mm",
    "picture": "picture",
    "layout": "layout",
    "seed": "seed",
    "time_limit": "time_limit_s",
    "prefer": "prefer",
    "pieced_start": "pieced_start",
    "way_before": "cure",
    "way": "cure",
    "title": "title",
    "paper": "paper",
    "blocks": "blocks",
    "print_scale": "print_scale",
    "seam_allowance": "seam_allowance_mm",
    "oversize": "oversize_mm",
    "fabric_width": "fabric_width_mm",
    "only": "only",
}


def said_here(options: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    """What ``wished`` reads of the command line, and of the environment."""
    context = click.get_current_context()
    usual = {name for name in options if context.get_parameter_source(name) is ParameterSource.ENVIRONMENT}
    return (
        wished({name: value for name, value in options.items() if name not in usual}),
        wished({name: options[name] for name in usual}),
    )


def wished(options: dict[str, Any]) -> dict[str, Any]:
    """Return the fields of Wishes that the given options set; what was not given is left out."""
    wishes = {field: options[name] for name, field in _FIELDS.items() if options.get(name) is not None}
    for name in ("allowance_mm", "snap_mm"):
        if wishes.get(name) == "auto":
            wishes[name] = None
    if "finish" in wishes:
        wishes |= finish_fields(wishes.pop("finish"))
    if "layout" in wishes:
        wishes["taken"] = None  # a number said now means the layouts as they are now
    for name in ("never_cut", "confirm", "drawn", "ignore", "meets", "turn", "exchange"):
        if options.get(name):
            wishes[name] = tuple(options[name])
    quilt = {**(options.get("quilt") or {})}
    quilt |= {_QUILT[name]: options[name] for name in _QUILT if options.get(name) is not None}
    if quilt:
        wishes["quilt"] = quilt
    for name in ("counts", "colours"):
        if options.get(name):
            wishes[name] = dict(options[name])
    return wishes
