"""The JSON files of a job: what is written is read back, and mistakes are told with their place."""

import json
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import pytest
from attrs import evolve

from seamsurvey import model
from seamsurvey.errors import InputError
from seamsurvey.job.foundation_file import read_foundation, write_foundation
from seamsurvey.job.layout_file import read_layout, write_layout
from seamsurvey.job.measured_file import read_measured, write_measured

SCHEMAS = Path(__file__).parents[2] / "docs" / "reference" / "schemas"
SQUARE = np.array([[0, 0], [50.8, 0], [50.8, 50.8], [0, 50.8]])
TRIANGLE = np.array([[0, 0], [50.8, 0], [0, 50.8]])


def templates() -> model.TemplateSet:
    """Two templates of one scan, every field filled."""
    reference = model.Reference(
        kind="ruler",
        graduation="inch, 1/16",
        unit="inch",
        step_mm=1.5875,
        marks_px=np.array([[10, 20], [30.5, 20]]),
        marks_mm=np.array([0, 1.5875]),
        mark_ends_px=np.array([[10, 40], [30.5, 40]]),
        residuals_px=np.array([0.3, -0.4]),
        outline_px=np.array([[0, 0], [100, 0], [100, 50], [0, 50]]),
        px_per_mm=11.8,
    )
    plane = model.ScanPlane(
        kind="scan",
        matrix=np.array([[0.0847, 0, 0], [0, -0.0847, 297]]),
        covariance=np.eye(6) * 1e-8,
        axis=np.array([1, 0]),
        references=(
            reference,
            evolve(
                reference,
                graduation="cm, 1 mm",
                unit="cm",
                step_mm=1.0,
                spots_px=np.array([[4.5, 6]]),
                misses_px=np.array([[0.25, -0.125]]),
            ),
        ),
        warnings=("a warning",),
    )
    edges = tuple(
        model.Edge(
            length_mm=50.8 + k / 3, u_mm=0.05, along_deg=30.0 * k, dominant_term="edge bias", budget_mm={"x": 0.1}
        )
        for k in range(4)
    )
    square = model.Template(
        name="T1",
        photo=0,
        cut_outline=SQUARE * 1.25,
        finished_outline=SQUARE,
        corners_px=SQUARE * 11.8,
        edges=edges,
        own_covariance=np.eye(8) * 1e-4,
        sensitivity=np.arange(16.0).reshape(8, 2) / 7,
        allowance_mm=6.35,
        count=4,
        reversed_count=2,
        copies_seen=2,
        thickness_mm=0.5,
        said_by_card=(
            model.CardWriting(
                card="T1b", text="cut 4 + 2R", probability=0.995, kind="count", means="4+2", clear=True
            ),
            model.CardWriting(card="T1", text="best before", probability=0.75),
        ),
    )
    triangle = model.Template(
        name="T2",
        photo=0,
        cut_outline=TRIANGLE,
        finished_outline=TRIANGLE,
        corners_px=TRIANGLE,
        edges=edges[:3],
        own_covariance=np.eye(6),
        sensitivity=np.zeros((6, 2)),
        reversed_twin_of="T1",
    )
    return model.TemplateSet(
        photos=(model.PhotoReport("scan.jpg", "ab" * 32, (2550, 3507), plane, ("p",)),),
        templates=(square, triangle),
        shared_names=("one", "two"),
        shared_covariance=np.array([[1, 0.5], [0.5, 1]]),
        left_out=(model.LeftOut(photo=0, outline_px=SQUARE, why="a coin"),),
        warnings=("w",),
    )


def block() -> model.Block:
    """A square of two triangles."""
    return model.Block(
        outline=SQUARE,
        size_u_mm=0.12,
        symmetry="half-turn",
        pieces=(
            model.Piece(id="T2-1", template="T2", reversed=False, outline=SQUARE[[0, 1, 3]]),
            model.Piece(id="T2-2", template="T2", reversed=True, outline=SQUARE[[1, 2, 3]]),
        ),
        seams=(model.Seam((50.8, 0.0), (0.0, 50.8), ("T2-1", "T2-2")),),
        closure=model.Closure(0.2, 0.1, 0.9, (model.SuspectEdge("T2", 1, 1.9, "T2, edge 2 is long"),)),
        proof=model.LayoutProof(searched_all=True, layouts_found=1),
        warnings=("b",),
    )


