"""What is looked for is found, in order, and only that."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from tests.shelving import FIRST_DAY, NOON, fill, make_version
from vision.archive import shelf
from vision.archive.opening import Archive
from vision.archive.search import (
    CHUNK,
    Wanted,
    engines,
    find_springs,
    list_entries,
    trace_springs,
)
from vision.records.judged import Instrument, Outcome
from vision.records.kept import Change


def test_the_newest_job_comes_first(archive: Archive) -> None:
    """The order is that of the jobs' days, not that of adding."""
    for day in (2, 7, 5):
        shelf.add(archive, make_version(job=f"job {day}", day=day), added_at=NOON)

    jobs = [entry.job for entry in list_entries(archive, Wanted())]

    assert jobs == ["job 7", "job 5", "job 2"]


def test_a_limit_keeps_the_newest(archive: Archive) -> None:
    """Two of three are asked for."""
    for day in (2, 7, 5):
        shelf.add(archive, make_version(job=f"job {day}", day=day), added_at=NOON)

    jobs = [entry.job for entry in list_entries(archive, Wanted(), limit=2)]

    assert jobs == ["job 7", "job 5"]


def test_only_the_newest_version_is_listed(archive: Archive) -> None:
    """A version that another follows is shown on demand only."""
    shelf.add(archive, make_version(), added_at=NOON)
    base = shelf.load(archive, 1)
    again = replace(make_version(), pictures=(), change=Change.JUDGED)
    shelf.follow(archive, base, again, added_at=NOON)

    usual = [entry.handle.text for entry in list_entries(archive, Wanted())]
    every = [
        (entry.handle.text, entry.previous and entry.previous.text)
        for entry in list_entries(archive, Wanted(superseded=True))
    ]

    assert usual == ["1.2"]
    assert every == [("1.2", "1.1"), ("1.1", None)]


@pytest.mark.parametrize(
    ("wanted", "numbers"),
    [
        (Wanted(engine="ENGINE 7 "), [58, 8]),
        (Wanted(engine="engine 7 ", job="job 7"), [8]),
        (Wanted(job="100%"), []),
        (Wanted(number=3), [3]),
        (Wanted(first_day=date(2024, 2, 27)), [60, 59, 58]),
        (Wanted(last_day=date(2024, 1, 2)), [2, 1]),
        (Wanted(first_day=date(2024, 1, 2), last_day=date(2024, 1, 2)), [2]),
        (Wanted(number=3, outcome=Outcome.REJECT), [3]),
        (Wanted(number=3, place="2i"), [3]),
        (Wanted(number=3, place="9I"), []),
        (Wanted(number=3, place="1I", outcome=Outcome.REJECT), []),
    ],
)
def test_inspections_are_found_by_what_is_asked(
    archive: Archive, wanted: Wanted, numbers: list[int]
) -> None:
    """Names by a part, days inclusive, places whole, all together."""
    fill(archive, 60, springs=3)

    found = [entry.handle.number for entry in list_entries(archive, wanted)]

    assert found == numbers


def test_springs_are_found_by_place_and_verdict(archive: Archive) -> None:
    """The third of three stays unmeasured; the others carry their values."""
    fill(archive, 2, springs=3)

    rejected = list(find_springs(archive, Wanted(outcome=Outcome.REJECT)))
    second_job = list(find_springs(archive, Wanted(number=2)))

    assert [(one.handle.number, one.place) for one in rejected] == [
        (2, "2I"),
        (1, "2I"),
    ]
    height = rejected[0].free_height
    assert height is not None
    assert height.value == 46.68
    assert [one.position for one in second_job] == [1, 2, 3]
    assert second_job[2].free_height is None
    assert second_job[2].unmeasured == "touches its neighbour"


def test_more_than_one_piece_comes_complete_and_in_order(archive: Archive) -> None:
    """Fetching in pieces neither drops nor repeats nor reorders."""
    count = CHUNK // 4 + 2
    fill(archive, count, springs=4)

    found = [
        (one.handle.number, one.position) for one in find_springs(archive, Wanted())
    ]

    assert found == [(n, p) for n in range(count, 0, -1) for p in range(1, 5)]


def test_a_place_is_followed_over_the_jobs(archive: Archive) -> None:
    """Its lines run from the first day to the last and bring the hand readings."""
    fill(archive, 120, springs=2)

    lines = list(trace_springs(archive, engine="Engine 3 (INVENTED)", place="1i"))

    days = [one.started_on for one in lines]
    assert days == [(FIRST_DAY + timedelta(days=n)).date() for n in (3, 53, 103)]
    assert {one.place for one in lines} == {"1I"}
    instruments = [reading.instrument for reading in lines[0].hand]
    assert instruments == [
        Instrument.CALIPER_HEIGHT,
        Instrument.SQUARE_GAP,
        Instrument.CLOSED_FORCE,
        Instrument.OPEN_FORCE,
    ]


def test_an_engine_is_followed_place_by_place(archive: Archive) -> None:
    """All of the first place come before the second; a part of a name is not it."""
    fill(archive, 60, springs=2)

    lines = list(trace_springs(archive, engine="engine 3 (invented)"))

    assert [(one.place, one.handle.number) for one in lines] == [
        ("1I", 4),
        ("1I", 54),
        ("2I", 4),
        ("2I", 54),
    ]
    assert list(trace_springs(archive, engine="engine 3")) == []
    assert [one.hand != () for one in lines] == [True, True, False, False]


def test_the_engines_are_named(archive: Archive) -> None:
    """Each once, in alphabetical order."""
    fill(archive, 53, springs=1)

    names = engines(archive)

    assert len(names) == 50
    assert names[0] == "engine 0 (invented)"


def test_adding_goes_on_while_a_list_is_looked_at(archive: Archive) -> None:
    """Whoever reads a long list slowly keeps nobody from adding."""
    fill(archive, 3, springs=1)

    lines = list_entries(archive, Wanted())
    first = next(lines)
    shelf.add(archive, make_version(day=999), added_at=NOON)
    rest = list(lines)

    assert [entry.handle.number for entry in (first, *rest)] == [3, 2, 1]
