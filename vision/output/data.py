"""JSON and CSV files for other programs; keys.py says what each key means.

Numbers are not rounded. Lengths are always in mm, forces in N, angles in degrees; the
unit stands in the key. What is not known is null, never left to be guessed.
"""

import csv
import json
from io import StringIO
from pathlib import Path

from vision.output.keys import COLUMNS
from vision.output.rows import cells
from vision.output.tree import to_data
from vision.output.written import write_whole
from vision.records.kept import Inspection

BYTE_ORDER_MARK = "\ufeff"  # tells a spreadsheet that the file is UTF-8


def to_json(inspection: Inspection, *, influences: bool = False) -> str:
    """Write an inspection as JSON text; ``influences`` adds each value's budget."""
    data = to_data(inspection, influences=influences)
    return json.dumps(data, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def save_json(path: Path, inspection: Inspection, *, influences: bool = False) -> None:
    """Write the JSON file; raises OutputError when it cannot be written."""
    text = to_json(inspection, influences=influences)
    write_whole(path, _encoded(text))


def to_csv(inspection: Inspection) -> str:
    """Write one line a spring with the columns of ``keys.COLUMNS``."""
    text = StringIO()
    writer = csv.DictWriter(text, list(COLUMNS), restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows(cells(inspection, spring) for spring in inspection.row.springs)
    return text.getvalue()


def save_csv(path: Path, inspection: Inspection) -> None:
    """Write the CSV file; raises OutputError when it cannot be written."""
    write_whole(path, _encoded(BYTE_ORDER_MARK + to_csv(inspection)))


def _encoded(text: str) -> bytes:
    """Encode as UTF-8; undecodable bytes of a file name stay legible as escapes."""
    return text.encode(errors="backslashreplace")
