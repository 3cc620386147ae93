"""Honesty of what the edge points' own scatter is said to do (k = 1).

Many sets of noisy edge points of one spring: the results must scatter as the mean of
the stated standard uncertainties says. Edge noise comes in runs of four px, as
denoising and compression leave it; along the top its longer runs count, four in all.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from calib.records import EdgePoints, Floats
from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import make_outline, noisy, round_end, with_top
from tests.vision.spring.places import LEVEL, Place, make_camera
from vision.spring.budget import MEDIAN_U, U_FLAT_MM
from vision.spring.ground_end import WHOLE
from vision.spring.rays import Stance
from vision.spring.rim import USUAL_TILT
from vision.spring.solid import look, solve_solid

SETS = 150  # the spread of a normal sample of 150 is known to 5.8 %
NOISE_PX = 0.15  # of located edges in compressed pictures, and of a wire's surface
LEAST_RATIO, MOST_RATIO = 0.8, 1.25
ALL_ROUND = np.linspace(0.0, 2 * np.pi, 361)
QUARTERS = 4
FULL_RIM = (WHOLE,)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sample:
    """Errors (n,) of many noisy sets, and the standard uncertainties stated (n,)."""

    errors: Floats
    stated: Floats

    @property
    def ratio(self) -> float:
        """Errors per stated uncertainty."""
        return float(np.sqrt(np.mean(self.errors**2) / np.mean(self.stated**2)))


def rough_top(points: EdgePoints, rng: np.random.Generator) -> EdgePoints:
    """Errors that four parts of the top have in common each."""
    run = len(points.u_px) // QUARTERS + 1
    away = np.repeat(NOISE_PX * rng.standard_normal(QUARTERS), run)
    moved = points.points_px + away[: len(points.u_px), None] * points.normals
    return replace(points, points_px=moved)


def one_set(place: Place, rng: np.random.Generator) -> list[tuple[float, float]]:
    """Errors and u of slope, end radius, diameter, height and wire in a noisy set."""
    helix = Helix(slope_x=0.02)
    end = round_end(helix, helix.outside_mm / 2, ALL_ROUND)[0]
    tilt = USUAL_TILT * rng.standard_normal(2)
    rise = (end - helix.top_centre_mm)[:, :2] @ tilt
    burr = U_FLAT_MM * rng.standard_normal()
    end = end + np.column_stack([np.zeros((len(end), 2)), rise - rise.max() + burr])
    outline = with_top(
        noisy(make_outline(helix, place), NOISE_PX, rng), helix, place, [end]
    )
    outline = replace(outline, top=rough_top(outline.top, rng))
    camera = make_camera(place)
    solid = solve_solid(Stance(camera=camera), look(outline, camera), 48.0, FULL_RIM)
    axis, top = solid.axis, solid.top
    own = float(np.linalg.norm([top.u_noise_mm, top.spread_mm, U_FLAT_MM]))
    return [
        (axis.slope - helix.slope_x, axis.u_slope),
        (
            float(axis.knot_radii_mm[0]) - helix.outside_mm / 2,
            float(axis.u_knots_mm[0]),
        ),
        (solid.outside_mm - helix.outside_mm, 2 * MEDIAN_U * axis.u_mean_mm),
        (solid.height_mm - helix.height_mm, own),
        (solid.wire_mm - helix.wire_mm, solid.wire.u_mm),
    ]


@pytest.fixture(scope="module")
def samples() -> list[Sample]:
    """Slope, end radius, outside diameter, height and wire over many sets."""
    rng = np.random.default_rng(20260302)
    sets = np.array([one_set(LEVEL, rng) for _ in range(SETS)])
    return [Sample(errors=sets[:, k, 0], stated=sets[:, k, 1]) for k in range(5)]


def test_lean_scatters_as_stated(samples: list[Sample]) -> None:
    """The slope's u from the coils' scatter is its scatter."""
    assert LEAST_RATIO <= samples[0].ratio <= MOST_RATIO


def test_radius_at_an_end_scatters_as_stated(samples: list[Sample]) -> None:
    """So is the outside radius' at the lowest coil, the least sure place."""
    assert LEAST_RATIO <= samples[1].ratio <= MOST_RATIO


def test_outside_diameter_scatters_as_stated(samples: list[Sample]) -> None:
    """A median over all coils of a straight spring is surer than one place of it."""
    assert LEAST_RATIO <= samples[2].ratio <= MOST_RATIO


def test_height_scatters_as_stated(samples: list[Sample]) -> None:
    """Noise of the edge, an end out of parallel and burrs: together as stated."""
    assert LEAST_RATIO <= samples[3].ratio <= MOST_RATIO


def test_lean_is_not_biased_by_noise(samples: list[Sample]) -> None:
    """The mean of many noisy leans is the lean, to three of its standard errors."""
    errors = samples[0].errors

    assert abs(np.mean(errors)) < 3 * np.std(errors, ddof=1) / np.sqrt(SETS)


def test_wire_is_never_surer_than_it_scatters(samples: list[Sample]) -> None:
    """Its stated u also allows for shading, which these sets do not have."""
    assert samples[4].ratio <= MOST_RATIO
