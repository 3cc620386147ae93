"""Outer and inner spring of one valve: their forces add, and are held to limits."""

from dataclasses import replace

import pytest

from tests.vision.inspection.springs import (
    LIMITS,
    NOTHING,
    by_hand,
    good,
    loads,
)
from vision.inspection.evidence import Case
from vision.inspection.pairs import add_pairs, judge_pairs
from vision.inspection.places import place_springs
from vision.inspection.verdict import judge_spring
from vision.records.judged import (
    Decision,
    Instrument,
    Limit,
    Load,
    Outcome,
    Reading,
    Requirement,
    Requirements,
)

PLACES = place_springs("1Io,1Ii,2I", 3)
CLOSED, OPEN = Instrument.CLOSED_FORCE, Instrument.OPEN_FORCE
TOGETHER = Load(height_mm=38.9, force=Limit(unit="N", minimum=560.0))
OUTER = replace(LIMITS, kind="intake outer", pair_closed=TOGETHER)
INNER = replace(
    LIMITS,
    kind="intake inner",
    closed=replace(LIMITS.closed, height_mm=37.4),
    pair_closed=TOGETHER,
)


def case(
    position: int, readings: tuple[Reading, ...], asked: Requirements = LIMITS
) -> Case:
    """A good spring with these readings."""
    return Case(measured=good(position), requirements=asked, readings=readings)


def row(*cases: Case) -> dict[int, Case]:
    """Cases by position."""
    return {each.position: each for each in cases}


def pair_line(*cases: Case, position: int = 1) -> Decision:
    """The closed pair line of a spring of this row."""
    (line,) = judge_pairs(row(*cases), PLACES)[position]
    return line


def test_nested_springs_press_together() -> None:
    """Outer and inner of a valve add, closed and open; U adds in quadrature."""
    found = row(*(case(position, loads()) for position in (1, 2, 3)))

    closed, opened = add_pairs(found, PLACES)

    assert (closed.place, closed.positions) == ("cylinder 1 intake", (1, 2))
    assert closed.requirement is Requirement.PAIR_CLOSED_LOAD
    assert closed.heights_mm == (38.9, 38.9)
    assert (closed.force.value, closed.outcome) == (582.0, None)
    assert opened.force.value == 1176.0
    single = (4.0**2 + (0.1 * (588.0 - 291.0) / 8.8) ** 2) ** 0.5
    assert closed.force.expanded == pytest.approx(single * 2**0.5)


def test_half_a_pair_is_not_added() -> None:
    """Only the outer spring's force is known: no sum."""
    assert add_pairs(row(case(1, loads()), case(2, ())), PLACES) == ()


def test_springs_without_places_are_no_pairs() -> None:
    """Nobody knows what belongs together."""
    found = row(case(1, loads()), case(2, loads()))

    assert add_pairs(found, {}) == ()


def test_without_heights_asked_each_stands_as_set_on_the_tester() -> None:
    """No specification: 38.9 and 37.2 mm as set, nothing is brought anywhere."""
    nothing = Requirements(kind="")
    found = row(
        case(1, (by_hand(CLOSED, 291.0, 4.0, 38.9),), nothing),
        case(2, (by_hand(CLOSED, 109.0, 2.0, 37.2),), nothing),
    )

    (closed,) = add_pairs(found, PLACES)

    assert closed.heights_mm == (38.9, 37.2)
    assert closed.force.value == pytest.approx(400.0)


def test_inner_spring_stands_lower_by_the_step_between_their_heights() -> None:
    """Asked at 38.9 mm of the outer; the inner's own closed height is 1.5 mm less."""
    inner = (by_hand(CLOSED, 291.0, 4.0, 37.4), by_hand(OPEN, 588.0, 8.0, 30.1))
    found = row(case(1, loads(), OUTER), case(2, inner, INNER))

    closed = add_pairs(found, PLACES)[0]

    assert closed.heights_mm == pytest.approx((38.9, 37.4))
    assert closed.force.value == pytest.approx(582.0)
    assert closed.outcome is Outcome.ACCEPT


def test_pair_load_is_a_line_of_both_springs() -> None:
    """291 and 291 N against at least 560 N: accepted, and told with both forces."""
    asked = replace(LIMITS, pair_closed=TOGETHER)
    cases = (case(1, loads(), asked), case(2, loads(), asked))

    lines = judge_pairs(row(*cases), PLACES)

    assert lines[1] == lines[2]
    (line,) = lines[1]
    assert line.outcome is Outcome.ACCEPT
    assert "582" in line.why
    assert "of spring 1 at 38.90 mm" in line.why
    assert "of spring 2 at 38.90 mm" in line.why


def test_weak_pair_rejects_both_springs() -> None:
    """500 N against at least 560 N: neither may be called good."""
    asked = replace(LIMITS, closed=None, open=None, pair_closed=TOGETHER)
    weak = (by_hand(CLOSED, 250.0, 4.0, 38.9),)
    cases = (case(1, weak, asked), case(2, weak, asked))
    line = pair_line(*cases)

    verdict = judge_spring(good(), asked, NOTHING, weak, "", (line,))

    assert line.outcome is Outcome.REJECT
    assert verdict.outcome is Outcome.REJECT
    assert "replace the pair" in verdict.actions[0]


def test_a_pair_load_counts_as_the_load_asked() -> None:
    """Where only the pair's load is asked, its line takes the load's place."""
    asked = replace(LIMITS, closed=None, open=None, pair_closed=TOGETHER)
    line = pair_line(case(1, loads(), asked), case(2, loads(), asked))

    verdict = judge_spring(good(), asked, NOTHING, loads(), "", (line,))

    assert verdict.outcome is Outcome.ACCEPT


def test_missing_force_leaves_the_pair_due_and_named() -> None:
    """The inner spring was not read: both springs stay due for it."""
    asked = replace(LIMITS, pair_closed=TOGETHER)

    line = pair_line(case(1, loads(), asked), case(2, (), asked))

    assert line.outcome is Outcome.STILL_DUE
    assert line.why == "spring 2: no force read at a known height"
    assert line.action.startswith("read both forces, the outer at 38.90 mm")


def test_a_spring_without_its_partner_stays_due() -> None:
    """Its partner is not in the row: the pair cannot be judged."""
    asked = replace(LIMITS, pair_closed=TOGETHER)

    line = pair_line(case(1, loads(), asked))

    assert line.outcome is Outcome.STILL_DUE
    assert "not in this row" in line.why