def plan() -> model.FoundationPlan:
    """One section placed twice, one bent join, one added seam."""
    return model.FoundationPlan(
        sections=(
            model.Section(
                name="A",
                outline=TRIANGLE,
                pieces=(
                    model.SectionPiece(
                        label="A1", piece="T2-1", outline=TRIANGLE, part=1, grain_deg=90.0, unit="B"
                    ),
                ),
                places=(model.Place("A-1", 0.0, (0.0, 0.0)), model.Place("A-2", 180.0, (50.8, 50.8))),
            ),
        ),
        joins=(
            model.Join(
                1,
                ("A-1", "A-2"),
                "AA",
                (50.8, 0.0),
                (0.0, 50.8),
                "set-in",
                ((50.8, 0.0), (0.0, 50.8)),
                "A-2",
                (20.0, 30.8),
                3,
            ),
        ),
        added_seams=(model.AddedSeam("T2-1", (0.0, 0.0), (1.0, 1.0), "why"),),
        advice=(model.Advice("set-in", "text", (1.0, 2.0)), model.Advice("rotary-cutting", "text")),
        proof=model.PlanProof(1, 1, searched_all=True),
        cures=(
            model.Cure(
                kind="added-seam",
                text="t",
                extra_fragments=2,
                sections=3,
                prints=1,
                lines=(((0.0, 1.0), (2.0, 3.0)),),
                chosen=True,
            ),
        ),
    )


FILES = {
    "measured": write_measured(templates(), "inch"),
    "layout": write_layout(block(), "inch"),
    "foundation": write_foundation(plan()),
}


def test_values_survive_the_disk_unchanged() -> None:
    """Reading gives the very value that was written, to the last bit of every float."""
    assert read_measured(FILES["measured"]) == templates()
    assert read_layout(FILES["layout"]) == block()
    assert read_foundation(FILES["foundation"]) == plan()


SELDOM = {"bulge", "bulges", "set_by_person", "found_as", "edge_allowances_mm", "copies", "unit", "cut_bulges"}
SELDOM |= {"said_by_card"}
"""Fields that are written of curved edges, copies, corrections, written cards and pixels only."""


def documented(schema: Any) -> Any:
    """Every object of a schema with the names of its properties, found by walking it."""
    if isinstance(schema, list):
        return [names for part in schema for names in documented(part)]
    if not isinstance(schema, dict):
        return []
    inside = [names for part in schema.values() for names in documented(part)]
    return [set(schema["properties"]), *inside] if "properties" in schema else inside


def written(data: Any) -> Any:
    """Every object of a file with the names of its fields."""
    if isinstance(data, list):
        return [names for part in data for names in written(part)]
    if not isinstance(data, dict):
        return []
    inside = [names for part in data.values() for names in written(part)]
    return inside if set(data) == {"x"} else [set(data), *inside]  # {"x": ...} is the free table of the budget


@pytest.mark.parametrize("kind", FILES)
def test_schemas_describe_every_field(kind: str) -> None:
    """Each object in a file has just the fields of one object in its schema: none is undocumented."""
    schema = json.loads((SCHEMAS / f"{kind}-1.schema.json").read_text())
    described = documented(schema)
    objects = [names for names in written(json.loads(FILES[kind])) if names]
    assert objects
    for names in objects:
        assert any(names <= own and own - names <= SELDOM for own in described)


@pytest.mark.parametrize("kind", FILES)
def test_files_fit_their_published_schemas(kind: str) -> None:
    """Each file validates against its JSON Schema, which does not accept just anything."""
    schema = json.loads((SCHEMAS / f"{kind}-1.schema.json").read_text())
    validator = jsonschema.Draft202012Validator(schema)
    data = json.loads(FILES[kind])
    validator.validate(data)
    for broken in ({**data, "format": "other/1"}, {k: v for k, v in data.items() if k != "format"}):
        assert not validator.is_valid(broken)
    entry = {"measured": "templates", "layout": "pieces", "foundation": "sections"}[kind]
    wrongs: list[Any] = ["text", [{}], [3]]
    for wrong in wrongs:
        assert not validator.is_valid({**data, entry: wrong})


def test_the_named_fields_are_there() -> None:
    """The fields that the format promises stand under their names, lengths with their nearest fraction."""
    template = json.loads(FILES["measured"])["templates"][0]
    assert template["edges"][0]["nearest"] == {"text": "2 in", "off_mm": 0.0}
    assert json.loads(FILES["measured"])["photos"][0]["reference"]["marks_used"] == 2
    assert json.loads(FILES["layout"])["block"]["size_text"] == "2 in × 2 in"
    assert json.loads(FILES["layout"])["block"]["area_mm2"] == pytest.approx(50.8**2)
    assert json.loads(FILES["foundation"])["sections"][0]["copies"] == 2


def by_hand(**template: Any) -> bytes:
    """A measured.json as somebody with a ruler would write it."""
    entry = {"name": "big", "finished_outline_mm": [[0, 0], [60, 0], [0, 60]], **template}
    return json.dumps({"format": "seamsurvey.measured/1", "templates": [entry]}).encode()


