"""A spring's verdict: each requirement's own line, and what the whole comes to."""

from dataclasses import replace

import pytest

from tests.vision.inspection.figures import unsure
from tests.vision.inspection.springs import (
    LIMITS,
    NOTHING,
    UNSEEN,
    by_hand,
    good,
    loads,
    measured,
    touching,
)
from vision.inspection.verdict import judge_spring
from vision.records.judged import (
    Decision,
    Finding,
    Findings,
    Instrument,
    Limit,
    Outcome,
    Requirement,
    Requirements,
    SpringVerdict,
)

ACCEPT, REJECT = Outcome.ACCEPT, Outcome.REJECT
CHECK, DUE = Outcome.CHECK_BY_HAND, Outcome.STILL_DUE
CALIPER, SQUARE = Instrument.CALIPER_HEIGHT, Instrument.SQUARE_GAP
HEIGHT_ONLY = Requirements(kind="", free_height=Limit(unit="mm", minimum=47.1))
LEAN_ONLY = Requirements(kind="", squareness=Limit(unit="deg", maximum=2.0))


def line(verdict: SpringVerdict, requirement: Requirement) -> Decision:
    """Find a requirement's own line."""
    return next(each for each in verdict.decisions if each.requirement is requirement)


def outcomes(verdict: SpringVerdict) -> dict[str, Outcome]:
    """List the outcomes by requirement."""
    return {each.requirement.key: each.outcome for each in verdict.decisions}


def test_accepts_when_every_line_is_decided() -> None:
    """Two views, both loads and a look: the spring is good, nothing is left to do."""
    verdict = judge_spring(good(), LIMITS, NOTHING, loads(), "cylinder 1 intake")

    assert verdict.outcome is ACCEPT
    assert set(outcomes(verdict).values()) == {ACCEPT}
    assert (verdict.due, verdict.actions) == ((), ())
    assert (verdict.place, verdict.kind) == ("cylinder 1 intake", "intake")


@pytest.mark.parametrize("findings", [UNSEEN, NOTHING], ids=["unseen", "seen"])
def test_no_photo_alone_says_good(findings: Findings) -> None:
    """Without tester readings the loads stay due, however good the picture."""
    verdict = judge_spring(good(), LIMITS, findings)

    assert verdict.outcome is DUE
    assert "load at closed height" in verdict.due
    assert "load at open height" in verdict.due
    assert any("read the force at 38.90 mm" in action for action in verdict.actions)


def test_looking_is_due_until_somebody_looked() -> None:
    """All measured and loaded, but not looked over: still due."""
    verdict = judge_spring(good(), LIMITS, UNSEEN, loads())

    assert verdict.outcome is DUE
    assert verdict.due == ("visual findings",)


def test_load_is_due_even_where_the_specification_asks_none() -> None:
    """A specification without loads never ends in accept."""
    verdict = judge_spring(good(), HEIGHT_ONLY, NOTHING)

    assert verdict.outcome is DUE
    assert line(verdict, Requirement.FREE_HEIGHT).outcome is ACCEPT
    assert "no specification asks" in line(verdict, Requirement.CLOSED_LOAD).why


def test_short_spring_is_rejected_with_its_figures() -> None:
    """46.52 mm against 47.10 mm: rejected, the figures and the shortfall are said."""
    short = measured(height=unsure(46.52, 0.07), square=unsure(0.4, 0.1))

    verdict = judge_spring(short, LIMITS, UNSEEN)

    assert verdict.outcome is REJECT
    assert line(verdict, Requirement.FREE_HEIGHT).why == (
        "46.52 ± 0.07 mm (1.8315 ± 0.0028 in) by photo; "
        "asked at least 47.10 mm (1.8543 in): missed by 0.58 mm (0.0228 in)"
    )
    assert verdict.actions == ("replace it",)


