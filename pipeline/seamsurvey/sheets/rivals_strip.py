"""The other layouts that fit, in one row of small pictures on the guide's first page, where there is room."""

from collections.abc import Mapping

from seamsurvey.sheets.drawing import QUIET, Mark, placed
from seamsurvey.sheets.flow import Flow
from seamsurvey.sheets.rivals import Rivals, how_to_take, others_fit, rival_pictures

_SIDE_MM = 24.0
_GAP_MM = 5.0
_HEAD_MM = 22.0  # the heading and its two lines, at most


def rivals_strip(flow: Flow, rivals: Rivals, colours: Mapping[str, str]) -> None:
    """Say how many others fit and how to take one; below, as many of them as a row holds, if the page has room.

    Who has taken theirs is told so, and needs no pictures.
    """
    if rivals.by_person:
        flow.space(3)
        flow.text(f"{rivals.claim} {how_to_take(rivals)}", colour=QUIET)
        return
    pictures = rival_pictures(rivals, colours, _SIDE_MM)
    strip: list[Mark] = []
    x = high = 0.0
    shown = 0
    for _, marks, width, height in pictures:
        if x + width > flow.region.width:
            break
        strip += placed(marks, 0, (x, 0.0))
        x, high, shown = x + width + _GAP_MM, max(high, height), shown + 1
    has_room = flow.y - _HEAD_MM - high >= flow.region.y
    flow.heading(f"{others_fit(rivals)} your templates", keep_mm=0)
    rest = "" if has_room and shown == len(pictures) else " layouts.svg shows them all."
    flow.text(f"{rivals.claim} {how_to_take(rivals)}{rest}")
    if has_room:
        flow.space(1)
        flow.add(strip, high)