def test_names_and_outlines_are_enough_for_a_file_by_hand() -> None:
    """Lengths follow from the corners, uncertainty is 0.3 mm, and a length's variance comes out as stated."""
    template = read_measured(by_hand()).templates[0]
    assert [edge.length_mm for edge in template.edges] == pytest.approx([60, 60 * 2**0.5, 60])
    assert [edge.u_mm for edge in template.edges] == [0.3] * 3
    along = np.zeros(6)
    along[0], along[2] = -1, 1  # the bottom edge's length from its two ends
    assert 2 * np.sqrt(along @ template.own_covariance @ along) == pytest.approx(0.3)


def test_a_clockwise_outline_by_hand_is_turned_round_with_its_edges() -> None:
    """The first edge listed keeps its own uncertainty when the order of the corners is reversed."""
    clockwise = by_hand(
        finished_outline_mm=[[0, 0], [0, 60], [80, 0]], edges=[{"u_mm": 0.1}, {"u_mm": 0.2}, {"u_mm": 0.4}]
    )
    template = read_measured(clockwise).templates[0]
    assert {round(edge.length_mm): edge.u_mm for edge in template.edges} == {60: 0.1, 100: 0.2, 80: 0.4}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (b"{", "not JSON"),
        (b"[]", "format"),
        (b'{"format": "seamsurvey.measured/2", "templates": []}', "seamsurvey.measured/1"),
        (b'{"format": "seamsurvey.measured/1"}', "templates"),
        (by_hand(name=3), "templates[0].name"),
        (by_hand(count="four"), "templates[0].count"),
        (by_hand(finished_outline_mm=[[0, 0], [1]]), "templates[0].finished_outline_mm"),
        (by_hand(finished_outline_mm=[[0, 0], [1, 1]]), "three corners"),
        (by_hand(finished_outline_mm=[[0, 0], [9, 9], [9, 0], [0, 9]]), "crosses itself"),
        (by_hand(edges=[{"u_mm": 1.0}]), "1 edges"),
        (by_hand(own_covariance_mm2=[[1.0]]), "wrong size"),
    ],
)
def test_mistakes_are_told_with_their_place(text: bytes, words: str) -> None:
    """A file that can't be used says which value is wrong and where it stands."""
    with pytest.raises(InputError) as caught:
        read_measured(text)
    assert caught.value.code == "file-unreadable"
    assert words in caught.value.what


def test_a_layout_drawn_elsewhere_needs_no_more_than_pieces() -> None:
    """The block's outline is found from rounded pieces, clockwise ones included."""
    pieces = [
        {"id": "left", "outline_mm": [[0, 0], [0, 90], [33.333, 90], [33.333, 0]]},
        {"id": "right", "outline_mm": [[33.334, 0], [100, 0], [100, 90], [33.334, 90]]},
    ]
    found = read_layout(json.dumps({"format": "seamsurvey.layout/1", "pieces": pieces}).encode())
    assert (found.width, found.height) == pytest.approx((100, 90), abs=1e-6)
    assert len(found.outline) == 4
    assert [piece.template for piece in found.pieces] == ["left", "right"]


def test_pieces_of_one_shape_drawn_elsewhere_are_of_one_template() -> None:
    """Two halves of a square and their mirror images: one template, the mirror images reversed."""
    halves = [[[0, 0], [60, 0], [0, 30]], [[60, 30], [0, 30], [60, 0]], [[0, 30], [60, 30], [0, 60]]]
    halves.append([[60, 60], [0, 60], [60, 30]])
    halves += [[[0, 90], [60, 90], [0, 60]], [[60, 60], [0, 60], [60, 90]]]
    pieces = [{"id": f"p{k}", "outline_mm": outline} for k, outline in enumerate(halves)]
    found = read_layout(json.dumps({"format": "seamsurvey.layout/1", "pieces": pieces}).encode())
    assert [(p.template, p.reversed) for p in found.pieces] == [("p0", k > 3) for k in range(6)]


def test_two_pieces_of_one_name_are_refused() -> None:
    """A name given twice is told."""
    pieces = [{"id": "a", "outline_mm": [[x, 0], [x + 5, 0], [x, 5]]} for x in (0, 5)]
    with pytest.raises(InputError, match="called a"):
        read_layout(json.dumps({"format": "seamsurvey.layout/1", "pieces": pieces}).encode())


def test_pieces_with_a_hole_between_them_are_no_block() -> None:
    """A gap in the middle is refused, not filled."""
    ring = [[0, 0, 60, 20], [40, 20, 60, 60], [0, 40, 40, 60], [0, 20, 20, 40]]
    pieces = [{"id": str(k), "outline_mm": [[x, y], [X, y], [X, Y], [x, Y]]} for k, (x, y, X, Y) in enumerate(ring)]
    with pytest.raises(InputError) as caught:
        read_layout(json.dumps({"format": "seamsurvey.layout/1", "pieces": pieces}).encode())
    assert caught.value.code == "pieces-do-not-tile"
