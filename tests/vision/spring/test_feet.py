"""What feet on one plate say of the camera, from feet of known place."""

from dataclasses import replace

import numpy as np
import pytest

from calib.records import Calibration, Floats
from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import make_outline
from tests.vision.spring.places import Place, make_camera
from tests.vision.spring.staging import (
    calibrate_points,
    nominal_staging,
    target_points,
)
from vision.spring.feet import learn_from_feet
from vision.spring.foot import (
    ACROSS,
    BACKLIT,
    RIM,
    U_RIM,
    U_RIM_PART,
    Foot,
    find_foot,
)
from vision.spring.moving import Belief, nothing_known
from vision.spring.sayings import BACKLIT_SHADOW_PX, SHADOW_PX, doubts_px
from vision.spring.solid import look

PLACE = Place(position_mm=(0.0, -800.0, 90.0), pitch_deg=3.0)
ROW_MM = (-130.0, -90.0, -50.0, 90.0, 130.0)
PX_PER_MM = 7.0  # at the row
SHADE_WIRES = (0.1, 0.16, 0.06, 0.14, 0.04)  # below the feet, in wire diameters
GAPS_PX = (0.0, -1.4, 0.0, -0.7, 0.0)  # two of five show their end's gap


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return calibrate_points(
        target_points(nominal_staging(PLACE), None), make_camera(PLACE)
    )


@pytest.fixture(scope="module")
def feet(calibration: Calibration) -> list[Foot]:
    """Feet as a sound picture shows them."""
    camera = make_camera(PLACE)
    found = [
        find_foot(calibration, look(make_outline(Helix(foot_x_mm=x), PLACE), camera))
        for x in ROW_MM
    ]
    return [each for each in found if each is not None]


def lifted(feet: list[Foot], by_px: tuple[float, ...]) -> list[Foot]:
    return [
        replace(foot, lower_px=foot.lower_px + each)
        for foot, each in zip(feet, by_px, strict=True)
    ]


def u_of(belief: Belief) -> Floats:
    return np.asarray(np.sqrt(np.diag(belief.covariance)))


def test_no_feet_say_nothing(calibration: Calibration) -> None:
    """On a plate as dark as the springs no foot has an edge."""
    belief = learn_from_feet(calibration, nothing_known(calibration), [])

    assert not belief.mean.any()
    assert u_of(belief) == pytest.approx(1.0)


def test_one_foot_alone_says_nothing(
    calibration: Calibration, feet: list[Foot]
) -> None:
    """A single foot could stand on a chip: it takes others to tell."""
    belief = learn_from_feet(
        calibration, nothing_known(calibration), lifted(feet[:1], (2.0,))
    )

    assert not belief.mean.any()
    assert u_of(belief) == pytest.approx(1.0)


def test_feet_where_they_are_expected_keep_the_camera(
    calibration: Calibration, feet: list[Foot]
) -> None:
    """They move nothing by half a u, and make the camera surer."""
    belief = learn_from_feet(calibration, nothing_known(calibration), feet)

    assert np.abs(belief.mean).max() < 0.5
    assert u_of(belief).min() < 0.7


def test_gaps_that_face_the_lens_do_not_lift_the_plate(
    calibration: Calibration, feet: list[Foot]
) -> None:
    """At a gap the wire lies higher (common practice): other feet tell the plate."""
    sound = learn_from_feet(calibration, nothing_known(calibration), feet)

    with_gaps = learn_from_feet(
        calibration, nothing_known(calibration), lifted(feet, GAPS_PX)
    )

    assert with_gaps.mean == pytest.approx(sound.mean, abs=0.35)


def test_another_edge_taken_for_a_foot_turns_nothing(
    calibration: Calibration, feet: list[Foot]
) -> None:
    """On dark granite one foot in a hundred was read some 7 px off."""
    sound = learn_from_feet(calibration, nothing_known(calibration), feet)

    with_another = learn_from_feet(
        calibration, nothing_known(calibration), lifted(feet, (-7.0, 0, 0, 0, 0))
    )

    assert with_another.mean == pytest.approx(sound.mean, abs=0.35)


def test_a_level_that_all_feet_share_is_believed(
    calibration: Calibration, feet: list[Foot]
) -> None:
    """Five feet a pixel lower are no gaps: the plate was lower than believed."""
    belief = learn_from_feet(
        calibration, nothing_known(calibration), lifted(feet, (1.0,) * 5)
    )

    assert np.linalg.norm(belief.mean) > 0.8


