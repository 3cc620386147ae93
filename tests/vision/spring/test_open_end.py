"""A spring without its closed upper coil is told from a ground one, and its height."""

from dataclasses import replace

import numpy as np
import pytest

from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import make_outline
from tests.vision.spring.places import ABOVE, BELOW, LEVEL, Place, make_camera
from vision.records.measured import Outline
from vision.spring.open_end import with_open_end
from vision.spring.rays import Stance
from vision.spring.solid import Seen, Solid, look, solve_solid

BROKEN = Helix(height_mm=40.0, turns=5.0, broken=True)
FACING = -np.pi / 2
IN_SIGHT = 0.9  # of the radius: farther out a tip hides in the round of the wire


def with_tip(helix: Helix, tip_rad: float) -> Helix:
    """Turn a spring so that its upper tip points somewhere."""
    azimuth = tip_rad - helix.hand * 2 * np.pi * helix.turns
    return replace(helix, azimuth_rad=float(azimuth))


def tried(outline: Outline, place: Place) -> tuple[Solid, tuple[Seen, Solid] | None]:
    stance = Stance(camera=make_camera(place))
    seen = look(outline, stance.camera)
    solid = solve_solid(stance, seen, 39.0)
    return solid, with_open_end(stance, seen, solid)


@pytest.mark.parametrize("place", [LEVEL, ABOVE, BELOW])
@pytest.mark.parametrize("tip_rad", [FACING, FACING + 1.0, 0.3, np.pi / 2, 2.5])
@pytest.mark.parametrize("hand", [1, -1])
def test_a_broken_end_is_measured_to_its_tip(
    place: Place, tip_rad: float, hand: int
) -> None:
    """Its highest point, within what the break and a tip at the flank leave open."""
    helix = with_tip(replace(BROKEN, hand=hand), tip_rad)

    _, opened = tried(make_outline(helix, place), place)

    assert opened is not None
    top = opened[1].top
    assert top.is_open
    error = top.height_mm - helix.height_mm
    assert abs(error) <= 2 * np.hypot(top.u_noise_mm, top.spread_mm)
    if abs(np.cos(tip_rad)) < IN_SIGHT:
        assert abs(error) < 0.3
    assert opened[1].total_coils == pytest.approx(helix.turns, abs=0.35)


@pytest.mark.parametrize("place", [LEVEL, ABOVE, BELOW])
@pytest.mark.parametrize("tip_rad", [FACING, FACING + 1.0, 0.3, np.pi / 2, 2.5])
def test_a_ground_end_stays_one(place: Place, tip_rad: float) -> None:
    """Wherever its tip is, and whether or not its gap shows."""
    helix = with_tip(Helix(height_mm=40.0, turns=5.5), tip_rad)

    _, opened = tried(make_outline(helix, place), place)

    assert opened is None


def test_what_is_seen_of_an_open_end_is_its_whole_crown() -> None:
    """Influences are followed on the edges that the end was solved by."""
    helix = with_tip(BROKEN, 0.3)
    outline = make_outline(helix, LEVEL)

    _, opened = tried(outline, LEVEL)

    assert opened is not None
    seen, solid = opened
    assert len(seen.outline.top.u_px) > len(solid.top.places) / 2
    heights = seen.outline.top.points_px[:, 1]
    assert np.ptp(heights) > np.ptp(outline.top.points_px[:, 1])
