"""What each stage of a job depends on, as one hash: a stage whose hash is as it was need not be done again."""

from collections.abc import Sequence
from typing import Any

from attrs import asdict, frozen

from seamsurvey import __version__
from seamsurvey.job.corrections import plain_corrections
from seamsurvey.job.folder import JobFolder, content_hash, stage_key
from seamsurvey.job.inputs import PhotoFile
from seamsurvey.job.said import plain_counts
from seamsurvey.model import Wishes

MEASURED, LAYOUT, FOUNDATION = "measured.json", "layout.json", "foundation.json"


def layout_name(number: int) -> str:
    """The file of a layout by its number, from 1: that of ``--layout``."""
    return f"layout-{number}.json"


@frozen
class StageKeys:
    """The hashes of a job's stages, as its files and the wishes are now."""

    job: JobFolder
    wishes: Wishes

    def measured(self, photos: Sequence[PhotoFile]) -> str:
        """Of the templates: the photos, and what is said of how they are measured."""
        wishes = self.wishes
        return stage_key(
            __version__, [photo.sha256 for photo in photos], [photo.name for photo in photos], wishes.reference,
            wishes.templates_are, wishes.scale_bar_mm, wishes.page_grid_mm, wishes.taken_with, wishes.ruler,
            wishes.ruler_length_mm, wishes.ruler_thickness_mm, wishes.target_bars_mm, wishes.thickness_mm,
            wishes.allowance_mm, wishes.units, wishes.paper, plain_counts(wishes),
            plain_corrections(wishes.corrections), self.asked_of_block() if wishes.allowance_mm is None else "",
        )  # fmt: skip

    def asked_of_block(self) -> dict[str, Any]:
        """What was said of the block's shape and size."""
        wishes = self.wishes
        return {
            "symmetry": wishes.symmetry,
            "outline": wishes.outline,
            "finish_mm": wishes.finish_mm,
            "finish_height_mm": wishes.finish_height_mm,
        }

    def layouts(self, picture: PhotoFile | None) -> str:
        """Of the search for layouts, which does not depend on the one that is taken of them."""
        wishes = self.wishes
        return stage_key(
            __version__, self.hash_of(MEASURED), plain_counts(wishes), self.asked_of_block(), wishes.snap_mm,
            picture and picture.sha256, wishes.units, wishes.seed, wishes.time_limit_s,
        )  # fmt: skip

    def layout(self, number: int) -> str:
        """Of the layout that is taken."""
        return stage_key(__version__, number, self.hash_of(layout_name(number)))

    def foundation(self, units: str) -> str:
        """Of the sections and joins."""
        wishes = self.wishes
        return stage_key(
            __version__, self.hash_of(LAYOUT), units, wishes.colours, wishes.prefer, wishes.pieced_start,
            wishes.cure, wishes.never_cut, wishes.time_limit_s,
            [wishes.paper, wishes.seam_allowance_mm, wishes.print_scale] if wishes.prefer == "fits-page" else "",
        )  # fmt: skip

    def sheets(self, units: str, layouts: int) -> str:
        """Of everything printed; ``layouts`` is how many fit."""
        wishes = self.wishes
        return stage_key(
            __version__, self.sources(), [self.hash_of(layout_name(k + 1)) for k in range(layouts)],
            wishes.layout is not None, wishes.title, wishes.paper, wishes.blocks, wishes.colours, wishes.fabrics,
            wishes.came_from, wishes.seam_allowance_mm, wishes.oversize_mm, wishes.print_scale,
            asdict(wishes.quilt), units,
        )  # fmt: skip

    def sources(self) -> list[str]:
        """The hashes of the three files that the sheets are drawn from."""
        return [self.hash_of(name) for name in (MEASURED, LAYOUT, FOUNDATION)]

    def hash_of(self, name: str) -> str:
        """The hash of a file of the job, of nothing where there is none."""
        return content_hash(self.job.read(name) or b"")
