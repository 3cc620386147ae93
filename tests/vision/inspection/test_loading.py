"""Load and coil-bind lines: forces brought to the asked height, shims, clearance."""

from dataclasses import replace

import pytest

from calib.quantity import Quantity
from tests.vision.inspection.figures import unsure
from tests.vision.inspection.springs import (
    LIMITS,
    NOTHING,
    by_hand,
    good,
    loads,
    measured,
    touching,
)
from vision.inspection.evidence import Case
from vision.inspection.rates import find_rate
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
from vision.records.measured import SpringMeasurement

ACCEPT, REJECT = Outcome.ACCEPT, Outcome.REJECT
CHECK, DUE = Outcome.CHECK_BY_HAND, Outcome.STILL_DUE
CLOSED, OPEN = Instrument.CLOSED_FORCE, Instrument.OPEN_FORCE
ONLY_CLOSED = Requirements(
    kind="",
    closed=Load(height_mm=38.9, force=Limit(unit="N", minimum=258.0, nominal=296.0)),
)
BIND = replace(LIMITS, coil_bind_clearance_min_mm=1.5, solid_height_mm=27.0)


def judged(
    asked: Requirements,
    requirement: Requirement,
    *readings: Reading,
    spring: SpringMeasurement | None = None,
) -> Decision:
    """Judge a spring and return one requirement's line."""
    verdict = judge_spring(spring or good(), asked, NOTHING, readings)
    return next(each for each in verdict.decisions if each.requirement is requirement)


def rate_of(
    asked: Requirements, *readings: Reading, spring: SpringMeasurement | None = None
) -> tuple[Quantity, str]:
    """Find the rate and where it comes from."""
    case = Case(measured=spring or good(), requirements=asked, readings=readings)
    rate = find_rate(case)
    return rate.value, rate.origin


def test_force_read_at_another_height_is_brought_to_the_asked_one() -> None:
    """Read 0.5 mm too tall: the spring's own rate, 33.75 N/mm, adds 16.9 N."""
    line = judged(
        LIMITS,
        Requirement.CLOSED_LOAD,
        by_hand(CLOSED, 250.0, 4.0, 39.4),
        by_hand(OPEN, 570.0, 8.0, 29.9),
    )

    rate = 320.0 / 9.5
    assert line.value.value == pytest.approx(250.0 + 0.5 * rate)
    assert line.outcome is ACCEPT
    assert "brought from 39.40 mm" in line.why
    assert "from its own two loads" in line.why


def test_uncertainty_of_the_height_set_is_carried() -> None:
    """U joins 4 N of the tester and 0.1 mm of setting at 34 N/mm."""
    line = judged(LIMITS, Requirement.CLOSED_LOAD, *loads())

    rate = (588.0 - 291.0) / 8.8
    assert line.value.value == 291.0
    assert line.value.expanded == pytest.approx((4.0**2 + (0.1 * rate) ** 2) ** 0.5)
    assert "brought" not in line.why


def test_force_read_far_off_stays_due() -> None:
    """3 mm off the asked height no single rate serves: read it again."""
    line = judged(LIMITS, Requirement.CLOSED_LOAD, by_hand(CLOSED, 200.0, 4.0, 41.9))

    assert line.outcome is DUE
    assert "more than 2 mm off" in line.why
    assert line.action == "read the force at 38.90 mm (1.5315 in) on the tester"


def test_weak_spring_is_replaced_and_the_shim_is_told_with_its_cost() -> None:
    """240 N against 258 N: rejected; 56 N short is 1.66 mm of shim, too much."""
    line = judged(LIMITS, Requirement.CLOSED_LOAD, *loads(240.0, 540.0))

    assert line.outcome is REJECT
    assert line.action.startswith("replace it; not to be cured by shims: a shim of 1.6")
    assert "not a cure for a tired spring" in line.action
    assert "common practice is 1.50 mm" in line.action


def test_shim_within_practice_is_offered_with_the_clearance_left() -> None:
    """250 N with room before coil bind: a shim of 1.3 mm would serve, and is told."""
    solid = by_hand(Instrument.SOLID_HEIGHT, 25.0, 0.05)

    line = judged(BIND, Requirement.CLOSED_LOAD, *loads(250.0, 560.0), solid)

    assert line.outcome is REJECT
    assert line.action.startswith("replace it; where it must serve: a shim of 1.3")
    assert "it leaves 3.79 ± 0.15 mm" in line.action


def test_shim_with_no_solid_height_known_is_left_open() -> None:
    """The specified solid height proves no room: a shim might serve, measure first."""
    line = judged(BIND, Requirement.CLOSED_LOAD, *loads(250.0, 560.0))

    assert line.action.startswith("replace it; a shim might serve: a shim of 1.3")
    assert "measure that first" in line.action


def test_too_strong_spring_gets_no_shim() -> None:
    """Above the maximum a shim makes it worse."""
    capped = replace(
        ONLY_CLOSED, closed=Load(height_mm=38.9, force=Limit(unit="N", maximum=300.0))
    )

    line = judged(capped, Requirement.CLOSED_LOAD, by_hand(CLOSED, 340.0, 4.0, 38.9))

    assert (line.outcome, line.action) == (REJECT, "replace it")


