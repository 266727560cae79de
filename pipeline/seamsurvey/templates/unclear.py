"""What was seen in a photo, is no template by its reason, or may well be one that could not be measured."""

from seamsurvey.model import TemplateSet
from seamsurvey.templates.cards import AT_BORDER, HARDLY, TOO_SMALL
from seamsurvey.templates.printed_page import FRAME, WITHIN
from seamsurvey.templates.sides import ROUND

EXCLUDED = "job.toml excludes it"
# A coin, a hand or the table's edge, a print's blot, a page's border and what stands inside an outline. Whatever
# else was left out lay there like a card, and its outline could not be followed.
_NO_TEMPLATE = (*TOO_SMALL, AT_BORDER, HARDLY, ROUND, FRAME, WITHIN)


def may_be_templates(templates: TemplateSet) -> list[int]:
    """Indices into ``left_out`` of the things that may be templates: seen, but not measured."""
    return [
        k
        for k, left in enumerate(templates.left_out)
        if left.why not in _NO_TEMPLATE and not left.why.startswith(EXCLUDED)
    ]
