"""The few HTML elements the report is made of. Whatever comes in as text is escaped here, once."""

import base64
import io
from collections.abc import Sequence
from html import escape
from pathlib import Path
from urllib.parse import quote

from attrs import frozen
from PIL import Image

from seamsurvey.sheets.drawing import Drawing, Mark, placed
from seamsurvey.sheets.svg import write_svg

_STYLE = Path(__file__).parent / "report.css"
# No script, nothing from elsewhere: the one file says so itself (W3C, Content Security Policy 3).
_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"


@frozen
class Html:
    """Markup that is safe to stand in the page as it is."""

    source: str


Part = str | Html


def markup(part: Part) -> str:
    """Plain text escaped, markup as it is."""
    return part.source if isinstance(part, Html) else escape(part)


def joined(parts: Sequence[Part]) -> Html:
    """Parts one after the other."""
    return Html("\n".join(map(markup, parts)))


def element(tag: str, *parts: Part, css: str = "") -> Html:
    """One element with an optional class."""
    name = f' class="{escape(css)}"' if css else ""
    return Html(f"<{tag}{name}>{''.join(map(markup, parts))}</{tag}>")


def listed(items: Sequence[Part], tag: str = "ul") -> Html:
    """A list; nothing when there are no items."""
    return element(tag, *(element("li", item) for item in items)) if items else Html("")


def table(
    headings: Sequence[str], rows: Sequence[Sequence[Part]], numbers: Sequence[int] = (),
    first: Sequence[int] = (), *, label: str = "Table",
) -> Html:  # fmt: skip
    """A table that scrolls sideways on a phone, with a finger or the arrow keys; ``label`` is what it is called.

    ``numbers`` are right-aligned columns; ``first`` are rows that begin a group.
    """
    head = element(
        "thead",
        element(
            "tr",
            *(_heading(heading, right=k in numbers) for k, heading in enumerate(headings)),
        ),
    )
    body = [
        element(
            "tr",
            *(element("td", cell, css="number" if column in numbers else "") for column, cell in enumerate(row)),
            css="first" if k in first else "",
        )
        for k, row in enumerate(rows)
    ]
    inner = markup(element("table", head, element("tbody", *body)))
    return Html(f'<div class="wide" role="region" tabindex="0" aria-label="{escape(label)}">{inner}</div>')


def _heading(text: str, *, right: bool) -> Html:
    css = ' class="number"' if right else ""
    return Html(f'<th scope="col"{css}>{escape(text)}</th>')


def link(name: str) -> Html:
    """A link to a file beside the page."""
    return Html(f'<a href="{escape(quote(name))}">{escape(name)}</a>')


def folded(summary: str, inside: Html) -> Html:
    """A part that opens when its name is touched."""
    return Html(f"<details><summary><h2>{escape(summary)}</h2></summary>\n{inside.source}\n</details>")


def inline_svg(marks: Sequence[Mark], width: float, height: float, title: str, prefix: str) -> str:
    """Marks as an SVG for the page, with a millimetre of white so that no border is cut off.

    It is called by its title, and read as one picture. ``prefix`` keeps its ids apart from others'.
    """
    edge = 1.0
    sheet = Drawing(width + 2 * edge, height + 2 * edge, placed(marks, 0, (edge, edge)))
    return write_svg(sheet, title, id_prefix=prefix, role="img")


def picture(png: bytes, caption: str) -> Html:
    """A PNG as a JPEG inside the page: a scan is a photograph, and the file stays small enough to send."""
    out = io.BytesIO()
    Image.open(io.BytesIO(png)).convert("RGB").save(out, "JPEG", quality=86, subsampling=0)
    data = base64.b64encode(out.getvalue()).decode("ascii")
    image = Html(f'<img alt="{escape(caption)}" src="data:image/jpeg;base64,{data}">')
    return element("figure", image, element("figcaption", caption))


def drawing(svg: str, caption: str, css: str = "") -> Html:
    """An SVG inside the page with its words."""
    return element("figure", Html(svg), element("figcaption", caption), css=css)


def page(title: str, under: str, parts: Sequence[Part], foot: str) -> str:
    """The whole document."""
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">\n<title>{escape(title)}</title>\n'
        f"<style>\n{_STYLE.read_text(encoding='utf-8')}</style>\n</head>\n<body>\n"
        f"<header>{element('h1', title).source}{element('p', under).source}</header>\n"
        f"<main>\n{joined(parts).source}\n</main>\n{element('footer', foot).source}\n</body>\n</html>\n"
    )