def test_an_even_edge_is_a_foot_that_stands(
    calibration: Calibration, feet: list[Foot]
) -> None:
    """Gaps and shadows make an edge uneven; such feet leave more open."""
    even = [replace(each, fuller_px=0.0) for each in lifted(feet, (SHADOW_PX,) * 5)]
    uneven = [replace(each, fuller_px=None) for each in even]

    sure, unsure = (
        np.trace(
            learn_from_feet(calibration, nothing_known(calibration), each).covariance
        )
        for each in (even, uneven)
    )

    assert sure < unsure


def test_a_hard_shadow_along_the_row_is_no_plate(
    calibration: Calibration, feet: list[Foot]
) -> None:
    """Its uneven edge a tenth of a wire below is believed less than feet there."""
    ragged = np.array(SHADE_WIRES) * 2 * feet[0].wire_mm * PX_PER_MM
    shaded = lifted(feet, tuple(ragged))
    as_low = lifted(feet, (float(ragged.mean()),) * 5)
    standing = [replace(each, fuller_px=0.0) for each in as_low]

    moved_by_shadow, moved_by_feet = (
        np.linalg.norm(
            learn_from_feet(calibration, nothing_known(calibration), each).mean
        )
        for each in (shaded, standing)
    )

    assert moved_by_shadow < 0.5 * moved_by_feet


def test_edges_that_no_pose_explains_change_nothing(
    calibration: Calibration, feet: list[Foot]
) -> None:
    """Feet on one plate cannot lie 12 to 20 px up and down in turn."""
    belief = learn_from_feet(
        calibration,
        nothing_known(calibration),
        lifted(feet, (20.0, -15.0, 12.0, -20.0, 16.0)),
    )

    assert np.abs(belief.mean).max() < 0.1
    assert u_of(belief) == pytest.approx(1.0, abs=0.1)


def test_feet_are_held_against_what_is_believed_before(
    calibration: Calibration, feet: list[Foot]
) -> None:
    """What is already known for certain is not moved by them."""
    known = replace(
        nothing_known(calibration), covariance=1e-6 * np.eye(len(calibration.variants))
    )

    belief = learn_from_feet(calibration, known, lifted(feet, (1.0,) * 5))

    assert np.abs(belief.mean).max() < 1e-2


def test_a_rim_lies_behind_the_wires_widest_place() -> None:
    """A round wire of radius 1 cut at h from its middle is sqrt(1 - h^2) wide there.

    Geometry of the circle; cuts from a quarter above the middle to the lower side (a
    ground end's usual thickness, common practice) are spread evenly.
    """
    cuts = np.linspace(-0.5, 1.0, 100_001)
    behind = 1 - np.sqrt(1 - cuts**2)

    assert behind.mean() == pytest.approx(RIM, abs=0.005)
    assert behind.std() == pytest.approx(U_RIM, abs=0.005)


def test_a_foots_near_part_averages_its_rim() -> None:
    """Its part is a run of the flat's three quarters of a turn, anywhere in it.

    Moving averages over that run scatter less than single places.
    """
    cuts = np.linspace(-0.5, 1.0, 100_001)
    run = round(2 * np.arcsin(ACROSS) / (0.75 * 2 * np.pi) * len(cuts))
    sums = np.cumsum(1 - np.sqrt(1 - cuts**2))

    assert np.std((sums[run:] - sums[:-run]) / run) == pytest.approx(
        U_RIM_PART, abs=0.005
    )


def test_light_from_behind_puts_every_foot_lower(
    calibration: Calibration, feet: list[Foot]
) -> None:
    """The springs' shadows fall towards the lens: the feet's edges are no plate's."""
    front, behind = (
        [replace(each, plate=plate, backdrop=1.0) for each in feet]
        for plate in (BACKLIT + 1e-6, BACKLIT - 1e-6)
    )

    belief = learn_from_feet(
        calibration,
        nothing_known(calibration),
        lifted(behind, (BACKLIT_SHADOW_PX - SHADOW_PX,) * 5),
    )

    expected = learn_from_feet(calibration, nothing_known(calibration), front).mean
    assert belief.mean == pytest.approx(expected, abs=1e-5)


def test_feet_in_a_dark_contact_shadow_count_less(
    calibration: Calibration, feet: list[Foot]
) -> None:
    """The darker the plate beside the backdrop, the more they leave open."""
    left_open = [
        np.trace(
            learn_from_feet(calibration, nothing_known(calibration), dim).covariance
        )
        for dim in (
            [replace(each, plate=share, backdrop=1.0) for each in feet]
            for share in (0.3, 0.1, 0.05)
        )
    ]

    assert left_open[0] < left_open[1] < left_open[2]


def test_doubt_at_a_foot_is_that_of_the_calibration(
    calibration: Calibration, feet: list[Foot]
) -> None:
    """Far from the target the plate is less sure (a lever; common practice)."""
    far, near = (doubts_px(calibration, each)[0] for each in (feet[0], feet[2]))

    assert far > near > 0.1
