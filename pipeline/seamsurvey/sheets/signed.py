"""The job's hash in every file that is drawn, so that what belongs together can be told; pages have it in print."""

import csv
import io
import zlib
from collections.abc import Mapping

_WORDS = "seamsurvey job"


def signed(files: Mapping[str, bytes], job_hash: str) -> dict[str, bytes]:
    """The files with the job's hash in each, where its kind has a place for it; a PDF's pages have theirs."""
    return {name: _signed(name.rpartition(".")[2], content, job_hash) for name, content in files.items()}


def _signed(kind: str, content: bytes, job_hash: str) -> bytes:
    words = f"{_WORDS} {job_hash}"
    if kind == "svg":
        return _before(content, b"</svg>", f"<!-- {words} -->\n".encode())
    if kind == "html":
        return _before(content, b"</footer>", f" {words.capitalize()}.".encode())
    if kind == "dxf":
        return f"999\n{words}\n".encode() + content  # a comment, DXF Reference, group code 999
    if kind == "png":
        return _before(content, b"\x00\x00\x00\x00IEND", _chunk(b"tEXt", b"Comment\x00" + words.encode()))
    return _with_column(content, job_hash) if kind == "csv" else content


def _before(content: bytes, mark: bytes, words: bytes) -> bytes:
    head, found, tail = content.rpartition(mark)
    return head + words + found + tail if found else content


def _chunk(kind: bytes, data: bytes) -> bytes:
    """A chunk of a PNG (ISO/IEC 15948, 5.3)."""
    return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")


def _with_column(content: bytes, job_hash: str) -> bytes:
    rows = list(csv.reader(io.StringIO(content.decode(), newline="")))
    out = io.StringIO()
    csv.writer(out).writerows([*row, job_hash if k else "job"] for k, row in enumerate(rows))
    return out.getvalue().encode()
