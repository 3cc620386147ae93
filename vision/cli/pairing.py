"""Photo and hand side by side over an archive, and photos of one row repeated."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from calib.errors import SpecError
from calib.quantity import COVERAGE_FACTOR
from vision.archive.search import trace_springs
from vision.archive.shelf import load
from vision.inspection.agreement import (
    LEAST_PAIRS,
    deming_weighted,
    limits_of_agreement,
    say_agreement,
)
from vision.inspection.jackknife import jackknife_bound
from vision.inspection.repeatability import study_by_variance
from vision.records.judged import Instrument
from vision.records.measured import Characteristic, SpringMeasurement

if TYPE_CHECKING:
    from vision.archive.opening import Archive
    from vision.records.compared import Agreement, Bound, GaugeStudy
    from vision.records.kept import KeptSpring

HAND = {
    Characteristic.FREE_HEIGHT: (Instrument.CALIPER_HEIGHT, "caliper"),
    Characteristic.SQUARENESS: (Instrument.SQUARE_GAP, "hand square"),
}
WHOLE_LEAN = 2  # views that squareness takes; one shows only its part in the picture
LEAST_REPEATS = 2
Pair = tuple[float, float, float, float]
"""Photo and hand in mm, each followed by its standard uncertainty."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """How photo and hand agree on one characteristic."""

    characteristic: Characteristic
    agreement: "Agreement"
    slope: "Bound | None"  # None where the heights do not differ enough for a line
    sentence: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Repeats:
    """Several photos of the springs of one job."""

    engine: str
    job: str
    springs: int
    photos: int
    study: "GaugeStudy"


def compare(
    archive: "Archive", kind: Characteristic, engine: str, limit_mm: float | None
) -> Comparison | int:
    """Compare over all springs that have both; a number is too few of them."""
    pairs = tuple(_pairs(archive, kind, engine))
    if len(pairs) < LEAST_PAIRS:
        return len(pairs)
    photo, _, hand, _ = zip(*pairs, strict=True)
    agreement = limits_of_agreement(("photo", photo), (HAND[kind][1], hand), "mm")
    said = say_agreement(agreement, limit_mm)
    return Comparison(
        characteristic=kind,
        agreement=agreement,
        slope=_slope(pairs),
        sentence=f"{said[:1].upper()}{said[1:]}.",
    )


def find_repeats(archive: "Archive", engine: str) -> tuple[Repeats, ...]:
    """Study jobs that were photographed more than once.

    Inspections of one engine under one job's name show the same springs, place by
    place; the same picture kept twice counts once.
    """
    jobs: dict[tuple[str, str], list[KeptSpring]] = {}
    for spring in trace_springs(archive, engine=engine):
        jobs.setdefault((spring.engine, spring.job), []).append(spring)
    found = (_repeats(archive, springs) for springs in jobs.values())
    return tuple(one for one in found if one is not None)


def _pairs(archive: "Archive", kind: Characteristic, engine: str) -> Iterator[Pair]:
    """Pair each measured spring with the last reading of the hand instrument."""
    instrument, _ = HAND[kind]
    seen: dict[int, frozenset[int]] = {}
    for spring in trace_springs(archive, engine=engine):
        readings = [one for one in spring.hand if one.instrument is instrument]
        if not readings:
            continue
        figure = spring.free_height
        if kind is Characteristic.SQUARENESS:
            number = spring.handle.number
            if number not in seen:
                seen[number] = _turned(archive, spring)
            figure = spring.squareness if spring.position in seen[number] else None
        if figure is not None:
            hand = readings[-1]
            yield (
                figure.value,
                figure.expanded / COVERAGE_FACTOR,
                hand.value,
                hand.expanded_uncertainty / COVERAGE_FACTOR,
            )


def _turned(archive: "Archive", spring: "KeptSpring") -> frozenset[int]:
    """Name the positions whose whole lean was seen."""
    kept = load(archive, spring.handle.number, spring.handle.version)
    return frozenset(
        one.position
        for one in kept.inspection.row.springs
        if isinstance(one, SpringMeasurement) and one.views >= WHOLE_LEAN
    )


def _slope(pairs: Sequence[Pair]) -> "Bound | None":
    try:
        return jackknife_bound(pairs, _line)
    except SpecError:
        return None  # values that do not vary together have no line


def _line(pairs: Sequence[tuple[float, ...]]) -> float:
    photo, photo_u, hand, hand_u = zip(*pairs, strict=True)
    return deming_weighted((hand, hand_u), (photo, photo_u)).slope


def _repeats(archive: "Archive", springs: "list[KeptSpring]") -> Repeats | None:
    """Study one job over its distinct pictures; None when there is but one."""
    handles = {spring.handle for spring in springs}
    if len(handles) < LEAST_REPEATS:
        return None
    pictures = {
        load(archive, one.number, one.version).inspection.row.photo_sha256: one
        for one in sorted(handles, key=lambda one: one.number, reverse=True)
    }
    chosen = set(pictures.values())
    heights: dict[str, list[float]] = {}
    for spring in springs:
        if spring.handle in chosen and spring.free_height is not None:
            name = spring.place or str(spring.position)
            heights.setdefault(name, []).append(spring.free_height.value)
    whole = [values for values in heights.values() if len(values) == len(chosen)]
    if len(chosen) < LEAST_REPEATS or len(whole) < LEAST_REPEATS:
        return None
    return Repeats(
        engine=springs[0].engine,
        job=springs[0].job,
        springs=len(whole),
        photos=len(chosen),
        study=study_by_variance([whole]),
    )
