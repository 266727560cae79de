"""What may be said of a layout: that it is the only one, the likeliest of so many, or of those that were found."""

from seamsurvey.model import LayoutProof


def layout_claim(proof: LayoutProof, number: int = 1) -> str:
    """One sentence on the layout of this number (1 = the likeliest); "" for a block that was not searched for.

    "Only" and "no others" are said where every layout was looked for to the end, and nowhere else.
    """
    found = proof.layouts_found
    if not found:
        return ""
    took = f" in {proof.work_s:.0f} s" if proof.work_s >= 1 else ""
    if found == 1 and proof.searched_all:
        return "This is the only layout that fits."
    if found == 1:
        return f"This is the one layout that was found{took}; the search came to no end, so others may fit."
    if proof.searched_all:
        which = "the likeliest" if number == 1 else f"number {number}, the likeliest first,"
        return f"This is {which} of {found} layouts that fit; no others do."
    which = "the likeliest" if number == 1 else f"number {number}, the likeliest first,"
    return f"This is {which} of the layouts found{took}; at least {found} fit."
