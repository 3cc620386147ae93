"""What is composed of a row, its limits and what a person entered."""

from dataclasses import replace
from datetime import UTC, datetime

from tests.factories import make_inspection, make_row
from tests.vision.inspection.springs import LIMITS, by_hand
from vision.archive.format import judged_payload, measured_payload, read_payloads
from vision.inspection.places import place_springs
from vision.judgement import BROKEN_HINT, HandEntries, choose_springs, inspect_row
from vision.records.judged import (
    Instrument,
    Limit,
    Load,
    Outcome,
    Requirement,
    Specification,
)
from vision.records.kept import Given, Inspection, Job
from vision.records.measured import OPEN_END, Row, SpringMeasurement

JOB = Job(
    name="twin springs (invented)",
    engine="Brook 1600 (invented)",
    started_at=datetime(2026, 3, 14, tzinfo=UTC),
)
TOGETHER = Load(height_mm=38.9, force=Limit(unit="N", minimum=560.0))
TWIN = Specification(
    name="twin",
    kinds=(
        replace(LIMITS, kind="intake outer", pair_closed=TOGETHER),
        replace(LIMITS, kind="intake inner", pair_closed=TOGETHER),
    ),
    spread_max_mm=1.0,
    group_width_mm=None,
)


def row_of(*colours: tuple[float, float, float]) -> Row:
    """The invented row, all measured, each wire in its colour."""
    row = make_row(len(colours))
    (usual, *_) = (one for one in row.springs if isinstance(one, SpringMeasurement))
    return replace(
        row,
        springs=tuple(
            replace(usual, position=position, colour=colour)
            for position, colour in enumerate(colours, start=1)
        ),
    )


def inspect(closed_n: tuple[float, ...]) -> Inspection:
    """Two valves of two springs, read at closed height; the third wire is redder."""
    grey, red = (0.40, 0.40, 0.40), (0.44, 0.40, 0.36)
    readings = {
        position: (by_hand(Instrument.CLOSED_FORCE, force, 4.0, 38.9),)
        for position, force in enumerate(closed_n, start=1)
    }
    entries = HandEntries(places=place_springs("1-2IoIi", 4), readings=readings)
    return inspect_row(row_of(grey, grey, red, grey), JOB, TWIN, entries, "0.1.0")


def test_pairs_sets_and_hints_are_part_of_an_inspection() -> None:
    """Each is found where its readings, places and colours say."""
    inspection = inspect((291.0, 291.0, 250.0, 250.0))

    assert list(inspection.hints) == [3]
    assert [pair.positions for pair in inspection.pairs] == [(1, 2), (3, 4)]
    outcomes = [pair.outcome for pair in inspection.pairs]
    assert outcomes == [Outcome.ACCEPT, Outcome.REJECT]
    assert [result.kind for result in inspection.sets] == [
        "intake outer",
        "intake inner",
    ]
    for result in inspection.sets:
        (loads,) = result.loads
        assert loads.instrument is Instrument.CLOSED_FORCE
        assert loads.spread.value == 41.0


def test_a_spring_whose_end_is_open_may_be_broken() -> None:
    """The hint comes first where its wire is of another colour, too."""
    grey, red = (0.40, 0.40, 0.40), (0.44, 0.40, 0.36)
    row = row_of(grey, grey, red, grey)
    springs = tuple(
        replace(one, remarks=(OPEN_END,) if one.position in {2, 3} else ())
        for one in row.springs
        if isinstance(one, SpringMeasurement)
    )

    inspection = inspect_row(
        replace(row, springs=springs), JOB, None, HandEntries(), "0.1.0"
    )

    assert sorted(inspection.hints) == [2, 3]
    assert inspection.hints[2] == BROKEN_HINT
    assert inspection.hints[3].startswith(f"{BROKEN_HINT}; the wire looks")


def test_a_hint_changes_no_line_of_a_verdict() -> None:
    """The redder wire is judged as the others are."""
    inspection = inspect((291.0, 291.0, 291.0, 291.0))

    of_first, of_third = (inspection.verdicts[at].decisions for at in (0, 2))
    assert [line.outcome for line in of_first] == [line.outcome for line in of_third]


def test_the_pair_is_a_line_of_each_spring() -> None:
    """Both springs of the weak pair are rejected by it."""
    inspection = inspect((291.0, 291.0, 250.0, 250.0))

    for verdict in inspection.verdicts:
        line = next(
            each
            for each in verdict.decisions
            if each.requirement is Requirement.PAIR_CLOSED_LOAD
        )
        weak = verdict.position in {3, 4}
        assert line.outcome is (Outcome.REJECT if weak else Outcome.ACCEPT)


def test_all_of_it_is_kept_and_comes_back() -> None:
    """Through the archive's text and back nothing is lost."""
    inspection = inspect((291.0, 291.0, 250.0, 250.0))

    texts = measured_payload(inspection, Given()).text, judged_payload(inspection).text
    again, _ = read_payloads(*texts)

    assert again.hints == inspection.hints
    assert again.pairs == inspection.pairs
    assert again.sets == inspection.sets


def test_loads_alone_are_a_set_where_nothing_was_measured() -> None:
    """A row in which no spring could be measured still compares its forces."""
    unmeasured = make_row(5).springs[4]
    row = replace(
        make_row(2),
        springs=tuple(replace(unmeasured, position=at) for at in (1, 2)),
    )
    readings = {
        at: (
            by_hand(Instrument.CLOSED_FORCE, force, 4.0, 38.9),
            by_hand(Instrument.OPEN_FORCE, 2.0 * force, 8.0, 30.1),
        )
        for at, force in ((1, 291.0), (2, 250.0))
    }

    (result,) = inspect_row(row, JOB, None, HandEntries(readings=readings), "0").sets

    assert result.standings == ()
    assert [each.instrument.key for each in result.loads] == [
        "closed_force",
        "open_force",
    ]


def test_rejected_springs_are_not_chosen() -> None:
    """Springs 2 and 6 are rejected: the best are chosen from the rest."""
    inspection = make_inspection()

    chosen = choose_springs(inspection, 3)

    (said,) = chosen.sets[0].remarks[-1:]
    assert said.startswith("best matched for 3 places: springs ")
    assert "rejected springs are left out" in said
    assert chosen.verdicts == inspection.verdicts