def test_force_near_the_limit_is_read_again() -> None:
    """260 N with U 5 N against 258 N: a finer reading is asked for."""
    line = judged(LIMITS, Requirement.CLOSED_LOAD, *loads(260.0, 588.0))

    assert line.outcome is CHECK
    assert "measure it finer" in line.action


def test_rate_from_the_specification_when_one_load_was_read() -> None:
    """The maker's rate with U 10 %, before any guess from shape."""
    asked = replace(ONLY_CLOSED, rate=Limit(unit="N/mm", nominal=34.0))

    rate, origin = rate_of(asked, by_hand(CLOSED, 291.0, 4.0, 38.9))

    assert (rate.value, origin) == (34.0, "the specification")
    assert rate.expanded == pytest.approx(3.4)


def test_rate_from_the_specified_loads() -> None:
    """(600 - 296) / 8.8 N/mm from the two nominal loads."""
    rate, origin = rate_of(LIMITS, by_hand(CLOSED, 291.0, 4.0, 38.9))

    assert rate.value == pytest.approx(304.0 / 8.8)
    assert origin == "the specification's two loads"


def test_rate_from_shape_and_material() -> None:
    """G d^4 / (8 D^3 n) with the photo's d, De, nt and chrome-silicon wire."""
    spring = measured(
        height=unsure(48.0, 0.1),
        wire_diameter=unsure(4.2, 0.04),
        outside_diameter=unsure(31.0, 0.1),
        total_coils=unsure(6.5, 0.1, "coils"),
    )
    asked = replace(ONLY_CLOSED, material="chrome-silicon")

    rate, origin = rate_of(asked, spring=spring)

    assert rate.value == pytest.approx(78_350.0 * 4.2**4 / (8.0 * 26.8**3 * 4.5))
    assert origin == "its shape in the photo"


def test_rate_from_the_modulus_that_the_file_gives() -> None:
    """The file's own G goes before the material's."""
    spring = measured(
        wire_diameter=unsure(4.0, 0.04),
        outside_diameter=unsure(28.0, 0.1),
        total_coils=unsure(9.0, 0.1, "coils"),
    )
    asked = replace(ONLY_CLOSED, material="stainless", shear_modulus_mpa=81_370.0)

    rate, _ = rate_of(asked, spring=spring)

    assert rate.value == pytest.approx(26.908, abs=0.001)  # Bhandari, example 10.4


def test_rough_rate_when_nothing_else_is_known() -> None:
    """291 N over 48.02 - 38.9 mm, with U 20 %."""
    rate, origin = rate_of(ONLY_CLOSED, by_hand(CLOSED, 291.0, 4.0, 38.9))

    assert rate.value == pytest.approx(291.0 / 9.12)
    assert rate.expanded == pytest.approx(0.2 * rate.value)
    assert "roughly" in origin


def test_no_rate_at_all_leaves_the_load_due() -> None:
    """No second load, no maker's rate, no shape, no free height: still due."""
    verdict = judge_spring(
        touching(), ONLY_CLOSED, NOTHING, (by_hand(CLOSED, 291.0, 4.0, 38.4),)
    )

    line = verdict.decisions[0]
    assert line.outcome is DUE
    assert "no rate brings it" in line.why


def test_specified_heights_are_no_evidence_of_this_spring() -> None:
    """30.1 mm open less 27.0 mm solid would keep 1.5 mm; nobody measured this one."""
    line = judged(BIND, Requirement.COIL_BIND)

    assert line.outcome is DUE
    assert line.value is None
    assert "would leave 3.10 mm (0.1220 in), but this spring's own" in line.why
    assert line.action == "measure the solid height by hand"


def test_coil_bind_by_the_solid_height_read_by_hand() -> None:
    """30.1 mm open less 27.2 mm solid, with the reading's own U."""
    line = judged(
        BIND, Requirement.COIL_BIND, by_hand(Instrument.SOLID_HEIGHT, 27.2, 0.15)
    )

    assert line.outcome is ACCEPT
    assert (line.value.value, line.value.expanded) == pytest.approx((2.9, 0.15))
    assert "from the specified open height less the solid height entered" in line.why


def test_wire_by_caliper_makes_the_shape_surer() -> None:
    """6.5 coils of 4.02 mm by caliper, U 0.02, before 4.0 mm in the photo, U 0.14."""
    spring = measured(
        wire_diameter=unsure(4.0, 0.14), total_coils=unsure(6.5, 0.05, "coils")
    )

    line = judged(
        BIND,
        Requirement.COIL_BIND,
        by_hand(Instrument.CALIPER_WIRE, 4.02, 0.02),
        spring=spring,
    )

    assert line.value.value == pytest.approx(30.1 - 6.5 * 4.02)
    expanded = ((6.5 * 0.02) ** 2 + (4.02 * 0.05) ** 2) ** 0.5
    assert line.value.expanded == pytest.approx(expanded)
    assert "coils in the photo and wire by caliper" in line.why


