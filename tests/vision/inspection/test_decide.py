"""The decision rule and the conformance probability against published numbers."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.vision.inspection.figures import sure, unsure
from vision.inspection.reasons import conformance_probability
from vision.inspection.verdict import decide
from vision.records.judged import Limit, Outcome

BOTH = Limit(unit="mm", minimum=47.6, maximum=48.4)
ACCEPT, REJECT, CHECK = Outcome.ACCEPT, Outcome.REJECT, Outcome.CHECK_BY_HAND


@pytest.mark.parametrize(
    ("value", "outcome"),
    [
        (47.45, REJECT),
        (47.55, CHECK),
        (47.65, CHECK),
        (47.75, ACCEPT),
        (48.0, ACCEPT),
        (48.25, ACCEPT),
        (48.35, CHECK),
        (48.45, CHECK),
        (48.55, REJECT),
    ],
)
def test_accepts_inside_by_u_and_rejects_outside_by_u(
    value: float, outcome: Outcome
) -> None:
    """ISO 14253-1: LSL + U to USL - U conforms, beyond LSL - U, USL + U does not."""
    assert decide(unsure(value, 0.1), BOTH) is outcome


@pytest.mark.parametrize(
    ("limit", "value", "outcome"),
    [
        (Limit(unit="mm", minimum=47.0), 60.0, ACCEPT),
        (Limit(unit="mm", minimum=47.0), 47.05, CHECK),
        (Limit(unit="mm", minimum=47.0), 46.8, REJECT),
        (Limit(unit="mm", maximum=1.5), 0.0, ACCEPT),
        (Limit(unit="mm", maximum=1.5), 1.45, CHECK),
        (Limit(unit="mm", maximum=1.5), 1.65, REJECT),
    ],
)
def test_one_sided_limit_binds_on_its_side_only(
    limit: Limit, value: float, outcome: Outcome
) -> None:
    """ISO 14253-1: with one limit only the active side counts."""
    assert decide(unsure(value, 0.1), limit) is outcome


def test_exactly_at_the_guarded_limit_conforms() -> None:
    """47.5 mm with U 0.25 mm against 47.25 mm: y = LSL + U is proven (exact binary)."""
    limit = Limit(unit="mm", minimum=47.25)

    assert decide(unsure(47.5, 0.25), limit) is ACCEPT
    assert decide(unsure(47.0, 0.25), limit) is CHECK


def test_acceptance_limit_of_the_ball_bearings() -> None:
    """JCGM 106:2012, 9.5.4: guard band 0.32817 um below 2 um accepts to 1.671829 um."""
    limit = Limit(unit="mm", maximum=2.0)

    assert decide(unsure(1.67182, 0.328171), limit) is ACCEPT
    assert decide(unsure(1.67184, 0.328171), limit) is CHECK


def test_without_limits_nothing_is_accepted() -> None:
    """A nominal value alone decides nothing."""
    assert decide(unsure(48.0, 0.1), Limit(unit="mm", nominal=48.0)) is CHECK


def test_a_value_that_is_no_number_is_never_accepted() -> None:
    """Not a number is neither proven to keep the limits nor to miss them."""
    assert decide(unsure(float("nan"), 0.1), BOTH) is CHECK
    assert decide(unsure(48.0, float("nan")), BOTH) is CHECK


def test_units_must_agree() -> None:
    """A lean is not held against millimetres."""
    with pytest.raises(ValueError, match="a value in deg against a limit in mm"):
        decide(unsure(1.0, 0.1, "deg"), BOTH)


values = st.floats(min_value=0.0, max_value=100.0)
uncertainties = st.floats(min_value=0.0, max_value=50.0)


@given(value=values, expanded=uncertainties, low=values, width=values)
def test_a_value_beyond_a_limit_never_conforms(
    value: float, expanded: float, low: float, width: float
) -> None:
    """Whatever U is: outside is never accepted, inside never rejected."""
    limit = Limit(unit="mm", minimum=low, maximum=low + width)

    outcome = decide(unsure(value, expanded), limit)

    inside = low <= value <= low + width
    assert outcome is not (REJECT if inside else ACCEPT)


@given(value=values, expanded=uncertainties, more=uncertainties, low=values)
def test_more_uncertainty_never_decides_more(
    value: float, expanded: float, more: float, low: float
) -> None:
    """With a larger U a decision stays or becomes a check by hand."""
    limit = Limit(unit="mm", minimum=low)

    sharp = decide(unsure(value, expanded), limit)
    blunt = decide(unsure(value, expanded + more), limit)

    assert blunt in {sharp, CHECK}


@pytest.mark.parametrize(
    ("value", "u", "limit", "printed", "digits"),
    [
        (-5.47, 0.05, Limit(unit="mm", maximum=-5.40), 0.919, 3),
        (509.7, 8.6, Limit(unit="mm", minimum=490.0), 0.99, 2),
    ],
    ids=["diode", "container"],
)
def test_conformance_probability_of_jcgm_106(
    value: float, u: float, limit: Limit, printed: float, digits: int
) -> None:
    """JCGM 106:2012, 7 (examples from memory): diode 0.919, container 0.99."""
    found = conformance_probability(unsure(value, 2.0 * u), limit)

    assert round(found, digits) == printed


@pytest.mark.parametrize(
    ("probability", "z"),
    [(0.80, 0.84), (0.90, 1.28), (0.95, 1.64), (0.99, 2.33), (0.999, 3.09)],
)
def test_conformance_probability_by_distance(probability: float, z: float) -> None:
    """JCGM 106:2012, table of z for one limit (from memory, printed to 0.01)."""
    limit = Limit(unit="mm", maximum=10.0)

    below = conformance_probability(unsure(10.0 - (z - 0.006), 2.0), limit)
    above = conformance_probability(unsure(10.0 - (z + 0.006), 2.0), limit)

    assert below < probability < above


def test_accepted_at_the_guarded_limit_conforms_with_97_7_per_cent() -> None:
    """JCGM 106:2012: guard band U = 2 u gives at least 97.7 % with one limit."""
    found = conformance_probability(unsure(47.3, 0.2), Limit(unit="mm", minimum=47.1))

    assert round(100.0 * found, 1) == 97.7


def test_conformance_probability_without_uncertainty_is_sure() -> None:
    """A value without uncertainty keeps its limits or does not."""
    assert conformance_probability(sure(48.0, "mm"), BOTH) == 1.0
    assert conformance_probability(sure(48.5, "mm"), BOTH) == 0.0


def test_conformance_probability_between_two_limits() -> None:
    """Limits one u to either side of the value: 68.3 % (normal distribution)."""
    found = conformance_probability(unsure(48.0, 0.8), BOTH)

    assert round(100.0 * found, 1) == 68.3
