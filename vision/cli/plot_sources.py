"""Where plots come from: result files, or an archive."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

from calib.errors import ArchiveError, MeasureError, OutputError
from vision.archive.search import Wanted, list_entries, trace_springs
from vision.archive.shelf import load
from vision.cli.archives import open_named, parse_entry, preferred_units, units_of
from vision.inspection.agreement import LEAST_PAIRS, limits_of_agreement
from vision.output.plots.points import PAIRED, load_result, method_pairs, moments
from vision.output.plots.series import Moment
from vision.output.tree import to_data
from vision.output.tree_values import Data
from vision.records.measured import Characteristic

if TYPE_CHECKING:
    from vision.archive.opening import Archive
    from vision.output.show import Units
    from vision.records.compared import Agreement
    from vision.records.kept import KeptSpring

ENTRY = re.compile(r"\d+(\.\d+)?")
HAND_NAMES = {
    Characteristic.FREE_HEIGHT: "caliper",
    Characteristic.SQUARENESS: "hand square",
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Source:
    """Results that were read from files or by number, or else a whole archive."""

    name: str
    results: tuple[Data, ...]
    archive: "Archive | None"
    engine: str
    units: "Units"


def open_source(
    subjects: list[str], archive: Path | None, engine: str, units: "Units | None"
) -> Source:
    """Read the named files and inspections; without any, open the archive."""
    numbers = [subject for subject in subjects if ENTRY.fullmatch(subject)]
    opened = open_named(archive) if numbers or not subjects else None
    results = [
        _kept_data(opened, subject)
        if opened is not None and subject in numbers
        else load_result(Path(subject))
        for subject in subjects
    ]
    return Source(
        name=", ".join(subjects) or (str(opened.folder) if opened else ""),
        results=tuple(results),
        archive=None if subjects else opened,
        engine=engine,
        units=units_of(opened, units) if opened else preferred_units(units),
    )


def _kept_data(archive: "Archive", subject: str) -> Data:
    return to_data(load(archive, *parse_entry(subject)).inspection)


def nothing_to_plot(source: Source, fault: str, remedy: str) -> MeasureError:
    """Say that a source does not hold what was asked for."""
    error = OutputError if source.archive is None else ArchiveError
    return error(source.name, f"holds {fault}", remedy)


def read_row(source: Source) -> Data:
    """Give the one row of springs."""
    return source.results[0]


def read_moments(source: Source, place: str) -> tuple[Moment, ...]:
    """Follow a place from the first job to the last."""
    if source.archive is None:
        return moments(source.results, place)
    traced = trace_springs(source.archive, engine=source.engine, place=place)
    found = (_moment(spring) for spring in traced)
    return tuple(moment for moment in found if moment)


def _moment(spring: "KeptSpring") -> Moment | None:
    height = spring.free_height
    if height is None:
        return None
    return Moment(
        when=datetime.combine(spring.started_on, time(), UTC),
        job=spring.job,
        value=height.value,
        expanded=height.expanded,
        outcome=spring.outcome,
    )


def read_agreement(source: Source, kind: Characteristic) -> "Agreement":
    """Hold photo against hand over all springs that have both."""
    pairs = _pairs(source, kind)
    if len(pairs) < LEAST_PAIRS:
        fault = (
            f"{len(pairs)} springs with both a photo's value and a hand reading, "
            f"below {LEAST_PAIRS}"
        )
        raise nothing_to_plot(source, fault, "Enter more hand readings")
    photo, hand = zip(*pairs, strict=True)
    return limits_of_agreement(("photo", photo), (HAND_NAMES[kind], hand), "mm")


def _pairs(source: Source, kind: Characteristic) -> tuple[tuple[float, float], ...]:
    archive = source.archive
    if archive is None:
        return method_pairs(source.results, kind)
    if kind is not Characteristic.FREE_HEIGHT:
        # a list does not say how many views a value has; the inspection does
        return method_pairs(list(_all_kept(archive, source.engine)), kind)
    return tuple(
        (spring.free_height.value, reading.value)
        for spring in trace_springs(archive, engine=source.engine)
        for reading in spring.hand
        if spring.free_height is not None and reading.instrument is PAIRED[kind]
    )


def _all_kept(archive: "Archive", engine: str) -> Iterator[Data]:
    """Load the newest version of each inspection of an engine, or of all."""
    for entry in list_entries(archive, Wanted(engine=engine)):
        if not engine or entry.engine.casefold() == engine.casefold():
            handle = entry.handle
            yield to_data(load(archive, handle.number, handle.version).inspection)
