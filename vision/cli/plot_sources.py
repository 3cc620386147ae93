"""Where plots come from: result files, or an archive."""

from dataclasses import dataclass
from datetime import UTC, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

from calib.errors import ArchiveError, MeasureError, OutputError
from vision.archive.opening import open_archive
from vision.archive.search import trace_springs
from vision.archive.shelf import load
from vision.inspection.agreement import LEAST_PAIRS, limits_of_agreement
from vision.output.plots.points import PAIRED, load_result, method_pairs, moments
from vision.output.plots.series import Moment
from vision.output.tree import Data, to_data
from vision.records.measured import Characteristic

if TYPE_CHECKING:
    from vision.records.compared import Agreement
    from vision.records.kept import KeptSpring

HAND_NAMES = {
    Characteristic.FREE_HEIGHT: "caliper",
    Characteristic.SQUARENESS: "hand square",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Result files or an archive, as named on the command line."""

    files: tuple[Path, ...]
    archive: Path | None
    number: int | None
    engine: str

    @property
    def name(self) -> str:
        """What a message calls it."""
        return str(self.archive or ", ".join(map(str, self.files)))


def nothing_to_plot(source: Source, fault: str, remedy: str) -> MeasureError:
    """Say that a source does not hold what was asked for."""
    error = OutputError if source.archive is None else ArchiveError
    return error(source.name, f"holds {fault}", remedy)


def read_row(source: Source) -> Data:
    """Read one row of springs."""
    if source.archive is None or source.number is None:
        return load_result(source.files[0])
    return to_data(load(open_archive(source.archive), source.number).inspection)


def read_moments(source: Source, place: str) -> tuple[Moment, ...]:
    """Follow a place from the first job to the last."""
    if source.archive is None:
        return moments([load_result(path) for path in source.files], place)
    traced = trace_springs(
        open_archive(source.archive), engine=source.engine, place=place
    )
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
    if source.archive is None:
        return method_pairs([load_result(path) for path in source.files], kind)
    traced = trace_springs(open_archive(source.archive), engine=source.engine)
    return tuple(
        (figure.value, reading.value)
        for spring in traced
        for reading in spring.hand
        if reading.instrument is PAIRED[kind]
        and (
            figure := (
                spring.free_height
                if kind is Characteristic.FREE_HEIGHT
                else spring.squareness
            )
        )
    )
