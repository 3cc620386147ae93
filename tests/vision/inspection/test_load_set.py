"""Loads of a set against each other, and of nested springs together."""

from dataclasses import replace

import pytest

from tests.vision.inspection.springs import (
    LIMITS,
    NOTHING,
    by_hand,
    good,
    loads,
    touching,
)
from vision.inspection.evidence import Case
from vision.inspection.load_set import add_pairs, compare_loads
from vision.inspection.places import place_springs
from vision.inspection.verdict import judge_spring
from vision.records.judged import Instrument, Requirement, Requirements

CLOSED = Instrument.CLOSED_FORCE
NO_LIMITS = Requirements(kind="")


def cases(*forces_n: float, height_mm: float = 38.9) -> list[Case]:
    """Springs of the same height with these closed forces, no limits known."""
    return [
        Case(
            measured=good(position),
            requirements=NO_LIMITS,
            readings=(by_hand(CLOSED, force, 4.0, height_mm),),
        )
        for position, force in enumerate(forces_n, start=1)
    ]


def test_the_weak_spring_is_named_without_any_specification() -> None:
    """245 N among about 290 N: 15 % below the others, proven beyond U."""
    found = compare_loads(cases(291.0, 245.0, 288.0, 294.0), CLOSED)

    assert found.weak == (2,)
    assert [each.position for each in found.standings] == [4, 1, 3, 2]
    below = found.standings[-1].below_percent
    assert below.value == pytest.approx(100.0 * (291.0 - 245.0) / 291.0)
    assert "spring 2 is proven more than 10 % weaker at 38.90 mm" in found.remarks[0]


def test_a_loss_within_u_names_nobody() -> None:
    """10.5 % below with U above 1.4 % proves nothing."""
    found = compare_loads(cases(291.0, 260.5, 291.0, 291.0), CLOSED)

    assert found.weak == ()


def test_forces_are_brought_to_the_common_height() -> None:
    """One spring read 0.5 mm too tall is not thereby weak."""
    row = cases(291.0, 291.0, 291.0)
    row[1] = replace(row[1], readings=(by_hand(CLOSED, 275.0, 4.0, 39.4),))

    found = compare_loads(row, CLOSED)

    force = {each.position: each.force.value for each in found.standings}[2]
    assert found.height_mm == 38.9
    assert force == pytest.approx(275.0 + 0.5 * 275.0 / (48.02 - 39.4))


def test_a_spring_read_far_off_is_left_out_and_named() -> None:
    """3 mm off the common height it says nothing."""
    row = cases(291.0, 291.0, 291.0, 291.0)
    row[3] = replace(row[3], readings=(by_hand(CLOSED, 200.0, 4.0, 41.9),))

    found = compare_loads(row, CLOSED)

    assert len(found.standings) == 3
    assert "springs 4: not read near 38.90 mm" in found.remarks[0]


def test_too_few_forces_are_no_set() -> None:
    """Two forces, or three of which one has no rate, have no median."""
    row = cases(291.0, 291.0, 291.0)
    row[0] = replace(row[0], measured=touching())

    assert compare_loads(cases(291.0, 245.0), CLOSED) is None
    assert compare_loads(row, CLOSED) is None


def test_nested_springs_press_together() -> None:
    """Outer and inner of a valve add, closed and open; U adds in quadrature."""
    places = place_springs("1Io,1Ii,2I", 3)
    verdicts = [
        judge_spring(good(position), LIMITS, NOTHING, loads()) for position in (1, 2, 3)
    ]

    closed, opened = add_pairs(verdicts, places)

    assert (closed.place, closed.positions) == ("cylinder 1 intake", (1, 2))
    assert closed.requirement is Requirement.CLOSED_LOAD
    assert closed.force.value == 582.0
    assert opened.force.value == 1176.0
    single = verdicts[0].decisions[2].value
    assert closed.force.u == pytest.approx(single.u * 2**0.5)


def test_half_a_pair_is_not_added() -> None:
    """Only the outer spring's force is known: no sum."""
    places = place_springs("1Io,1Ii", 2)
    verdicts = [
        judge_spring(good(1), LIMITS, NOTHING, loads()),
        judge_spring(good(2), LIMITS, NOTHING),
    ]

    assert add_pairs(verdicts, places) == ()


def test_springs_without_places_are_no_pairs() -> None:
    """Nobody knows what belongs together."""
    verdicts = [judge_spring(good(1), LIMITS, NOTHING, loads())]

    assert add_pairs(verdicts, {}) == ()
