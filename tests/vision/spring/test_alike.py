"""What springs of one size say of the row's direction, from exact outlines."""

from dataclasses import replace

import numpy as np
import pytest

from calib.records import Calibration
from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import make_outline, some_coils
from tests.vision.spring.places import Place, make_camera
from tests.vision.spring.staging import (
    calibrate_points,
    nominal_staging,
    target_points,
)
from vision.spring.alike import learn_from_sizes
from vision.spring.moving import Belief, moved_calibration, nothing_known
from vision.spring.solid import Seen, look

PLACE = Place(position_mm=(0.0, -600.0, 48.0))
ROW_MM = (-130.0, -90.0, -50.0, 90.0, 130.0, 170.0)
SET_MM = (31.20, 31.29, 31.14, 31.26, 31.17, 31.23)  # a set scatters by 0.2 %
TOPS = slice(-3, None)  # as before a backdrop that ends behind a spring
TURNED_DEG = 3.0  # seen now and then where a target was set by eye (common practice)


def row(
    outside_mm: tuple[float, ...], row_mm: tuple[float, ...] = ROW_MM
) -> tuple[Seen, ...]:
    camera = make_camera(PLACE)
    return tuple(
        look(
            make_outline(
                Helix(foot_x_mm=x, outside_mm=size, top_outside_mm=size), PLACE
            ),
            camera,
        )
        for x, size in zip(row_mm, outside_mm, strict=True)
    )


def calibrated(turned_deg: float) -> Calibration:
    staging = replace(nominal_staging(PLACE), turned_rad=np.radians(turned_deg))
    return calibrate_points(target_points(staging, None), make_camera(PLACE))


def heading_deg(calibration: Calibration) -> float:
    """The camera's heading against the row: straight at it in truth."""
    ahead = calibration.camera.rotation[2]
    return float(np.degrees(np.arctan2(ahead[0], ahead[1])))


def u_heading_deg(calibration: Calibration) -> float:
    base = heading_deg(calibration)
    others = (replace(calibration, camera=v.camera) for v in calibration.variants)
    return float(np.linalg.norm([heading_deg(each) - base for each in others]))


def learned(calibration: Calibration, seen: tuple[Seen, ...]) -> Calibration:
    belief = learn_from_sizes(calibration, nothing_known(calibration), seen)
    return moved_calibration(calibration, belief)


@pytest.mark.parametrize("turned_deg", [-TURNED_DEG, 0.0, TURNED_DEG])
def test_equal_springs_tell_how_the_target_was_turned(turned_deg: float) -> None:
    """The heading comes back, is surer than before, and keeps its U."""
    before = calibrated(turned_deg)

    after = learned(before, row(SET_MM))

    assert abs(heading_deg(before)) == pytest.approx(abs(turned_deg), abs=0.1)
    assert u_heading_deg(after) < 0.4 * u_heading_deg(before)
    assert abs(heading_deg(after)) < min(1.0, 2 * u_heading_deg(after))


def test_tops_of_a_tapered_set_tell_the_row_whatever_their_heights() -> None:
    """Cones of 45 to 49 mm that show three coils a flank are compared from the top."""
    heights = (45.0, 49.0, 46.0, 48.5, 45.5, 47.0)
    cones = (
        Helix(foot_x_mm=x, outside_mm=size, top_outside_mm=size - 6.0, height_mm=high)
        for x, size, high in zip(ROW_MM, SET_MM, heights, strict=True)
    )
    camera = make_camera(PLACE)
    seen = (look(make_outline(each, PLACE), camera) for each in cones)
    tops = tuple(
        replace(
            each, left=some_coils(each.left, TOPS), right=some_coils(each.right, TOPS)
        )
        for each in seen
    )

    before = calibrated(TURNED_DEG)

    after = learned(before, tops)

    assert u_heading_deg(after) < 0.4 * u_heading_deg(before)
    assert abs(heading_deg(after)) < min(1.0, 2 * u_heading_deg(after))


def test_two_kinds_are_held_against_their_own_only() -> None:
    """Outer and inner springs in turn tell as much as those of one kind."""
    kinds = tuple(0.68 * size if k % 2 else size for k, size in enumerate(SET_MM))

    after = learned(calibrated(TURNED_DEG), row(kinds))

    assert abs(heading_deg(after)) < 2 * u_heading_deg(after) < 2.5


def test_one_odd_spring_does_not_turn_the_row() -> None:
    """A spring of another maker at the row's end, 2.5 % larger, is told apart."""
    after = learned(calibrated(0.0), row((*SET_MM[:-1], 32.0)))

    assert abs(heading_deg(after)) < min(1.0, 2 * u_heading_deg(after))


@pytest.mark.parametrize("larger", [0.02, 0.03])
def test_two_makes_side_by_side_do_not_turn_the_row(larger: float) -> None:
    """Three springs of one make, then three slightly larger ones: a step, no turn."""
    sizes = tuple(
        size * (1 + larger) if k > 2 else size for k, size in enumerate(SET_MM)
    )

    after = learned(calibrated(0.0), row(sizes))

    assert abs(heading_deg(after)) < 2 * u_heading_deg(after)


def test_a_row_of_single_kinds_says_nothing() -> None:
    """One inner and one outer spring: neither has its like."""
    before = calibrated(TURNED_DEG)

    belief = learn_from_sizes(
        before, nothing_known(before), row((31.2, 21.2), (-50.0, 90.0))
    )

    assert not belief.mean.any()


def test_no_springs_say_nothing() -> None:
    """There may be none whose flanks could be read."""
    before = calibrated(TURNED_DEG)

    belief = learn_from_sizes(before, nothing_known(before), ())

    assert not belief.mean.any()


def test_what_is_known_already_is_kept() -> None:
    """A row whose direction the feet told is not turned by sizes that disagree."""
    before = calibrated(0.0)
    known = nothing_known(before)
    surely = Belief(mean=known.mean, covariance=known.covariance * 0.01)
    growing = tuple(31.2 * (1 + 0.006 * k) for k in range(6))

    belief = learn_from_sizes(before, surely, row(growing))

    assert abs(heading_deg(moved_calibration(before, belief))) < 0.6
