"""Loads of a set held against each other, without any limits."""

from collections.abc import Mapping, Sequence
from statistics import median

from calib.quantity import Quantity, combined, difference
from vision.inspection.evidence import Case
from vision.inspection.load import force_at_height
from vision.inspection.rates import find_rate, read_point
from vision.inspection.verdict import decide
from vision.inspection.wording import join_words, say_number
from vision.records.judged import Instrument, Limit, LoadSet, LoadStanding, Outcome

LOSS_PERCENT = 10.0  # below the set's median; common practice for a tired spring
MOST_OFF_MM = 2.0  # farther from the common height one rate no longer serves
LEAST_SPRINGS = 2  # to hold one against another
LEAST_JUDGING = 3  # of which a median says who is weak
TOOLS = (Instrument.CLOSED_FORCE, Instrument.OPEN_FORCE)


def compare_all_loads(cases: Sequence[Case]) -> tuple[LoadSet, ...]:
    """Compare a set's forces at closed and at open height, where enough were read."""
    found = (compare_loads(cases, tool) for tool in TOOLS)
    return tuple(each for each in found if each)


def compare_loads(cases: Sequence[Case], tool: Instrument) -> LoadSet | None:
    """Hold the set's forces against their median at one height, without any limits.

    Each force is brought to the median of the heights set. None below two springs;
    with two nobody can tell which of them is weak.
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
    weak = _find_weak(standings)
    return LoadSet(
        instrument=tool,
        height_mm=height_mm,
        standings=standings,
        spread=difference(standings[0].force, standings[-1].force),
        weak=weak,
        remarks=tuple(_remarks(weak, left, height_mm)),
    )


def _stand(forces: Mapping[int, Quantity]) -> tuple[LoadStanding, ...]:
    """Rank by force; each is held against the median of the other springs."""
    ranked = sorted(forces, key=lambda position: (-forces[position].value, position))
    standings = []
    for position in ranked:
        force = forces[position]
        usual = _median([forces[other] for other in ranked if other != position])
        apart = 100.0 * (force.value / usual.value - 1.0)
        terms = [
            (100.0 / usual.value, force),
            (-100.0 * force.value / usual.value**2, usual),
        ]
        standings.append(
            LoadStanding(
                position=position,
                force=force,
                apart_percent=combined(apart, "%", terms),
            )
        )
    return tuple(standings)


def _median(ranked: Sequence[Quantity]) -> Quantity:
    """Take the middle one of ranked forces, or the mean of the middle two."""
    low, high = ranked[(len(ranked) - 1) // 2], ranked[len(ranked) // 2]
    middle = (low.value + high.value) / 2.0
    return combined(middle, low.unit, [(0.5, low), (0.5, high)])


def _find_weak(standings: Sequence[LoadStanding]) -> tuple[int, ...]:
    """Name who is proven, beyond U, to have lost more than common practice allows."""
    if len(standings) < LEAST_JUDGING:
        return ()
    limit = Limit(unit="%", minimum=-LOSS_PERCENT)
    return tuple(
        sorted(
            each.position
            for each in standings
            if decide(each.apart_percent, limit) is Outcome.REJECT
        )
    )


def _remarks(weak: Sequence[int], left: Sequence[int], height_mm: float) -> list[str]:
    at = say_number(height_mm, "mm")
    remarks = [
        f"spring {position} is proven more than {LOSS_PERCENT:g} % weaker at {at} than "
        "the others' median, common practice for replacing it"
        for position in weak
    ]
    if left:
        noun = "springs" if len(left) > 1 else "spring"
        words = join_words([str(position) for position in left])
        remarks.append(f"{noun} {words}: not read near {at}, so left out")
    return remarks
