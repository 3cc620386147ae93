"""Loads of a set against each other."""

from dataclasses import replace

import pytest

from tests.vision.inspection.springs import (
    by_hand,
    good,
    loads,
    touching,
)
from vision.inspection.evidence import Case
from vision.inspection.load_set import compare_all_loads, compare_loads
from vision.records.judged import Instrument, Requirements

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
    apart = found.standings[-1].apart_percent
    assert apart.value == pytest.approx(-100.0 * (291.0 - 245.0) / 291.0)
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
    assert "spring 4: not read near 38.90 mm" in found.remarks[0]


def test_of_two_springs_nobody_is_weak() -> None:
    """Two forces are shown with their spread, and who is tired stays open."""
    found = compare_loads(cases(291.0, 245.0), CLOSED)

    assert found.weak == ()
    assert found.spread.value == pytest.approx(46.0)
    shared = (4.0**2 + (0.1 * 291.0 / 9.12) ** 2) ** 0.5
    assert found.standings[0].force.expanded == pytest.approx(shared)
    assert found.spread.expanded > 2**0.5 * 4.0


def test_the_median_of_the_others_is_uncertain_too() -> None:
    """Of two springs, 1 against 2: both forces' U join, 100 U/291 each."""
    found = compare_loads(cases(291.0, 291.0), CLOSED)

    single = 100.0 * found.standings[0].force.expanded / 291.0
    assert found.standings[0].apart_percent.value == 0.0
    assert found.standings[0].apart_percent.expanded == pytest.approx(single * 2**0.5)


def test_too_few_forces_are_no_set() -> None:
    """One force, or two of which one has no rate, is held against nothing."""
    row = cases(291.0, 291.0)
    row[0] = replace(row[0], measured=touching())

    assert compare_loads(cases(291.0), CLOSED) is None
    assert compare_loads(row, CLOSED) is None


def test_both_heights_are_compared() -> None:
    """Closed and open forces each give a comparison of their own."""
    row = [
        Case(measured=good(position), requirements=NO_LIMITS, readings=loads())
        for position in (1, 2, 3)
    ]

    assert [each.instrument for each in compare_all_loads(row)] == [
        CLOSED,
        Instrument.OPEN_FORCE,
    ]
