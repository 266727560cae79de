"""The report, read by the standard library's HTML parser."""

import base64
import io
import re
from collections.abc import Mapping, Sequence
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import attrs
import numpy as np
import pytest
from PIL import Image

from seamsurvey.model import (
    Block,
    EdgeFit,
    FoundationPlan,
    Match,
    Prior,
    Snapped,
    SuspectEdge,
    TemplateSet,
)
from seamsurvey.sheets import markup
from seamsurvey.sheets.fabric import cutting_list
from seamsurvey.sheets.fabrics import fabrics_of
from seamsurvey.sheets.report import FILES, report_html
from seamsurvey.units import fraction_text

from .examples import forked_road, harbour_rows, leaning_sails, templates_for

VOID = {"meta", "img", "br", "link", "input"}


class Reader(HTMLParser):
    """Collects text, tags with their attributes, and whether all tags close in order."""

    def __init__(self, source: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.open: list[str] = []
        self.feed(source)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag."""
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Note a tag that closes itself."""
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        """Check that the innermost tag closes first."""
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        """Note a text."""
        self.words.append(data)

    @property
    def text(self) -> str:
        """All text of the page."""
        return " ".join(" ".join(self.words).split())


def report_of(
    block: Block, plan: FoundationPlan, templates: TemplateSet | None, *, title: str = "Test block",
    units: str = "inch", overlays: Mapping[str, bytes] | None = None, files: Sequence[str] = (),
) -> str:  # fmt: skip
    """The report of a block."""
    fabrics = fabrics_of(block, {}, {})
    cutting = cutting_list(plan, block, templates, fabrics, units=units, blocks=2, allowance_mm=6.35)
    return report_html(
        templates, block, plan, cutting, fabrics, title=title, units=units, blocks=2, overlays=overlays or {},
        files=files,
    )  # fmt: skip


def png(colour: tuple[int, int, int]) -> bytes:
    """A small picture of one colour."""
    out = io.BytesIO()
    Image.new("RGB", (60, 40), colour).save(out, "PNG")
    return out.getvalue()


def test_every_measured_length_stands_in_the_table() -> None:
    """Each edge has its length in the one unit of the job, how far off it may be, and its main error."""
    block, plan = harbour_rows()
    templates = templates_for(block)
    text = Reader(report_of(block, plan, templates)).text
    for template in templates.templates:
        for edge in template.edges:
            assert fraction_text(edge.length_mm, 64).removesuffix(" in") in text
    assert "scale across the ruler" in text
    assert "97 marks" in text
    table = text[text.index("What each template measures") : text.index("How well the pieces fit")]
    assert " mm" not in table


def test_nothing_from_elsewhere_and_no_script() -> None:
    """The page has no script and no address but data inside itself and files beside it; all tags close in order."""
    block, plan = leaning_sails()
    source = report_of(
        block, plan, templates_for(block), overlays={"bench-scan.png": png((1, 2, 3))}, files=list(FILES)
    )
    reader = Reader(source)
    assert sum(tag == "a" for tag, _ in reader.tags) == len(FILES)
    assert reader.open == []
    assert not {"script", "link", "iframe", "object"} & {tag for tag, _ in reader.tags}
    for tag, values in reader.tags:
        assert not any(name.startswith("on") for name in values)
        for name in ("src", "xlink:href"):
            assert name not in values or (values[name] or "").startswith("data:"), tag
        assert "href" not in values or (values["href"] or "") in FILES


def test_what_comes_from_outside_is_escaped() -> None:
    """A title, a photo's name and a warning with markup in them come out as text."""
    block, plan = forked_road()
    templates = templates_for(block)
    nasty = '<img src=x onerror="a()">&'
    photo = attrs.evolve(templates.photos[0], name=nasty)
    templates = attrs.evolve(templates, photos=(photo,), warnings=(nasty,))
    reader = Reader(report_of(block, plan, templates, title=nasty, overlays={nasty: png((9, 9, 9))}))
    assert reader.text.count(nasty) >= 4
    assert all("onerror" not in values for _, values in reader.tags)


def test_the_photo_is_inside() -> None:
    """The overlay's picture comes out of the page with its colour."""
    block, plan = forked_road()
    source = report_of(block, plan, templates_for(block), overlays={"bench-scan.png": png((200, 30, 60))})
    (data,) = [values["src"] or "" for tag, values in Reader(source).tags if tag == "img"]
    picture = Image.open(io.BytesIO(base64.b64decode(data.partition("base64,")[2])))
    assert picture.size == (60, 40)
    assert np.abs(np.asarray(picture).reshape(-1, 3).mean(axis=0) - [200, 30, 60]).max() < 4


def test_ids_are_unique() -> None:
    """The inline drawings share no id."""
    block, plan = leaning_sails()
    ids = [values["id"] for _, values in Reader(report_of(block, plan, None)).tags if "id" in values]
    assert len(ids) > 5
    assert len(ids) == len(set(ids))


def test_an_edge_that_does_not_agree_is_named() -> None:
    """A suspect edge and a misfit beyond the stated uncertainty are said in words; a good closure says so too."""
    block, plan = harbour_rows()
    good = Reader(report_of(block, plan, None)).text
    assert "That is no more than the ± of the lengths allows." in good
    assert "to within 1/64 in" in good
    assert "Edges to measure again" not in good
    suspect = SuspectEdge("T5", 1, 0.9, "T5, edge 2, seems 0.9 mm too long.")
    closure = attrs.evolve(block.closure, sigma0=4.2, suspect_edges=(suspect,))
    bad = Reader(report_of(attrs.evolve(block, closure=closure), plan, None)).text
    assert "4.2 times what the ± of the lengths allows" in bad
    assert "T5, edge 2, seems 0.9 mm too long." in bad


def test_a_block_without_photo_has_a_report_too() -> None:
    """Without an inventory the page has no photo and no table of measures, but the block and its sections."""
    block, plan = forked_road()
    text = Reader(report_of(block, plan, None, units="mm")).text
    assert "Photo:" not in text
    assert "What each template measures" not in text
    assert "152.4 × 152.4 mm finished" in text
    assert "The block: unit 1 + C; a Y-seam" in text


def test_what_she_came_for_stands_first_and_figures_are_folded() -> None:
    """Block, what to do and files come before cutting and sewing; measured figures are inside a closed fold."""
    block, plan = harbour_rows()
    source = report_of(block, plan, templates_for(block), files=["foundations.pdf", "layouts.svg"])
    text = Reader(source).text
    at = [text.index(words) for words in ("Your block", "What to do", "Files", "Cutting chart", "Sewing the block")]
    assert at == sorted(at)
    fold = source[source.index("<details>") :]
    assert "What each template measures" in fold
    assert "How well the pieces fit" in fold
    assert "<details open" not in source
    assert 'href="layouts.svg"' in source


def test_pictures_and_tables_are_named_for_whoever_cannot_see_them() -> None:
    """Every drawing is one picture with a title, every photo has words, every table scrolls and has a name."""
    block, plan = leaning_sails()
    source = report_of(block, plan, templates_for(block), overlays={"bench-scan.png": png((9, 9, 9))})
    tags = Reader(source).tags
    drawings = [values for tag, values in tags if tag == "svg"]
    assert len(drawings) > 8
    assert all(values["role"] == "img" and values["aria-label"] for values in drawings)
    assert source.count("<title>") == len(drawings) + 1
    assert all(values.get("alt") for tag, values in tags if tag == "img")
    scrolled = [values for tag, values in tags if tag == "div" and values.get("class") == "wide"]
    assert len(scrolled) == sum(tag == "table" for tag, _ in tags)
    assert all(v["tabindex"] == "0" and v["role"] == "region" and v["aria-label"] != "Table" for v in scrolled)
    assert all(values.get("scope") == "col" for tag, values in tags if tag == "th")


def test_the_page_can_be_walked_through_by_its_headings_and_links() -> None:
    """It names its language, has one h1, skips no level of heading; links have words (WCAG 2.2, 1.3.1, 2.4.4)."""
    block, plan = harbour_rows()
    source = report_of(block, plan, templates_for(block), files=list(FILES))
    tags = Reader(source).tags
    assert [values.get("lang") for tag, values in tags if tag == "html"] == ["en"]
    levels = [int(tag[1]) for tag, _ in tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert all(words.strip() for words in re.findall(r"<a [^>]*>(.*?)</a>", source))
    labels = [values["aria-label"] for tag, values in tags if values.get("role") == "region"]
    assert len(labels) == len(set(labels))


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
def test_colours_have_the_contrast_that_is_asked_for(scheme: int) -> None:
    """Ink, quiet words and links have 4.5:1 on paper and on notes in light and dark (W3C, WCAG 2.2, 1.4.3)."""
    css = (Path(markup.__file__).parent / "report.css").read_text()
    roots = re.findall(r":root \{([^}]*)\}", css)[:2]
    colour = dict(re.findall(r"--(\w+): (#\w{6})", roots[0])) | dict(
        re.findall(r"--(\w+): (#\w{6})", roots[scheme])
    )
    for ground in ("paper", "note"):
        for words in ("ink", "quiet", "link", "red"):
            assert contrast(colour[words], colour[ground]) > 4.5, (words, ground)


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two colours, by the formula of WCAG 2.2."""

    def luminance(colour: str) -> float:
        channels = np.array([int(colour[k : k + 2], 16) for k in (1, 3, 5)]) / 255
        linear = np.where(channels <= 0.04045, channels / 12.92, ((channels + 0.055) / 1.055) ** 2.4)
        return float(linear @ [0.2126, 0.7152, 0.0722])

    low, high = sorted((luminance(one), luminance(other)))
    return (high + 0.05) / (low + 0.05)


def test_edges_are_drawn_with_the_numbers_the_table_has() -> None:
    """Every template is drawn once with as many edge numbers as it has edges."""
    block, plan = harbour_rows()
    templates = templates_for(block)
    source = report_of(block, plan, templates)
    for template in templates.templates:
        start = source.index(f'aria-label="Template {template.name}"')
        drawn = source[start : source.index("</svg>", start)]
        assert re.findall(r">(\d+)</text>", drawn) == [str(k + 1) for k in range(len(template.edges))]


def test_every_edge_is_shown_with_what_it_can_meet() -> None:
    """The report has each edge's residual, its matches and what snapping moved, as the block has them."""
    templates, block, plan = _edged()
    html = report_of(block, plan, templates)
    assert "height 100.10" not in html, "less than 1/64 in"
    for words in ("-0.12", "T1, edge 2 + T1, edge 3", "width 100.50 to 100.00 mm"):
        assert words in html


def _edged() -> tuple[TemplateSet, Block, FoundationPlan]:
    block, plan = harbour_rows()
    templates = templates_for(block)
    name = templates.templates[0].name
    block = attrs.evolve(
        block,
        closure=attrs.evolve(block.closure, edges=(EdgeFit(name, 0, 50.0, 50.12, -0.12),)),
        matches=(Match(name, 0, (("T1", 1), ("T1", 2)), 0.1, 0.3),),
        snapped=(Snapped("width", 100.5, 100.0), Snapped("height", 100.1, 100.0)),
        prior=Prior(12, 5, 0.0),
    )
    return templates, block, plan