def test_spring_near_the_limit_is_checked_by_hand() -> None:
    """Within U of the limit the caliper is asked for, with the probability said."""
    near = measured(height=unsure(47.12, 0.08), square=unsure(0.4, 0.1))

    verdict = judge_spring(near, LIMITS, NOTHING, loads())

    height = line(verdict, Requirement.FREE_HEIGHT)
    assert verdict.outcome is CHECK
    assert "within U of the limit; kept with a probability of 69 %" in height.why
    assert height.action == "measure it with a caliper or a height gauge"
    assert verdict.due == ("free height L0 (check by hand)",)


def test_accepted_by_the_wear_limit_says_so() -> None:
    """Above the wear limit and below a new spring's range: accepted, and said."""
    worn = replace(LIMITS, free_height=Limit(unit="mm", minimum=47.1, new_minimum=48.5))

    verdict = judge_spring(good(), worn, NOTHING, loads())

    assert verdict.outcome is ACCEPT
    assert line(verdict, Requirement.FREE_HEIGHT).why.endswith(
        "a new one has at least 48.50 mm (1.9094 in)"
    )


def test_caliper_decides_where_the_photo_cannot() -> None:
    """The photo is too close, the caliper is not: its value is used and named."""
    near = measured(height=unsure(47.15, 0.07))

    verdict = judge_spring(near, HEIGHT_ONLY, NOTHING, (by_hand(CALIPER, 47.22, 0.1),))

    height = line(verdict, Requirement.FREE_HEIGHT)
    assert height.outcome is ACCEPT
    assert height.value.value == 47.22
    assert "by caliper, entered by hand" in height.why


def test_surer_caliper_decides_over_the_photo() -> None:
    """A caliper surer than the photo and too close stays a check by hand."""
    blurred = measured(height=unsure(47.3, 0.15))

    verdict = judge_spring(
        blurred, HEIGHT_ONLY, NOTHING, (by_hand(CALIPER, 47.16, 0.08),)
    )

    height = line(verdict, Requirement.FREE_HEIGHT)
    assert height.outcome is CHECK
    assert height.value.value == 47.16
    assert "measure it finer" in height.action


def test_photo_and_caliper_that_contradict_are_checked_by_hand() -> None:
    """48.02 against 47.40 mm is beyond their joint U: nothing is decided."""
    verdict = judge_spring(
        good(), LIMITS, NOTHING, (*loads(), by_hand(CALIPER, 47.4, 0.1))
    )

    height = line(verdict, Requirement.FREE_HEIGHT)
    assert height.outcome is CHECK
    assert "contradict each other" in height.why
    assert "48.02 ± 0.07 mm" in height.why
    assert "47.40 ± 0.1" in height.why or "47.4 ± 0.1" in height.why
    assert height.action.startswith("measure again")


def test_caliper_alone_serves_a_spring_the_photo_could_not_measure() -> None:
    """A touching spring gets its free height from the caliper, squareness by square."""
    readings = (*loads(), by_hand(CALIPER, 48.0, 0.1), by_hand(SQUARE, 0.5, 0.1))

    verdict = judge_spring(touching(), LIMITS, NOTHING, readings)

    assert verdict.outcome is ACCEPT


def test_unmeasured_spring_says_why_and_what_to_do() -> None:
    """Without readings the touching spring stays due, with its reason."""
    verdict = judge_spring(touching(), LIMITS, NOTHING)

    height = line(verdict, Requirement.FREE_HEIGHT)
    assert (verdict.outcome, height.outcome) == (DUE, DUE)
    assert height.why == "not measured: it touches its neighbour"
    assert "photograph it again" in height.action


def test_one_view_never_accepts_squareness() -> None:
    """One view well inside: turn it a quarter turn and photograph again."""
    verdict = judge_spring(good(views=1), LIMITS, NOTHING, loads())

    square = line(verdict, Requirement.SQUARENESS)
    assert square.outcome is CHECK
    assert square.action == "turn it a quarter turn and photograph again"
    assert "one view sees only part" in square.why
    assert verdict.outcome is CHECK


