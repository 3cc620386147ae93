"""Places, findings, readings, verdicts and set of the invented row."""

from calib.quantity import Influence, Quantity, difference
from tests import scene
from vision.records.judged import (
    Decision,
    Finding,
    Findings,
    Group,
    Instrument,
    Limit,
    LoadSet,
    LoadStanding,
    Outcome,
    PairLoad,
    Reading,
    Requirement,
    SetResult,
    SpringVerdict,
    Standing,
)
from vision.records.kept import Place
from vision.records.measured import (
    Characteristic,
    Row,
    SpringMeasurement,
    Unmeasured,
)

OUTCOMES = (
    Outcome.ACCEPT,
    Outcome.REJECT,
    Outcome.CHECK_BY_HAND,
    Outcome.STILL_DUE,
    Outcome.CHECK_BY_HAND,
    Outcome.REJECT,
    Outcome.ACCEPT,
    Outcome.STILL_DUE,
)
ACTIONS = {
    Outcome.ACCEPT: "nothing to do",
    Outcome.REJECT: "replace it",
    Outcome.CHECK_BY_HAND: "measure it by hand",
    Outcome.STILL_DUE: "read the load at closed height on a tester",
}


def make_places(count: int = 8) -> dict[int, Place]:
    """Cylinder n intake for each position."""
    return {
        position: Place(
            word=f"{position}I", text=f"cylinder {position} intake", kind="intake"
        )
        for position in range(1, count + 1)
    }


def make_findings(count: int = 8) -> dict[int, Findings]:
    """Looked at all but the eighth; the sixth is cracked."""
    return {
        position: Findings(found=(Finding.CRACK,), note="at the third coil")
        if position == 6
        else Findings(found=(Finding.NONE,))
        for position in range(1, min(count, 7) + 1)
    }


def make_readings(count: int = 8) -> dict[int, tuple[Reading, ...]]:
    """Caliper, hand square and tester for the first and the seventh spring."""
    return {
        position: (
            _reading(Instrument.CALIPER_HEIGHT, 0.05, scene.shape(position).height_mm),
            _reading(Instrument.SQUARE_GAP, 0.1, 0.4),
            _reading(Instrument.CLOSED_FORCE, 4.0, 291.0, set_height_mm=38.9),
            _reading(Instrument.OPEN_FORCE, 8.0, 588.0, set_height_mm=30.1),
        )
        for position in (1, 7)
        if position <= count
    }


def _reading(
    instrument: Instrument, u95: float, value: float, set_height_mm: float | None = None
) -> Reading:
    return Reading(
        instrument=instrument,
        value=value,
        unit=instrument.unit,
        expanded_uncertainty=u95,
        set_height_mm=set_height_mm,
    )


def make_verdicts(row: Row, places: dict[int, Place]) -> tuple[SpringVerdict, ...]:
    """Judge each spring as the table says."""
    return tuple(_verdict(spring, places[spring.position]) for spring in row.springs)


def make_sets(row: Row) -> SetResult:
    """Rank the measured springs and put them into two groups."""
    heights = {
        spring.position: spring.values[Characteristic.FREE_HEIGHT]
        for spring in row.springs
        if isinstance(spring, SpringMeasurement)
    }
    ranked = sorted(heights, key=lambda position: -heights[position].value)
    tall, short = (heights[ranked[0]], heights[ranked[-1]]) if ranked else (None, None)
    spread = difference(tall, short) if tall and short else None
    return SetResult(
        kind="intake",
        standings=tuple(
            Standing(
                position=position,
                rank=rank,
                height=heights[position],
                straightedge_gap=difference(heights[ranked[0]], heights[position]),
            )
            for rank, position in enumerate(ranked, start=1)
        ),
        row_order=tuple(ranked[::2] + ranked[1::2][::-1]),
        spread=spread,
        spread_limit_mm=1.0,
        spread_outcome=Outcome.REJECT,
        groups=_groups(ranked, heights),
        best_subset=tuple(sorted(ranked[:4])),
        replace=tuple(ranked[-1:]),
        outliers=tuple(ranked[-1:]),
        remarks=("the shortest spring stands apart from the rest",),
        loads=(make_loads(),) if len(row.springs) >= 7 else (),
    )


