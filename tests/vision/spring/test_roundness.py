"""Roundness: what box times scale gets wrong, and that the solid takes it out.

The table is that of a spring 48 mm high with a rim of 15.6 mm radius seen by a pinhole:
a point (y, z) appears on the axis plane at H + (z - H) Z / (Z + y).
"""

import numpy as np
import pytest

from calib.camera import on_plane, project
from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import make_outline, round_end, with_top
from tests.vision.spring.places import Place, make_camera
from vision.spring.rays import Stance
from vision.spring.solid import look, solve_solid

HEIGHT_MM, RADIUS_MM = 48.0, 15.6
LENS_MM = (0.0, 24.0, 48.0, 60.0, 100.0, 150.0)
TABLE = {  # lens to springs in mm: excess of the silhouette in mm, by lens height
    400: (1.95, 1.95, 1.95, 2.89, 6.01, 9.92),
    800: (0.95, 0.95, 0.95, 1.42, 2.98, 4.93),
    1200: (0.63, 0.63, 0.63, 0.94, 1.98, 3.28),
}
CASES = [
    pytest.param(away, lens, excess, id=f"{away}-{lens:.0f}")
    for away, row in TABLE.items()
    for lens, excess in zip(LENS_MM, row, strict=True)
]
REMOVED_MM = 0.02  # of which 0.0125 mm allow for an end that is not quite parallel


def naive_height(away: float, lens: float) -> float:
    """Top to bottom of the silhouette on the axis plane, by the formula above."""
    y = RADIUS_MM * np.sin(np.linspace(0, 2 * np.pi, 721))
    top = lens + (HEIGHT_MM - lens) * away / (away + y)
    bottom = lens + (0.0 - lens) * away / (away + y)
    return float(top.max() - bottom.min())


def place_of(away: float, lens: float) -> Place:
    return Place(position_mm=(0.0, -float(away), lens), focal_px=7.0 * away)


@pytest.mark.parametrize(("away", "lens", "excess"), CASES)
def test_box_times_scale_is_wrong_by_the_table(
    away: int, lens: float, excess: float
) -> None:
    """The formula gives the table's figures, to its last digit."""
    assert naive_height(away, lens) - HEIGHT_MM == pytest.approx(excess, abs=0.006)


@pytest.mark.parametrize(("away", "lens", "excess"), CASES)
def test_the_camera_sees_what_the_table_says(
    away: int, lens: float, excess: float
) -> None:
    """Both rims projected and read off on the axis plane show the same excess."""
    camera = make_camera(place_of(away, lens))
    turn = np.linspace(0, 2 * np.pi, 721)
    rim = RADIUS_MM * np.column_stack([np.cos(turn), np.sin(turn)])
    ends = [
        on_plane(camera, project(camera, np.column_stack([rim, np.full(721, z)])))
        for z in (0.0, HEIGHT_MM)
    ]

    naive = ends[1][:, 1].max() - ends[0][:, 1].min()

    assert naive - HEIGHT_MM == pytest.approx(excess, abs=0.006)


@pytest.mark.parametrize(("away", "lens", "excess"), CASES[::2])
def test_the_solid_takes_roundness_out(away: int, lens: float, excess: float) -> None:
    """What the table says is gone from the solved height, wherever the lens is."""
    place, helix = place_of(away, lens), Helix()
    all_round = np.linspace(0, 2 * np.pi, 361)
    outline = with_top(
        make_outline(helix, place),
        helix,
        place,
        round_end(helix, RADIUS_MM, all_round),
    )

    camera = make_camera(place)
    solid = solve_solid(Stance(camera=camera), look(outline, camera), 47.0)

    assert excess > 30 * REMOVED_MM
    assert solid.height_mm == pytest.approx(HEIGHT_MM, abs=REMOVED_MM)


def test_with_the_plate_known_only_the_top_rim_remains() -> None:
    """It vanishes for a lens level with the tops, and is 0.23 mm at Z 800, H 60."""

    def top_alone(lens: float) -> float:
        y = RADIUS_MM * np.array([-1.0, 1.0])
        return float((lens + (HEIGHT_MM - lens) * 800 / (800 + y)).max()) - HEIGHT_MM

    assert top_alone(48.0) == pytest.approx(0.0, abs=1e-12)
    assert top_alone(60.0) == pytest.approx(0.23, abs=0.006)
