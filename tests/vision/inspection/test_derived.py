"""What follows from readings and shape, for the eye."""

from dataclasses import replace

import pytest

from tests.vision.inspection.figures import unsure
from tests.vision.inspection.springs import LIMITS, by_hand, good, loads, measured
from vision.inspection.derived import derive
from vision.inspection.evidence import Case
from vision.records.judged import Instrument

STEEL = replace(LIMITS, material="chrome-silicon")
SHAPE = {
    "outside_diameter": unsure(30.2, 0.1),
    "wire_diameter": unsure(4.2, 0.05),
    "total_coils": unsure(7.0, 0.1, "coils"),
}


def test_rate_from_loads_stands_beside_the_rate_from_shape() -> None:
    """Both are told with their origin, so that a wrong spring shows."""
    case = Case(
        measured=measured(height=unsure(48.0, 0.1), **SHAPE),
        requirements=STEEL,
        readings=loads(),
    )

    found = [(each.text, each.origin) for each in derive(case)]

    assert found[0] == ("rate R", "from its own two loads")
    assert found[1] == ("rate R", "from its shape in the photo and the material")
    assert [text for text, _ in found[2:]] == [
        "coil-bind clearance",
        "shear stress in the wire",
        "first surge frequency",
    ]


def test_every_derived_value_has_its_uncertainty() -> None:
    """Nothing computed is without U."""
    solid = by_hand(Instrument.SOLID_HEIGHT, 27.0, 0.15)
    case = Case(
        measured=measured(height=unsure(48.0, 0.1), **SHAPE),
        requirements=STEEL,
        readings=(*loads(), solid),
    )

    assert all(each.value.expanded > 0.0 for each in derive(case))


def test_tapered_springs_get_no_stress_of_a_straight_one() -> None:
    """Ends of 30.2 and 24.0 mm: formulas of a cylinder do not hold."""
    ends = {
        "bottom_diameter": unsure(30.2, 0.1),
        "top_diameter": unsure(24.0, 0.1),
    }
    case = Case(
        measured=measured(height=unsure(48.0, 0.1), **SHAPE, **ends),
        requirements=STEEL,
        readings=loads(),
    )

    assert "shear stress in the wire" not in [each.text for each in derive(case)]


def test_nothing_known_gives_nothing() -> None:
    """No readings, no material: the maker's rate alone is told."""
    found = list(derive(Case(measured=good(), requirements=LIMITS, readings=())))

    assert [each.origin for each in found] == ["from the specification's two loads"]
    assert found[0].value.value == pytest.approx(304.0 / 8.8)
