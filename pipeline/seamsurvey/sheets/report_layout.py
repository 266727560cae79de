"""What the report says of the layout itself: how sure it is, why it is this one, and which others fit."""

from collections.abc import Mapping

from seamsurvey.model import Block
from seamsurvey.sheets.drawing import Drawing, placed
from seamsurvey.sheets.markup import Html, Part, drawing, element, joined, table
from seamsurvey.sheets.rivals import Rivals, against, counts_for, how_to_take, others_fit, rival_pictures
from seamsurvey.sheets.svg import write_svg

_SIDE_MM = 36.0
_EDGE_MM = 1.0


def rivals_part(rivals: Rivals | None, colours: Mapping[str, str]) -> Html:
    """The report's first box, where more than one layout fits: how many, what they look like, how to take one."""
    if rivals is None:
        return Html("")
    figures = []
    for number, marks, width, height in rival_pictures(rivals, colours, _SIDE_MM):
        sheet = Drawing(width + 2 * _EDGE_MM, height + 2 * _EDGE_MM, placed(marks, 0, (_EDGE_MM, _EDGE_MM)))
        why = against(rivals, number)
        figures.append(
            drawing(
                write_svg(sheet, f"Layout {number}", id_prefix=f"layout-{number}-", role="img"),
                f"--layout {number}" + (f" ({why})" if why else ""),
            )
        )
    return element(
        "div",
        element("p", element("strong", f"{others_fit(rivals)}.")),
        element("p", f"{rivals.claim} {how_to_take(rivals)}"),
        element("div", *figures, css="steps"),
        css="next",
    )


def reasons_part(block: Block) -> Html:
    """Why this layout, as a table; nothing for one that was drawn elsewhere."""
    rows: list[list[Part]] = [
        [reason.name, reason.text, counts_for(reason)]
        for reason in sorted(block.reasons, key=lambda reason: -reason.points)
    ]
    if not rows:
        return Html("")
    return joined(
        [
            element("p", "What is weighed for and against a layout, and what was found in this one."),
            table(("what is weighed", "in this layout", "it speaks"), rows, label="Why this layout"),
        ]
    )
