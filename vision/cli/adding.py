"""From files named on the command line to a kept inspection."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from calib.errors import ArchiveError
from calib.records import Calibration
from vision.archive import shelf
from vision.archive.opening import make_archive
from vision.archive.settings import remember_units
from vision.cli import keeping
from vision.cli.archives import preferred_units
from vision.cli.inputs import Target, measure_photos, read_target
from vision.inspection.findings import split_finding
from vision.inspection.hand import read_readings
from vision.inspection.places import find_position, place_springs
from vision.inspection.spec import load_specification
from vision.judgement import HandEntries
from vision.output.show import Units
from vision.records.kept import (
    Given,
    Handle,
    Inspection,
    Job,
    Picture,
    Place,
    Role,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Files:
    """The files that a row is measured from."""

    photo: Path
    turned: Path | None
    reference: Path | None
    calibration: Path | None
    reference_photo: Path | None
    lens: Path | None
    distance_mm: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """What was said about the row."""

    job: str
    engine: str
    note: str
    places: str
    findings: tuple[str, ...]
    readings: Path | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Making:
    """What counts when the archive is made."""

    units: Units | None
    database: str


def add(
    folder: Path,
    files: Files,
    words: Words,
    spec: Path | None,
    moment: datetime,
    making: Making,
) -> tuple[Handle, Inspection]:
    """Measure, judge, draw and keep; nothing is made before the row is judged."""
    specification = load_specification(spec) if spec else None
    target = (
        read_target(files.reference, files.lens, files.distance_mm)
        if files.reference
        else None
    )
    measured = measure_photos(files.photo, files.turned, files.calibration, target)
    row = measured.row
    job = Job(name=words.job, engine=words.engine, started_at=moment, note=words.note)
    entries = read_entries(words, len(row.springs))
    inspection = keeping.judge(row, job, specification, entries)
    pictures = list(_photos(files, row.calibration))
    archive = make_archive(
        folder,
        made_at=keeping.now(),
        units=preferred_units(making.units),
        database=making.database,
    )
    if making.units and making.units != archive.settings.units:
        remember_units(folder, making.units)
        archive = make_archive(folder, made_at=keeping.now())
    overlay = keeping.draw(archive, inspection, measured.photos)
    version = shelf.Version(
        inspection=inspection,
        given=_given(target),
        pictures=(*pictures, overlay),
    )
    return shelf.add(archive, version, added_at=keeping.now()), inspection


def read_entries(words: Words, count: int) -> HandEntries:
    """Read places, findings and readings as they were typed."""
    places = place_springs(words.places, count) if words.places else {}
    seen = (split_finding(text) for text in words.findings)
    found = {spring_position(word, places, count): what for word, what in seen}
    readings = read_readings(words.readings, places, count) if words.readings else {}
    return HandEntries(places=places, findings=found, readings=readings)


def spring_position(word: str, places: dict[int, Place], count: int) -> int:
    """Find a spring of the row by its place or position."""
    position = find_position(word, places)
    if not 1 <= position <= count:
        fault = f"there is no spring {position}: the row has {count}"
        raise ArchiveError(word, fault, "Name a place, or a position from the left")
    return position


def _photos(files: Files, calibration: Calibration) -> Iterator[Picture]:
    """Take the photos' own bytes."""
    for role, path in (
        (Role.ROW, files.photo),
        (Role.TURNED, files.turned),
        (Role.REFERENCE, files.reference_photo),
    ):
        if path is None:
            continue
        picture = Picture(role=role, name=path.name, content=_content(path))
        if role is Role.REFERENCE and picture.sha256 != calibration.photo_sha256:
            fault = f"is not the photo of the calibration ({calibration.photo_name})"
            raise ArchiveError(str(path), fault, "Name that one, or leave it away")
        yield picture


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        fault = f"cannot be read any more ({error.strerror or error})"
        raise ArchiveError(str(path), fault, "Put it back, then add again") from error


def _given(target: Target | None) -> Given:
    if target is None:
        return Given()
    return Given(lens=target.lens, distance_mm=target.distance_mm)