def test_rough_shape_leaves_coil_bind_to_be_checked() -> None:
    """7.0 coils, U 0.4, of 4.1 mm leave 1.4 mm with U 1.8: measure it solid."""
    spring = measured(
        wire_diameter=unsure(4.1, 0.14), total_coils=unsure(7.0, 0.4, "coils")
    )

    line = judged(BIND, Requirement.COIL_BIND, spring=spring)

    assert line.outcome is CHECK
    assert line.action == "measure the solid height by hand"


def test_coil_bind_by_hand_and_in_this_head() -> None:
    """Installed 38.2 mm less 8.8 mm lift less 28.3 mm solid: 1.1 mm, rejected."""
    line = judged(
        BIND,
        Requirement.COIL_BIND,
        by_hand(Instrument.INSTALLED_HEIGHT, 38.2, 0.15),
        by_hand(Instrument.SOLID_HEIGHT, 28.3, 0.15),
    )

    assert line.value.value == pytest.approx(1.1)
    assert line.outcome is REJECT
    assert "check installed height" in line.action


def test_thicker_spring_than_specified_is_checked_by_hand() -> None:
    """7.2 coils of 4.2 mm are 30.2 mm, more than the specified 27.0 mm solid."""
    spring = measured(
        wire_diameter=unsure(4.2, 0.05), total_coils=unsure(7.2, 0.1, "coils")
    )

    line = judged(BIND, Requirement.COIL_BIND, spring=spring)

    assert line.outcome is CHECK
    assert "coils times wire are 30.2" in line.why
    assert "measure the solid height" in line.action


def test_solid_height_by_shape_when_nobody_gives_it() -> None:
    """6.5 coils of 4.0 mm leave 30.1 - 26.0 mm."""
    asked = replace(LIMITS, coil_bind_clearance_min_mm=1.5)
    spring = measured(
        wire_diameter=unsure(4.0, 0.04), total_coils=unsure(6.5, 0.1, "coils")
    )

    line = judged(asked, Requirement.COIL_BIND, spring=spring)

    assert line.value.value == pytest.approx(4.1)
    assert line.outcome is ACCEPT


def test_coil_bind_without_a_solid_height_stays_due() -> None:
    """Neither read, nor given, nor measurable: measure it."""
    line = judged(
        replace(LIMITS, coil_bind_clearance_min_mm=1.5), Requirement.COIL_BIND
    )

    assert (line.outcome, line.why) == (DUE, "no solid height")
    assert line.action == "measure the solid height by hand"


def test_coil_bind_without_an_open_height_stays_due() -> None:
    """A solid height alone leaves the clearance open."""
    asked = replace(ONLY_CLOSED, solid_height_mm=27.0, coil_bind_clearance_min_mm=1.5)

    line = judged(asked, Requirement.COIL_BIND)

    assert line.outcome is DUE
    assert "give the lift" in line.action


def test_coil_bind_by_closed_height_and_lift() -> None:
    """38.9 mm closed less 9.0 mm lift less 27.0 mm solid."""
    asked = replace(ONLY_CLOSED, coil_bind_clearance_min_mm=1.5, lift_mm=9.0)
    solid = by_hand(Instrument.SOLID_HEIGHT, 27.0, 0.15)

    line = judged(asked, Requirement.COIL_BIND, solid)

    assert line.value.value == pytest.approx(2.9)


def test_solid_height_without_a_clearance_asked_is_checked_by_hand() -> None:
    """No clearance_min: the clearance is said, nothing is accepted."""
    solid = by_hand(Instrument.SOLID_HEIGHT, 27.0, 0.15)

    line = judged(replace(LIMITS, solid_height_mm=27.0), Requirement.COIL_BIND, solid)

    assert line.outcome is CHECK
    assert line.action.startswith("find the limits in the manual")
    assert line.value.value == pytest.approx(3.1)


def test_tall_installed_height_names_the_shim() -> None:
    """39.6 mm in the head against 38.9 mm: 0.7 mm of shim, with the clearance left."""
    verdict = judge_spring(
        good(),
        BIND,
        NOTHING,
        (
            *loads(),
            by_hand(Instrument.SOLID_HEIGHT, 27.0, 0.15),
            by_hand(Instrument.INSTALLED_HEIGHT, 39.6, 0.15),
        ),
    )

    (advice,) = verdict.actions
    assert advice.startswith("installed height 39.60 ± 0.15 mm")
    assert "a shim of 0.70 ± 0.15 mm" in advice
    assert "it leaves 3.10" in advice


def test_right_installed_height_needs_no_shim() -> None:
    """38.9 mm in the head: nothing is advised."""
    verdict = judge_spring(
        good(),
        BIND,
        NOTHING,
        (
            *loads(),
            by_hand(Instrument.SOLID_HEIGHT, 27.0, 0.15),
            by_hand(Instrument.INSTALLED_HEIGHT, 38.9, 0.15),
        ),
    )

    assert verdict.actions == ()
