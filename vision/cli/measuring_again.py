"""Measures kept pictures again, several inspections at once if asked."""

from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from dataclasses import dataclass
from itertools import islice
from multiprocessing import get_context
from pathlib import Path

from calib.calibrate import calibrate
from calib.errors import MeasureError, TargetError
from calib.records import Calibration, Photo
from vision.archive import shelf
from vision.archive.opening import Archive, open_archive
from vision.cli import keeping
from vision.pipeline import measure_row, measure_turned_row
from vision.records.kept import Change, Figure, Kept, Role
from vision.records.measured import (
    Characteristic,
    Row,
    SpringMeasurement,
    Unmeasured,
)

Name = tuple[int, int | None]
Spring = SpringMeasurement | Unmeasured | None

AHEAD = 2  # inspections waiting for each process, so that memory stays flat


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """One spring then and today; a reason stands where it was not measured."""

    spring: str
    old_height: Figure | None
    new_height: Figure | None
    old_squareness: Figure | None
    new_squareness: Figure | None
    old_reason: str = ""
    new_reason: str = ""

    @property
    def height_differs(self) -> bool:
        """By more than the old U, or measured only once."""
        return _differ(self.old_height, self.new_height)

    @property
    def squareness_differs(self) -> bool:
        """The same for the squareness."""
        return _differ(self.old_squareness, self.new_squareness)

    @property
    def differs(self) -> bool:
        """Either of them."""
        return self.height_differs or self.squareness_differs


@dataclass(frozen=True, slots=True, kw_only=True)
class Again:
    """One inspection measured again, or the fault that prevented it."""

    entry: str
    job: str = ""
    old_version: str = ""
    new_version: str = ""
    pairs: tuple[Pair, ...] = ()
    kept_as: str = ""
    fault: str = ""
    differs: bool = False


def measure_many(
    folder: Path, names: Sequence[Name], *, jobs: int, keep: bool
) -> Iterator[Again]:
    """Measure inspections again, in the order given."""
    work = _measure_and_keep if keep else _measure_only
    if jobs == 1 or len(names) == 1:
        yield from (work(folder, name) for name in names)
        return
    context = get_context("spawn")  # a fork would copy the picture library's threads
    with ProcessPoolExecutor(min(jobs, len(names)), mp_context=context) as pool:
        rest = iter(names)
        first = islice(rest, AHEAD * jobs)
        waiting = [pool.submit(work, folder, name) for name in first]
        while waiting:
            done: Future[Again] = waiting.pop(0)
            waiting += [pool.submit(work, folder, name) for name in islice(rest, 1)]
            yield done.result()


def measure_again(archive: Archive, kept: Kept) -> Row:
    """Measure a kept inspection's photos with today's program.

    It is calibrated again where the calibration's photo and target are kept;
    otherwise the kept calibration serves.
    """
    photos = keeping.kept_photos(archive, kept)
    calibration = _calibration(archive, kept, photos)
    if len(photos) == 1:
        return measure_row(photos[0], calibration)
    second = calibration
    if _in_row(kept):
        try:
            second = _calibrated(photos[1], kept)
        except TargetError:
            second = calibration  # the target was taken away before turning
    return measure_turned_row(photos[0], photos[1], calibration, second)


def compare(old: Row, new: Row, kept: Kept) -> tuple[Pair, ...]:
    """Put the springs of two rows side by side by position."""
    before = {spring.position: spring for spring in old.springs}
    after = {spring.position: spring for spring in new.springs}
    places = kept.inspection.places
    return tuple(
        _pair(
            f"{at} {places[at].word}" if at in places else str(at),
            before.get(at),
            after.get(at),
        )
        for at in sorted({*before, *after})
    )


def _measure_only(folder: Path, name: Name) -> Again:
    return _measured(folder, name, keep=False)


def _measure_and_keep(folder: Path, name: Name) -> Again:
    return _measured(folder, name, keep=True)


def _measured(folder: Path, name: Name, *, keep: bool) -> Again:
    """Measure one inspection; its fault does not stop the others."""
    number, version = name
    text = str(number) if version is None else f"{number}.{version}"
    try:
        archive = open_archive(folder)
        kept = shelf.load(archive, number, version)
        row = measure_again(archive, kept)
        kept_as = _keep(archive, kept, row) if keep else ""
    except MeasureError as error:
        return Again(entry=text, fault=str(error))
    pairs = compare(kept.inspection.row, row, kept)
    return Again(
        entry=kept.entry.handle.text,
        job=kept.entry.job,
        old_version=kept.entry.program_version,
        new_version=keeping.program_version(),
        pairs=pairs,
        kept_as=kept_as,
        differs=any(pair.differs for pair in pairs),
    )


def _keep(archive: Archive, kept: Kept, row: Row) -> str:
    """Keep the new row with the old entries as a new version."""
    revision = keeping.Revision(
        change=Change.REMEASURED,
        note=f"by Freestand {keeping.program_version()}",
        entries=keeping.entries_of(kept.inspection),
        specification=kept.inspection.specification,
        row=row,
    )
    handle, _inspection = keeping.keep_revision(archive, kept, revision)
    return handle.text


def _in_row(kept: Kept) -> bool:
    """Tell whether the target stood in the photo of the row."""
    row = kept.inspection.row
    return row.calibration.photo_sha256 == row.photo_sha256[0]


def _calibration(
    archive: Archive, kept: Kept, photos: tuple[Photo, ...]
) -> Calibration:
    if _in_row(kept):
        return _calibrated(photos[0], kept)
    for picture in kept.pictures:
        if picture.role is Role.REFERENCE:
            return _calibrated(keeping.kept_photo(archive, picture), kept)
    return kept.inspection.row.calibration


def _calibrated(photo: Photo, kept: Kept) -> Calibration:
    reference = kept.inspection.row.calibration.reference
    given = kept.given
    return calibrate(photo, reference, lens=given.lens, distance_mm=given.distance_mm)


def _pair(name: str, old: Spring, new: Spring) -> Pair:
    height, squareness = Characteristic.FREE_HEIGHT, Characteristic.SQUARENESS
    return Pair(
        spring=name,
        old_height=_figure(old, height),
        new_height=_figure(new, height),
        old_squareness=_figure(old, squareness),
        new_squareness=_figure(new, squareness),
        old_reason=_reason(old),
        new_reason=_reason(new),
    )


def _figure(spring: Spring, kind: Characteristic) -> Figure | None:
    if not isinstance(spring, SpringMeasurement) or kind not in spring.values:
        return None
    value = spring.values[kind]
    return Figure(value=value.value, expanded=value.expanded, unit=value.unit)


def _reason(spring: Spring) -> str:
    match spring:
        case SpringMeasurement():
            return ""
        case Unmeasured():
            return spring.reason.value
        case None:
            return "was not seen"


def _differ(old: Figure | None, new: Figure | None) -> bool:
    if old is None or new is None:
        return (old is None) != (new is None)
    return abs(new.value - old.value) > old.expanded
