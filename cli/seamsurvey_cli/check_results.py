"""A check as a person reads it on the screen, and as JSON."""

import textwrap
from typing import Any

from attrs import asdict

from seamsurvey.check_model import CANT_TELL, NOTHING_TO_COMPARE, OFF, RIGHT, Checked, CheckReport

_WIDTH = 88


def check_lines(report: CheckReport, *, compared: bool, quiet: bool) -> list[str]:
    """A table with a line for each length, what to change where nothing can be told, and the verdict on all."""
    if not compared:
        return [] if quiet else [*_plain_table(report), *_notes(report)]
    if quiet:
        return [_verdict(report)]
    return [*_table(report), *_changes(report), *_notes(report), "", *_wrapped("Verdict", _verdict(report))]


def _plain_table(report: CheckReport) -> list[str]:
    rows = [(c.name, c.what, f"{c.measured_mm:.2f} mm", f"{c.u_mm:.2f} mm") for c in report.lengths]
    return _columns([("template", "length", "measured", "±"), *rows])


def _table(report: CheckReport) -> list[str]:
    rows = [
        (
            c.name,
            c.what,
            f"{c.measured_mm:.2f} mm",
            "–" if c.wanted_mm is None else f"{c.wanted_mm:.2f} mm",
            _said(c),
        )
        for c in report.lengths
    ]
    return _columns([("template", "length", "measured", "should be", "verdict"), *rows])


def _columns(rows: list[tuple[str, ...]]) -> list[str]:
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    right = {k for k, cell in enumerate(rows[0]) if cell in ("measured", "should be")}
    return [
        "  ".join(
            cell.rjust(width) if k in right else cell.ljust(width)
            for k, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def _said(checked: Checked) -> str:
    off = f"{checked.off_mm:+.2f} ± {checked.off_u_mm:.2f} mm"
    return {
        RIGHT: f"right ({off})",
        OFF: f"off by {off}",
        CANT_TELL: f"can't tell ({off})",
        NOTHING_TO_COMPARE: NOTHING_TO_COMPARE,
    }[checked.verdict]


def _changes(report: CheckReport) -> list[str]:
    """What to change, once for all the lengths it would help."""
    reasons: dict[str, list[str]] = {}
    for checked in report.lengths:
        if checked.verdict == CANT_TELL and checked.change:
            reasons.setdefault(checked.change, []).append(f"{checked.name} {checked.what}")
    return [
        line
        for change, lengths in reasons.items()
        for line in _wrapped("To change", f"{', '.join(lengths)}: {change}.")
    ]


def _notes(report: CheckReport) -> list[str]:
    lost = [f"Not checked in this photo: {', '.join(report.missing)}."] if report.missing else []
    return [line for text in (*lost, *report.notes) for line in _wrapped("Note", text)]


def _verdict(report: CheckReport) -> str:
    counts = {verdict: sum(c.verdict == verdict for c in report.lengths) for verdict in (OFF, CANT_TELL)}
    share = report.tolerance_share
    tolerance = f"{100 * share:g} %" if share else f"{report.tolerance_mm:.2f} mm"
    within = f"within ± {tolerance} (each at a risk of {100 * report.risk:g} %)"
    if report.verdict == RIGHT:
        return f"right: all {len(report.lengths)} lengths are {within}."
    if report.verdict == OFF:
        return f"off: {counts[OFF]} of {len(report.lengths)} lengths are not {within}."
    right = sum(c.verdict == RIGHT for c in report.lengths)
    return (
        f"can't tell: {right} of {len(report.lengths)} lengths are {within}; of the rest this photo does not tell."
    )


def _wrapped(word: str, text: str) -> list[str]:
    return textwrap.wrap(
        text, _WIDTH, initial_indent=f"{word:<11}", subsequent_indent=" " * 11, break_on_hyphens=False
    )


def envelope(report: CheckReport, *, compared: bool) -> dict[str, Any]:
    """The check as the JSON object that --json prints."""
    return {
        "format": "seamsurvey.check/1",
        "verdict": report.verdict if compared else None,
        "tolerance_mm": report.tolerance_mm,
        "tolerance_share": report.tolerance_share,
        "risk": report.risk,
        "lengths": [asdict(checked) for checked in report.lengths],
        "missing": list(report.missing),
        "notes": list(report.notes),
    }
