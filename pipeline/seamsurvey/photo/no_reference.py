"""What to say of a photo in which nothing gives a scale: what is true of it, and the option that helps."""

from collections.abc import Sequence

from seamsurvey.errors import InputError
from seamsurvey.model import Picture
from seamsurvey.photo.bare import SHAPES_ALONE
from seamsurvey.photo.evidence import Evidence
from seamsurvey.photo.page import LEAST_SHARE_SAID, NAMES, find_pages
from seamsurvey.photo.stated_resolution import by_resolution

_SOUGHT = {
    "auto": "ruler, cutting mat, target or ID-1 card",
    "mat": "cutting mat",
    "card": "ID-1 card",
    "page": "sheet of paper",
}


def no_reference(picture: Picture, wanted: str, found: Sequence[Evidence]) -> InputError:
    """Nothing of the ``wanted`` kind that has a scale; ``found`` is what tells the shape alone."""
    papers = _papers(picture) if wanted in ("auto", "page") else ()
    kinds = {each.graduation for each in found} | ({"sheet of paper"} if papers else set())
    if kinds:
        sheet = " or ".join(f"--reference {paper} if it is of {NAMES[paper]} paper" for paper in papers)
        ruler = "lay a ruler beside the templates and take the photo again"
        todo = f"For a rough scale from the sheet say {sheet}; or {ruler}." if papers else f"L{ruler[1:]}."
        return InputError(
            "no-scale",
            f"The photo shows how the table is tilted ({' and '.join(sorted(kinds))}), but nothing tells how large "
            "anything is.",
            where=picture.name,
            likely="A sheet of paper and a mat without readable figures tell the shape alone.",
            todo=f"{todo} {SHAPES_ALONE}",
        )
    return InputError(
        "no-reference",
        f"No {_SOUGHT.get(wanted, wanted)} was found in the photo.",
        where=picture.name,
        likely="One of its edges is covered, or can't be told from the ground or from its own shadow, or it is a "
        "card of another size."
        if wanted == "card"
        else "There is none, or its marks are too fine, too faint, blurred, or covered.",
        todo="Lay an ordinary ruler beside the templates, or the templates inside a printed target (seamsurvey "
        "target), and take the photo again from straight above, the ruler over a third of the picture or more. "
        f"{by_resolution(picture)} {SHAPES_ALONE}".replace("  ", " "),
    )


def no_sheet(picture: Picture, paper: str) -> InputError:
    """No sheet of the kind that a person named: perhaps one of another kind."""
    papers = _papers(picture)
    if papers:
        return InputError(
            "sheet-contradicts",
            f"You said --reference {paper}, but the sheet in the photo has {NAMES[papers[0]]} paper's proportions.",
            where=picture.name,
            likely="Its corners, and the slant they are seen from, tell the two apart.",
            todo=f"Say --reference {papers[0]} if that is what it is.",
        )
    return InputError(
        "no-reference",
        f"No sheet of {NAMES[paper]} paper was found in the photo.",
        where=picture.name,
        likely="One of its edges is out of view, curled or mostly covered, it is no lighter than the table, it "
        "takes less than a tenth of the picture, or it was cut to another size.",
        todo="Lay the sheet flat on a darker table, all of its four edges in view, and take the photo again.",
    )


def _papers(picture: Picture) -> tuple[str, ...]:
    """What kinds of paper the one sheet in the photo can be, the likeliest first."""
    pages = find_pages(picture.pixels, focal_px=picture.focal_px, least_share=LEAST_SHARE_SAID)
    return pages[0].papers if pages else ()
