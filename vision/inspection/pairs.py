"""Outer and inner spring of one valve: what they press together, and its limits.

Nested springs share the valve, so their forces add at equal valve position. Where
both have heights of their own in the specification, the inner one is that much shorter
or longer there; else both stand at equal length.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from calib.quantity import Quantity, combined
from vision.inspection.evidence import BY_HAND, Candidate, Case, Evidence
from vision.inspection.load import force_at_height
from vision.inspection.loading import why_no_force
from vision.inspection.rates import find_rate, read_point
from vision.inspection.verdict import judge_evidence
from vision.inspection.wording import say, say_number
from vision.records.judged import (
    Decision,
    Instrument,
    Load,
    PairLoad,
    Requirement,
    Requirements,
)
from vision.records.kept import Place

OUTER, INNER = " outer", " inner"
ALONE = "its partner, the other spring of the valve, is not in this row"
NAME_BOTH = "set inner and outer up in one row and name them, like --places 1Io,1Ii"
EITHER = "replace the pair, or the one of the two that its own set shows to be weak"


@dataclass(frozen=True, slots=True, kw_only=True)
class Nest:
    """Outer and inner spring of one valve."""

    place: str
    outer: Case
    inner: Case

    @property
    def cases(self) -> tuple[Case, Case]:
        """Both, outer first."""
        return self.outer, self.inner


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """The force of one of the two at its length."""

    position: int
    height_mm: float
    force: Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """The valve closed or fully open: what is asked there, and the tester's reading."""

    requirement: Requirement
    tool: Instrument

    def own(self, asked: Requirements) -> Load | None:
        """Find what is asked of one spring alone."""
        closed = self.requirement is Requirement.PAIR_CLOSED_LOAD
        return asked.closed if closed else asked.open

    def together(self, asked: Requirements) -> Load | None:
        """Find what is asked of both."""
        closed = self.requirement is Requirement.PAIR_CLOSED_LOAD
        return asked.pair_closed if closed else asked.pair_open


STAGES = (
    Stage(requirement=Requirement.PAIR_CLOSED_LOAD, tool=Instrument.CLOSED_FORCE),
    Stage(requirement=Requirement.PAIR_OPEN_LOAD, tool=Instrument.OPEN_FORCE),
)


def judge_pairs(
    cases: Mapping[int, Case], places: Mapping[int, Place]
) -> dict[int, tuple[Decision, ...]]:
    """Hold what is asked of pairs to both springs of each; by position."""
    nests = {
        case.position: nest for nest in _nests(cases, places) for case in nest.cases
    }
    lines = {
        position: tuple(_lines(case, nests.get(position)))
        for position, case in cases.items()
    }
    return {position: found for position, found in lines.items() if found}


def add_pairs(
    cases: Mapping[int, Case], places: Mapping[int, Place]
) -> tuple[PairLoad, ...]:
    """Add the forces of the springs of each valve, where both were read."""
    found = (
        _pair_load(nest, stage) for nest in _nests(cases, places) for stage in STAGES
    )
    return tuple(pair for pair in found if pair)


def _nests(cases: Mapping[int, Case], places: Mapping[int, Place]) -> Iterator[Nest]:
    by_text = {place.text: at for at, place in places.items() if at in cases}
    for text, position in sorted(by_text.items()):
        valve = text.removesuffix(OUTER)
        inner = by_text.get(valve + INNER)
        if valve != text and inner is not None:
            yield Nest(place=valve, outer=cases[position], inner=cases[inner])


def _lines(case: Case, nest: Nest | None) -> Iterator[Decision]:
    """Judge what is asked of the pair that a spring belongs to."""
    for stage in STAGES:
        load = _asked(nest, stage) if nest else stage.together(case.requirements)
        if load is not None:
            yield judge_evidence(_evidence(nest, stage, load))


def _evidence(nest: Nest | None, stage: Stage, load: Load) -> Evidence:
    shares = _shares(nest, stage) if nest else ALONE
    at = say_number(load.height_mm, "mm")
    return Evidence(
        requirement=stage.requirement,
        limit=load.force,
        candidates=() if isinstance(shares, str) else (_sum(shares),),
        missing=shares if isinstance(shares, str) else "",
        remedy=f"read both forces, the outer at {at}" if nest else NAME_BOTH,
        check=f"read both forces again, the outer at exactly {at}",
        reject=EITHER,
    )


def _pair_load(nest: Nest, stage: Stage) -> PairLoad | None:
    shares, load = _shares(nest, stage), _asked(nest, stage)
    if isinstance(shares, str):
        return None
    outer, inner = shares
    line = judge_evidence(_evidence(nest, stage, load)) if load else None
    return PairLoad(
        place=nest.place,
        requirement=stage.requirement,
        positions=(outer.position, inner.position),
        heights_mm=(outer.height_mm, inner.height_mm),
        force=_sum(shares).value,
        limit=load.force if load else None,
        outcome=line.outcome if line else None,
    )


def _asked(nest: Nest, stage: Stage) -> Load | None:
    outer, inner = nest.outer.requirements, nest.inner.requirements
    return stage.together(outer) or stage.together(inner)


def _shares(nest: Nest, stage: Stage) -> tuple[Share, Share] | str:
    """Bring both forces to their lengths, outer first; or say why one is missing."""
    outer_mm, inner_mm = _lengths(nest, stage)
    outer = _share(nest.outer, stage, outer_mm)
    inner = _share(nest.inner, stage, inner_mm)
    if isinstance(outer, str):
        return outer
    return inner if isinstance(inner, str) else (outer, inner)


def _lengths(nest: Nest, stage: Stage) -> tuple[float | None, float | None]:
    """Tell how long outer and inner are as asked; None is as set on the tester."""
    load = _asked(nest, stage)
    outer, inner = (stage.own(case.requirements) for case in nest.cases)
    if load:
        step_mm = outer.height_mm - inner.height_mm if outer and inner else 0.0
        return load.height_mm, load.height_mm - step_mm
    return (outer.height_mm, inner.height_mm) if outer and inner else (None, None)


def _share(case: Case, stage: Stage, length_mm: float | None) -> Share | str:
    read, rate = read_point(case, stage.tool), find_rate(case)
    asked_mm = read.height.value if read and length_mm is None else length_mm
    why = why_no_force(read, rate, asked_mm or 0.0)
    if why or read is None or rate is None or asked_mm is None:
        return f"spring {case.position}: {why}"
    force = force_at_height(read, asked_mm, rate.value)
    return Share(position=case.position, height_mm=asked_mm, force=force)


def _sum(shares: tuple[Share, Share]) -> Candidate:
    """Add both forces; what both share stays together."""
    total = sum(share.force.value for share in shares)
    told = (
        f"{say(share.force)} of spring {share.position} at "
        f"{say_number(share.height_mm, 'mm')}"
        for share in shares
    )
    return Candidate(
        value=combined(total, "N", [(1.0, share.force) for share in shares]),
        origin=f"adding {' and '.join(told)}, {BY_HAND}",
        by_hand=True,
    )
