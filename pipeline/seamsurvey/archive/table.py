"""index.csv: one line a set, for a spreadsheet."""

import csv
import io

from seamsurvey.archive_model import Archive

COLUMNS = (
    "set", "title", "state", "width_mm", "height_mm", "size_u_mm", "size", "symmetry", "templates", "pieces",
    "sections", "joins", "layouts", "others_fit", "alike", "warnings", "problem", "source", "photos",
)  # fmt: skip


def index_csv(archive: Archive) -> str:
    """The index as CSV (RFC 4180); several values in one cell stand behind one another with "; " between."""
    alike: dict[str, list[str]] = {record.name: [] for record in archive.sets}
    for pair in archive.alike:
        alike[pair.first].append(f"{pair.second} ({pair.kind} × {pair.size:.3f})")
        alike[pair.second].append(f"{pair.first} ({pair.kind} × {1 / pair.size:.3f})")
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    for record in archive.sets:
        width, height = record.size_mm or (None, None)
        writer.writerow(
            [
                record.name, record.title, record.state, _mm(width), _mm(height),
                _mm(record.size_u_mm if record.size_mm else None), record.size_text, record.symmetry,
                len(record.templates) or "", len(record.pieces) or "", _plain(record.sections),
                _plain(record.joins),
                record.layouts or "", record.others_fit or "", "; ".join(alike[record.name]),
                "; ".join(record.warnings),
                record.problem.what if record.problem else "", record.source, "; ".join(record.photos),
            ]
        )  # fmt: skip
    return out.getvalue()


def _mm(length: float | None) -> str:
    return "" if length is None else f"{length:.2f}"


def _plain(number: int | None) -> str:
    return "" if number is None else str(number)
