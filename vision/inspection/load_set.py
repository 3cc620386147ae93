"""Loads of a set held against each other, and of nested springs added."""

from collections.abc import Mapping, Sequence
from itertools import groupby
from statistics import median

from calib.quantity import Quantity, combined
from vision.inspection.evidence import Case
from vision.inspection.load import force_at_height
from vision.inspection.rates import find_rate, read_point
from vision.inspection.verdict import decide
from vision.inspection.wording import join_words, say_number
from vision.records.judged import (
    Instrument,
    Limit,
    LoadSet,
    LoadStanding,
    Outcome,
    PairLoad,
    Requirement,
    SpringVerdict,
)
from vision.records.kept import Place

LOSS_PERCENT = 10.0  # below the set's median; common practice for a tired spring
MOST_OFF_MM = 2.0  # farther from the common height one rate no longer serves
LEAST_SPRINGS = 3  # of which a median says something
NESTED = 2


def compare_loads(cases: Sequence[Case], tool: Instrument) -> LoadSet | None:
    """Hold the set's forces against their median at one height, without any limits.

    Each force is brought to the median of the heights set. None below three springs.
    """
    read = [(case, point) for case in cases if (point := read_point(case, tool))]
    if len(read) < LEAST_SPRINGS:
        return None
    height_mm = median(point.height.value for _, point in read)
    forces, left = {}, []
    for case, point in read:
        rate = find_rate(case)
        if rate is None or abs(point.height.value - height_mm) > MOST_OFF_MM:
            left.append(case.position)
        else:
            forces[case.position] = force_at_height(point, height_mm, rate.value)
    if len(forces) < LEAST_SPRINGS:
        return None
    standings = _stand(forces)
    limit = Limit(unit="%", maximum=LOSS_PERCENT)
    outcomes = {each.position: decide(each.below_percent, limit) for each in standings}
    weak = tuple(at for at, outcome in outcomes.items() if outcome is Outcome.REJECT)
    return LoadSet(
        text=tool.text,
        height_mm=height_mm,
        standings=standings,
        weak=tuple(sorted(weak)),
        remarks=tuple(_remarks(sorted(weak), left, height_mm)),
    )


def add_pairs(
    verdicts: Sequence[SpringVerdict], places: Mapping[int, Place]
) -> tuple[PairLoad, ...]:
    """Add the forces of the nested springs of each valve, as judged at their heights.

    At equal valve position inner and outer stand each at its own specified height.
    """
    nested = sorted(
        (each for each in verdicts if _is_nested(places.get(each.position))),
        key=lambda each: (_valve(places[each.position]), each.position),
    )
    found = []
    for valve, members in groupby(
        nested, key=lambda each: _valve(places[each.position])
    ):
        pair = list(members)
        for requirement in (Requirement.CLOSED_LOAD, Requirement.OPEN_LOAD):
            forces = [_force(each, requirement) for each in pair]
            known = [force for force in forces if force]
            if len(known) == len(pair) == NESTED:
                total = sum(force.value for force in known)
                found.append(
                    PairLoad(
                        place=valve,
                        requirement=requirement,
                        positions=tuple(each.position for each in pair),
                        force=combined(total, "N", [(1.0, force) for force in known]),
                    )
                )
    return tuple(found)


def _stand(forces: Mapping[int, Quantity]) -> tuple[LoadStanding, ...]:
    """Rank by force; the median is that of the other springs, as a plain figure."""
    ranked = sorted(forces, key=lambda position: (-forces[position].value, position))
    standings = []
    for position in ranked:
        force = forces[position]
        usual = median(forces[other].value for other in ranked if other != position)
        below = 100.0 * (usual - force.value) / usual
        standings.append(
            LoadStanding(
                position=position,
                force=force,
                below_percent=combined(below, "%", [(-100.0 / usual, force)]),
            )
        )
    return tuple(standings)


def _remarks(weak: Sequence[int], left: Sequence[int], height_mm: float) -> list[str]:
    at = say_number(height_mm, "mm")
    remarks = [
        f"spring {position} is proven more than {LOSS_PERCENT:g} % weaker at {at} than "
        "the others' median, common practice for replacing it"
        for position in weak
    ]
    if left:
        words = join_words([str(position) for position in left])
        remarks.append(f"springs {words}: not read near {at}, so left out")
    return remarks


def _is_nested(place: Place | None) -> bool:
    return place is not None and place.text.endswith((" outer", " inner"))


def _valve(place: Place) -> str:
    """Name the valve without inner or outer."""
    return place.text.removesuffix(" outer").removesuffix(" inner")


def _force(verdict: SpringVerdict, requirement: Requirement) -> Quantity | None:
    return next(
        (each.value for each in verdict.decisions if each.requirement is requirement),
        None,
    )