def test_one_view_may_reject_squareness() -> None:
    """A gap seen in one view can only be larger in truth: rejected."""
    leaning = measured(height=unsure(48.0, 0.1), square=unsure(2.1, 0.2), views=1)

    verdict = judge_spring(leaning, LIMITS, NOTHING, loads())

    assert line(verdict, Requirement.SQUARENESS).outcome is REJECT


def test_hand_square_decides_after_one_view() -> None:
    """One view 0.4 mm, hand square 0.9 mm at its worst: no contradiction, accepted."""
    verdict = judge_spring(
        good(views=1), LIMITS, NOTHING, (*loads(), by_hand(SQUARE, 0.9, 0.1))
    )

    assert line(verdict, Requirement.SQUARENESS).value.value == 0.9
    assert verdict.outcome is ACCEPT


def test_one_view_above_the_hand_square_contradicts() -> None:
    """A view cannot see more than the worst that the hand square found."""
    leaning = measured(square=unsure(1.4, 0.1), views=1)

    verdict = judge_spring(leaning, LIMITS, NOTHING, (by_hand(SQUARE, 0.6, 0.1),))

    square = line(verdict, Requirement.SQUARENESS)
    assert square.outcome is CHECK
    assert "contradict" in square.why


def test_rejecting_view_outweighs_an_undecided_hand_square() -> None:
    """One view proves 1.75 mm, the blunt hand square says 1.6: rejected."""
    leaning = measured(square=unsure(1.75, 0.1), views=1)

    verdict = judge_spring(leaning, LIMITS, NOTHING, (by_hand(SQUARE, 1.6, 0.2),))

    assert line(verdict, Requirement.SQUARENESS).outcome is REJECT


@pytest.mark.parametrize(
    ("lean", "outcome"), [(0.5, ACCEPT), (-0.5, ACCEPT), (1.95, CHECK), (-2.4, REJECT)]
)
def test_limit_in_degrees_is_held_against_the_lean(
    lean: float, outcome: Outcome
) -> None:
    """The specification's 2 deg judges the lean, whatever its sign, not e1 in mm."""
    spring = measured(lean=unsure(lean, 0.2, "deg"), square=unsure(9.0, 0.1))

    verdict = judge_spring(spring, LEAN_ONLY, NOTHING)

    assert line(verdict, Requirement.SQUARENESS).outcome is outcome


def test_hand_gap_becomes_a_lean_between_the_end_coils() -> None:
    """1.536 mm over 48 - 4 mm is 2.00 deg: atan(gap / (L0 - d))."""
    spring = measured(height=unsure(48.0, 0.1), wire_diameter=unsure(4.0, 0.1))

    verdict = judge_spring(spring, LEAN_ONLY, NOTHING, (by_hand(SQUARE, 1.5365, 0.1),))

    square = line(verdict, Requirement.SQUARENESS)
    assert square.value.unit == "deg"
    assert square.value.value == pytest.approx(2.0, abs=0.001)
    # U: 0.1 mm over 44 mm, and little from the reach.
    assert square.value.expanded == pytest.approx(0.130, abs=0.002)


def test_hand_gap_without_a_height_is_no_lean() -> None:
    """Without any free height the gap cannot become an angle: still due."""
    verdict = judge_spring(touching(), LEAN_ONLY, NOTHING, (by_hand(SQUARE, 1.0, 0.1),))

    assert line(verdict, Requirement.SQUARENESS).outcome is DUE


@pytest.mark.parametrize("finding", [each for each in Finding if each.condemns])
def test_condemning_finding_rejects(finding: Finding) -> None:
    """Whatever the figures, a break, crack, heat, pitting, wear or clash rejects."""
    verdict = judge_spring(
        good(), LIMITS, Findings(found=(finding,), note="third coil"), loads()
    )

    assert verdict.outcome is REJECT
    assert line(verdict, Requirement.VISUAL).why == f"{finding.text} found (third coil)"


