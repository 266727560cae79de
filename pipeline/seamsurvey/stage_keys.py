"""What each stage of a job depends on: its wishes as one hash, and the files of earlier stages."""

from collections.abc import Sequence
from typing import Any

from attrs import asdict, frozen

from seamsurvey.job.corrections import plain_corrections
from seamsurvey.job.folder import stage_key
from seamsurvey.job.inputs import PhotoFile
from seamsurvey.job.said import plain_counts
from seamsurvey.model import Wishes

MEASURED, LAYOUT, FOUNDATION = "measured.json", "layout.json", "foundation.json"
PARTIAL = "partial.svg"


def layout_name(number: int) -> str:
    """The file of a layout by its number, from 1: that of ``--layout``."""
    return f"layout-{number}.json"


@frozen
class StageKeys:
    """The hashes of the wishes that bear on each stage; what it reads of earlier stages is told by its sources."""

    wishes: Wishes

    def measured(self, photos: Sequence[PhotoFile]) -> str:
        """Of the templates: the photos, and what is said of how they are measured."""
        wishes = self.wishes
        # Where nobody said the allowance, the block that closes decides it: what is said of the block counts too.
        of_block = [self.asked_of_block(), plain_counts(wishes)] if wishes.allowance_mm is None else ""
        return stage_key(
            [photo.sha256 for photo in photos], [photo.name for photo in photos], wishes.reference,
            wishes.templates_are, wishes.cards, wishes.scale_bar_mm, wishes.page_grid_mm, wishes.taken_with,
            wishes.ruler, wishes.ruler_length_mm, wishes.ruler_thickness_mm, wishes.target_bars_mm,
            wishes.thickness_mm, wishes.allowance_mm, wishes.units, plain_corrections(wishes.corrections), of_block,
        )  # fmt: skip

    def asked_of_block(self) -> dict[str, Any]:
        """What was said of the block's shape and size."""
        wishes = self.wishes
        return {
            "symmetry": wishes.symmetry,
            "outline": wishes.outline,
            "finish_mm": wishes.finish_mm,
            "finish_height_mm": wishes.finish_height_mm,
            "meets": wishes.meets,
        }

    def layouts(self, units: str, picture: PhotoFile | None) -> str:
        """Of the search for layouts, which does not depend on the one that is taken of them."""
        wishes = self.wishes
        return stage_key(
            plain_counts(wishes), self.asked_of_block(), wishes.snap_mm, picture and picture.sha256, units,
            wishes.seed, wishes.time_limit_s,
        )  # fmt: skip

    def choices(self, title: str, units: str) -> str:
        """Of the picture of all layouts."""
        return stage_key(title, self.wishes.colours, units)

    def layout(self, number: int) -> str:
        """Of the layout that is taken."""
        return stage_key(number, self.wishes.turn, self.wishes.exchange)

    def foundation(self, units: str) -> str:
        """Of the sections and joins."""
        wishes = self.wishes
        return stage_key(
            units, wishes.colours, wishes.prefer, wishes.pieced_start, wishes.cure, wishes.never_cut,
            wishes.time_limit_s,
            [wishes.paper, wishes.seam_allowance_mm, wishes.print_scale] if wishes.prefer == "fits-page" else "",
        )  # fmt: skip

    def sheets(self, title: str, units: str) -> str:
        """Of everything printed."""
        wishes = self.wishes
        of_more_sizes = self.foundation(units) if wishes.more_sizes_mm else ""  # each is planned for itself
        return stage_key(
            wishes.layout is not None, of_more_sizes, title, wishes.paper, wishes.blocks, wishes.colours,
            wishes.fabrics,
            wishes.came_from, wishes.seam_allowance_mm, wishes.oversize_mm, wishes.print_scale,
            wishes.fabric_width_mm, wishes.fabric_reserve, wishes.only, wishes.more_sizes_mm,
            asdict(wishes.quilt), plain_counts(wishes), units,
        )  # fmt: skip