def make_loads() -> LoadSet:
    """Two springs read at closed height; the seventh is weak."""
    forces = (_force(1), _force(7))
    return LoadSet(
        instrument=Instrument.CLOSED_FORCE,
        height_mm=38.9,
        standings=tuple(
            LoadStanding(
                position=position,
                force=force,
                apart_percent=Quantity(
                    value=apart, unit="%", influences=force.influences
                ),
            )
            for position, force, apart in zip(
                (1, 7), forces, (12.5, -11.0), strict=True
            )
        ),
        spread=difference(*forces),
        weak=(7,),
        remarks=("spring 7 is weaker than the other",),
    )


def make_pairs() -> tuple[PairLoad, ...]:
    """The first and the seventh spring as outer and inner of one valve."""
    return (
        PairLoad(
            place="cylinder 1 intake",
            requirement=Requirement.PAIR_CLOSED_LOAD,
            positions=(1, 7),
            heights_mm=(38.9, 37.4),
            force=_force(1),
            limit=Limit(unit="N", minimum=258.0, as_given="min 258 N"),
            outcome=Outcome.ACCEPT,
        ),
    )


def _groups(ranked: list[int], heights: dict[int, Quantity]) -> tuple[Group, ...]:
    halves = (ranked[: len(ranked) // 2], ranked[len(ranked) // 2 :])
    return tuple(
        Group(
            number=number,
            positions=tuple(half),
            lowest_mm=heights[half[-1]].value,
            highest_mm=heights[half[0]].value,
            doubtful=(),
        )
        for number, half in enumerate(halves, start=1)
        if half
    )


def _verdict(spring: SpringMeasurement | Unmeasured, place: Place) -> SpringVerdict:
    outcome = OUTCOMES[(spring.position - 1) % len(OUTCOMES)]
    due = ("load at closed height",) if outcome is Outcome.STILL_DUE else ()
    return SpringVerdict(
        position=spring.position,
        place=place.text,
        kind=place.kind,
        outcome=outcome,
        decisions=_decisions(spring, outcome),
        due=due,
        actions=(ACTIONS[outcome],),
    )


def _decisions(
    spring: SpringMeasurement | Unmeasured, outcome: Outcome
) -> tuple[Decision, ...]:
    """Free height, squareness, closed load and looking, each with its own line."""
    values = spring.values if isinstance(spring, SpringMeasurement) else {}
    cracked = spring.position == 6
    short = spring.position == 2
    loaded = outcome in {Outcome.ACCEPT, Outcome.REJECT}
    force = _force(spring.position) if loaded else None
    return (
        _line(
            Requirement.FREE_HEIGHT,
            values.get(Characteristic.FREE_HEIGHT),
            Limit(unit="mm", minimum=47.1),
            Outcome.REJECT if short else Outcome.ACCEPT,
        ),
        _line(
            Requirement.SQUARENESS,
            values.get(Characteristic.SQUARENESS),
            Limit(unit="mm", maximum=1.6),
            Outcome.CHECK_BY_HAND if spring.position == 3 else Outcome.ACCEPT,
        ),
        _line(
            Requirement.CLOSED_LOAD,
            force,
            Limit(unit="N", minimum=258.0),
            Outcome.ACCEPT if loaded else Outcome.STILL_DUE,
        ),
        _line(
            Requirement.VISUAL,
            None,
            None,
            Outcome.REJECT if cracked else Outcome.ACCEPT,
        ),
    )


def _line(
    requirement: Requirement,
    value: Quantity | None,
    limit: Limit | None,
    outcome: Outcome,
) -> Decision:
    missing = value is None and limit is not None
    decided = outcome if not missing else Outcome.STILL_DUE
    return Decision(
        requirement=requirement,
        outcome=decided,
        value=value,
        limit=limit,
        why="no value yet" if missing else f"{requirement.text}: {decided.text}",
        action=ACTIONS[decided],
    )


def _force(position: int) -> Quantity:
    tester = Influence(source="tester", label="spring tester", u=2.0)
    return Quantity(value=291.0 + position % 3, unit="N", influences=(tester,))
