"""Draw the pages of four booklets small, to look at: `python -m tests.draw_booklets` writes docs/booklets/."""

from pathlib import Path

import pypdfium2
from PIL import Image

from tests.sheets.test_booklet import CASES, booklet

FOLDER = Path(__file__).parents[1] / "docs" / "booklets"
ACROSS, SCALE, GAP, COLOURS = 5, 0.42, 8, 64


def main() -> None:
    """One picture for each booklet, its pages in rows."""
    FOLDER.mkdir(exist_ok=True)
    for name in CASES:
        pages = [page.render(scale=SCALE).to_pil() for page in pypdfium2.PdfDocument(booklet(name))]
        wide, high = pages[0].size
        rows = -(-len(pages) // ACROSS)
        sheet = Image.new("RGB", (ACROSS * (wide + GAP) + GAP, rows * (high + GAP) + GAP), "#8a8a8a")
        for k, page in enumerate(pages):
            sheet.paste(page, (GAP + k % ACROSS * (wide + GAP), GAP + k // ACROSS * (high + GAP)))
        small = sheet.quantize(COLOURS, method=Image.Quantize.MAXCOVERAGE, dither=Image.Dither.NONE)
        small.save(FOLDER / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