def test_reject_outweighs_all_else() -> None:
    """Weak at closed height, the rest due or unclear: rejected, one thing to do."""
    verdict = judge_spring(good(views=1), LIMITS, UNSEEN, loads(closed_n=230.0)[:1])

    assert verdict.outcome is REJECT
    assert len(verdict.actions) == 1


def test_without_a_specification_a_spring_stays_due() -> None:
    """No limits, no verdict: still due, and it is said what is needed."""
    verdict = judge_spring(good(), None, NOTHING, loads())

    assert verdict.outcome is DUE
    assert verdict.due == ("limits of free height L0",)
    assert any("--spec" in action for action in verdict.actions)


def test_without_a_specification_the_load_is_due_too() -> None:
    """A photo shows none, whoever asks for it."""
    verdict = judge_spring(good(), None, UNSEEN)

    assert verdict.outcome is DUE
    assert verdict.due == (
        "limits of free height L0",
        "load at closed height",
        "visual findings",
    )


def test_without_a_specification_a_crack_still_rejects() -> None:
    """A cracked spring needs no limits."""
    verdict = judge_spring(good(), None, Findings(found=(Finding.CRACK,)))

    assert verdict.outcome is REJECT


@pytest.mark.parametrize(
    ("requirement", "key", "tool"),
    [
        (Requirement.OUTSIDE_DIAMETER, "outside_diameter", Instrument.CALIPER_OUTSIDE),
        (Requirement.WIRE_DIAMETER, "wire_diameter", Instrument.CALIPER_WIRE),
    ],
)
def test_diameters_are_judged_by_photo_or_caliper(
    requirement: Requirement, key: str, tool: Instrument
) -> None:
    """Too close by photo, then decided by caliper."""
    asked = Requirements(kind="", **{key: Limit(unit="mm", minimum=4.0, maximum=4.3)})
    spring = measured(**{key: unsure(4.25, 0.1)})

    alone = judge_spring(spring, asked, NOTHING)
    helped = judge_spring(spring, asked, NOTHING, (by_hand(tool, 4.2, 0.03),))

    assert line(alone, requirement).outcome is CHECK
    assert line(helped, requirement).outcome is ACCEPT


def test_nominal_alone_is_checked_by_hand() -> None:
    """A free height without limits cannot be accepted."""
    asked = Requirements(kind="", free_height=Limit(unit="mm", nominal=48.0))

    verdict = judge_spring(good(), asked, NOTHING)

    height = line(verdict, Requirement.FREE_HEIGHT)
    assert height.outcome is CHECK
    assert "gives no limits" in height.why


def test_customary_uncertainty_is_said() -> None:
    """A reading without its own U says that a customary one stands in."""
    reading = by_hand(CALIPER, 48.0, 0.1, assumed=True)

    verdict = judge_spring(touching(), HEIGHT_ONLY, NOTHING, (reading,))

    assert "customary uncertainty" in line(verdict, Requirement.FREE_HEIGHT).why


def test_last_reading_of_an_instrument_counts() -> None:
    """A second look with the caliper replaces the first in the verdict."""
    readings = (by_hand(CALIPER, 45.0, 0.1), by_hand(CALIPER, 48.0, 0.1))

    verdict = judge_spring(touching(), HEIGHT_ONLY, NOTHING, readings)

    assert line(verdict, Requirement.FREE_HEIGHT).outcome is ACCEPT


def test_what_to_do_is_said_once() -> None:
    """'replace it' stands within 'replace it; not to be cured by shims: ...'."""
    weak = loads(200.0, 500.0)

    verdict = judge_spring(good(), LIMITS, NOTHING, weak)

    (action,) = verdict.actions
    assert action.startswith("replace it; not to be cured by shims")
