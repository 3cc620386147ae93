"""Writes kept inspections to files, one inspection in memory at a time."""

import csv
import json
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from secrets import token_hex
from typing import IO

from calib.errors import OutputError
from vision.archive.files import load_picture
from vision.archive.opening import Archive
from vision.archive.parcel import write_parcel
from vision.cli.lists import entry_object
from vision.output.data import BYTE_ORDER_MARK, to_csv, to_json
from vision.output.keys import COLUMNS
from vision.output.rows import FORMULA_SIGNS, cells
from vision.output.sheet_html import render_html
from vision.output.show import Units
from vision.output.tree import to_data
from vision.records.kept import Kept, Role

OWN_COLUMNS = ("inspection", "job", "engine", "date", "program_version")

READ_ME = """\
Inspection {handle} of {day}: {job}, {engine}
Written by Freestand {version}.

{pictures}
sheet.html       the inspection sheet; opens in any browser
springs.csv      one line a spring: mm, N, degrees; U is the expanded uncertainty, k = 2
inspection.json  everything with the budget of each value
measured.json, judged.json   the record exactly as it is kept in the archive
SHA256SUMS       check with: sha256sum -c SHA256SUMS
"""


def export_csv(path: Path, inspections: Iterable[Kept]) -> None:
    """Write one line a spring, with the inspection before the spring's own columns."""
    with _written(path) as file:
        file.write(BYTE_ORDER_MARK)
        writer = csv.DictWriter(
            file, [*OWN_COLUMNS, *COLUMNS], restval="", lineterminator="\r\n"
        )
        writer.writeheader()
        for kept in inspections:
            own = _own_cells(kept)
            for spring in kept.inspection.row.springs:
                writer.writerow(own | cells(kept.inspection, spring))


def export_json(path: Path, inspections: Iterable[Kept]) -> None:
    """Write one object that lists the inspections, each with its entry."""
    with _written(path) as file:
        file.write('{"format": 1, "inspections": [')
        for index, kept in enumerate(inspections):
            data = {"entry": entry_object(kept.entry)}
            data |= to_data(kept.inspection, influences=True)
            text = json.dumps(data, ensure_ascii=False, allow_nan=False)
            file.write(f"{',' if index else ''}\n{text}")
        file.write("\n]}\n")


def export_folder(archive: Archive, kept: Kept, folder: Path, units: Units) -> Path:
    """Write one inspection as a folder that stands alone; give its path."""
    inspection, entry = kept.inspection, kept.entry
    overlays = [one for one in kept.pictures if one.role is Role.OVERLAY]
    overlay = load_picture(archive.folder, overlays[-1]) if overlays else None
    files = {
        "sheet.html": render_html(inspection, overlay_jpeg=overlay, units=units),
        "springs.csv": BYTE_ORDER_MARK + to_csv(inspection),
        "inspection.json": to_json(inspection, influences=True),
        "READ_ME.txt": READ_ME.format(
            handle=entry.handle.text,
            day=entry.started_on,
            job=entry.job,
            engine=entry.engine,
            version=entry.program_version,
            pictures="\n".join(f"{one.name}  {one.role.text}" for one in kept.pictures),
        ),
    }
    place = folder / f"{entry.handle.text}-{_slug(entry.job)}"
    content = {name: text.encode() for name, text in files.items()}
    write_parcel(archive, kept, place, content)
    return place


def _own_cells(kept: Kept) -> dict[str, str]:
    entry = kept.entry
    texts = {
        "inspection": entry.handle.text,
        "job": entry.job,
        "engine": entry.engine,
        "date": entry.started_on.isoformat(),
        "program_version": entry.program_version,
    }
    return {
        name: f"'{text}" if text.startswith(FORMULA_SIGNS) else text
        for name, text in texts.items()
    }


def _slug(text: str) -> str:
    """Make a folder's name of a job's."""
    kept = "".join(sign if sign.isalnum() else "-" for sign in text.lower())
    return "-".join(part for part in kept.split("-") if part)[:40] or "job"


@contextmanager
def _written(path: Path) -> Iterator[IO[str]]:
    """Lend a file that comes to stand whole under its name, or not at all."""
    part = path.parent / f".{path.name[:40]}.{token_hex(4)}.part"
    try:
        if path.exists():
            fault = "stands there already and is not overwritten"
            raise OutputError(str(path), fault, "Name a file that is new")
        with part.open("x", encoding="utf-8", newline="") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        fault = f"cannot be written ({error.strerror or error})"
        remedy = "Name a file in a folder that exists and may be written to"
        raise OutputError(str(path), fault, remedy) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
