"""Every drawn file carries the job's hash, and readers that are not ours still read it."""

import csv
import io

import numpy as np
import pdfplumber
import svgelements
from ezdxf.filemanagement import read as read_dxf
from PIL import Image

from seamsurvey.model import Wishes
from seamsurvey.sheets.all_sheets import sheet_files
from seamsurvey.sheets.signed import signed

from .examples import leaning_sails, templates_for

JOB = "c0ffee12"


def test_each_file_has_the_hash_where_its_kind_has_a_place_for_it() -> None:
    """Ten kinds of files, read back: pages and pictures as they were, and the hash in each."""
    block, plan = leaning_sails()
    plain = sheet_files(
        templates_for(block), block, plan, Wishes(), title="Sails", units="inch", job_hash=JOB, overlays={}
    )
    files = signed(plain, JOB)
    assert files.keys() == plain.keys()
    for name, content in files.items():
        if name.endswith(".pdf"):
            with pdfplumber.open(io.BytesIO(content)) as pdf:
                assert any(JOB in (page.extract_text() or "") for page in pdf.pages), name
        elif name.endswith(".png"):
            with Image.open(io.BytesIO(content)) as picture, Image.open(io.BytesIO(plain[name])) as before:
                assert np.array_equal(np.asarray(picture), np.asarray(before))
                assert picture.info["Comment"].endswith(JOB)  # a text behind the pixels is read with them
        else:
            assert JOB.encode() in content, name
    for name in ("block.svg", "foundations.svg", "quilt.svg"):
        shapes, old_shapes = (
            [e for e in svgelements.SVG.parse(io.BytesIO(each)).elements() if isinstance(e, svgelements.Path)]
            for each in (files[name], plain[name])
        )
        assert len(shapes) == len(old_shapes) > 3
    drawn, unsigned = (read_dxf(io.StringIO(each["foundations.dxf"].decode())) for each in (files, plain))
    assert len(drawn.modelspace()) == len(unsigned.modelspace()) > 3
    rows, old = (list(csv.reader(io.StringIO(each["cutting-list.csv"].decode()))) for each in (files, plain))
    assert [row[:-1] for row in rows] == old
    assert {row[-1] for row in rows} == {"job", JOB}
