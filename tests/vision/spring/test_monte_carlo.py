"""The linear budget (JCGM 100) against Monte Carlo over the whole chain (JCGM 101).

Every input is drawn about its estimate, a card and three springs are projected by the
camera that results, and camera and springs are solved again from the points alone. What
the springs' own points scatter is tested apart, in test_scatter.py.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from calib.quantity import Quantity
from calib.records import Camera, Floats
from tests.vision.spring.helix import (
    Contour,
    Helix,
    Place,
    between_ends,
    chosen,
    graze,
    grazing_points,
    make_camera,
    picture_normals,
    seen,
)
from tests.vision.spring.outlines import (
    flank_of,
    frame_of,
    make_outline,
    round_end,
    top_edges,
)
from tests.vision.spring.staging import (
    CENTRE_U_PX,
    EDGE_MODEL_U_PX,
    EDGE_OFFSET_U_PX,
    FOCAL_U,
    K1_U,
    K2_U,
    OFFSET_U_MM,
    SIDE_U_PX,
    SIZE_U_MM,
    TILT_U_PX,
    Staging,
    calibrate_points,
    nominal_staging,
    solve_staging,
    target_points,
)
from vision.records.measured import Characteristic
from vision.spring.axis import ROUND_EDGE_PX, Stance
from vision.spring.budget import (
    U_DEPTH_MM,
    U_DEPTH_SLOPE,
    U_EDGE_PX,
    U_RIM_WIRES,
    base_stance,
)
from vision.spring.flank import Coils
from vision.spring.measure import Solved, view_quantities
from vision.spring.solid import Seen, Solid, look, solve_solid

PLACE = Place(position_mm=(0.0, -800.0, 90.0), pitch_deg=3.0)
TRIALS = 300  # the spread of a normal sample of 300 is known to 4 %
AGREEMENT = 0.10
ROW_TURN_U_RAD, CARD_LEAN_U_RAD = np.radians(1.0), np.radians(0.3)
FULL_RIM = ((0, 0.0),)
SPRINGS_MM = (-110.0, 110.0)
ALL_ROUND = np.linspace(0.0, 2 * np.pi, 181)
OWN_NOISE = ("scatter", "noise", "shape", "burr")
QUANTITIES = (
    Characteristic.FREE_HEIGHT,
    Characteristic.LEAN,
    Characteristic.OUTSIDE_DIAMETER,
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Base:
    """A spring as the believed camera sees it, and where its widest points lie."""

    helix: Helix
    seen: Seen
    left: Contour
    right: Contour


def base_of(x_mm: float) -> Base:
    helix, camera = Helix(foot_x_mm=x_mm, slope_x=0.02), make_camera(PLACE)
    outline = make_outline(helix, PLACE)
    top = top_edges(helix, camera, round_end(helix, helix.outside_mm / 2, ALL_ROUND))
    seen_ = look(replace(outline, top=top), camera)
    between = between_ends(helix, grazing_points(helix, camera))
    return Base(
        helix=helix,
        seen=seen_,
        left=nearest(camera, flank_of(helix, camera, between, -1), seen_.left),
        right=nearest(camera, flank_of(helix, camera, between, 1), seen_.right),
    )


def nearest(camera: Camera, flank: Contour, coils: Coils) -> Contour:
    """The places of the wire that are seen as the coils' widest points."""
    px = seen(camera, flank.points_mm)
    away = np.linalg.norm(px[None] - coils.points_px[:, None], axis=2)
    return chosen(flank, away.argmin(axis=1))


def seen_by(
    camera: Camera, base: Base, helix: Helix, rim_mm: float, out_px: float
) -> Seen:
    """The spring as another camera sees it, edges moved outward.

    The widest points are the same places of the wire: where a ray grazes, another place
    nearby would change nothing in the first order.
    """
    frame = frame_of(helix, camera)
    top = top_edges(helix, camera, round_end(helix, rim_mm, ALL_ROUND))
    outline = replace(
        base.seen.outline,
        axis_px=np.array([frame.foot_px, frame.top_px]),
        top=replace(top, points_px=top.points_px + out_px * top.normals),
    )
    return Seen(
        outline=outline,
        left=regrazed(camera, helix, (base.left, base.seen.left), out_px),
        right=regrazed(camera, helix, (base.right, base.seen.right), out_px),
    )


def regrazed(
    camera: Camera, helix: Helix, coils: tuple[Contour, Coils], out_px: float
) -> Coils:
    places, before = coils
    points = np.zeros((len(places.turns), 2))
    for branch in (0, 1):
        mine = places.branch == branch
        again = graze(helix, camera, places.turns[mine], branch)
        normals = picture_normals(camera, again.normals)
        points[mine] = (
            seen(camera, again.points_mm) + (out_px - ROUND_EDGE_PX) * normals
        )
    return replace(before, points_px=points)


def drawn_staging(rng: np.random.Generator) -> Staging:
    nominal = nominal_staging(PLACE)
    camera = replace(
        nominal.camera,
        focal_px=nominal.camera.focal_px * np.exp(FOCAL_U * rng.standard_normal()),
        centre_px=nominal.camera.centre_px + CENTRE_U_PX * rng.standard_normal(2),
        k1=K1_U * rng.standard_normal(),
        k2=K2_U * rng.standard_normal(),
    )
    return Staging(
        camera=camera,
        sizes_mm=nominal.sizes_mm + SIZE_U_MM * rng.standard_normal(3),
        moved_mm=OFFSET_U_MM * rng.standard_normal(),
        turned_rad=ROW_TURN_U_RAD * rng.standard_normal(),
        leaning_rad=CARD_LEAN_U_RAD * rng.standard_normal(),
        edge_offset_px=EDGE_OFFSET_U_PX * rng.standard_normal(),
        side_offsets_px=SIDE_U_PX * rng.standard_normal(4),
        side_tilts_px=TILT_U_PX * rng.standard_normal(4),
    )


def values_of(solid: Solid) -> Floats:
    lean = float(np.degrees(np.arctan(solid.axis.slope)))
    return np.array([solid.height_mm, lean, solid.outside_mm])


def one_trial(rng: np.random.Generator, bases: tuple[Base, ...]) -> Floats:
    """Values (springs, quantities) as measured in one drawn scene."""
    staging = drawn_staging(rng)
    fit = solve_staging(target_points(staging, rng), make_camera(PLACE))
    edges_px = staging.edge_offset_px + EDGE_MODEL_U_PX * rng.standard_normal()
    stance = Stance(camera=fit.camera, edge_shift_px=-fit.edge_offset_px)
    found = []
    for base in bases:
        helix = replace(
            base.helix,
            foot_y_mm=U_DEPTH_MM * rng.standard_normal(),
            slope_y=U_DEPTH_SLOPE * rng.standard_normal(),
        )
        rim = helix.outside_mm / 2 + U_RIM_WIRES * helix.wire_mm * rng.standard_normal()
        out_px = edges_px + U_EDGE_PX * rng.standard_normal()
        again = seen_by(staging.camera, base, helix, rim, out_px)
        found.append(values_of(solve_solid(stance, again, 48.0, FULL_RIM)))
    return np.array(found)


def stated_u(quantity: Quantity) -> float:
    """Standard uncertainty from staging and camera, without the points' own scatter."""
    kept = [
        each for each in quantity.influences if not each.label.startswith(OWN_NOISE)
    ]
    return float(np.sqrt(sum(each.u**2 for each in kept)))


@pytest.fixture(scope="module")
def bases() -> tuple[Base, ...]:
    return tuple(base_of(x_mm) for x_mm in SPRINGS_MM)


@pytest.fixture(scope="module")
def trials(bases: tuple[Base, ...]) -> Floats:
    """Measured values (trials, springs, quantities)."""
    rng = np.random.default_rng(20260301)
    return np.array([one_trial(rng, bases) for _ in range(TRIALS)])


@pytest.fixture(scope="module")
def budgets(bases: tuple[Base, ...]) -> list[dict[Characteristic, Quantity]]:
    """The linear budget of each spring."""
    camera = make_camera(PLACE)
    observed = target_points(nominal_staging(PLACE), None)
    calibration = calibrate_points(observed, camera)
    stance = base_stance(calibration, 0.0, 0.0)
    found = []
    for base in bases:
        solid = solve_solid(stance, base.seen, 48.0, FULL_RIM)
        solved = Solved(seen=base.seen, stance=stance, solid=solid, name="spring")
        found.append(view_quantities(solved, calibration))
    return found


@pytest.mark.slow
@pytest.mark.parametrize("spring", range(len(SPRINGS_MM)))
@pytest.mark.parametrize("number", range(len(QUANTITIES)))
def test_spread_is_the_linear_budget(
    trials: Floats,
    budgets: list[dict[Characteristic, Quantity]],
    spring: int,
    number: int,
) -> None:
    """Drawn inputs scatter each result as its combined standard uncertainty says."""
    spread = float(np.std(trials[:, spring, number], ddof=1))

    stated = stated_u(budgets[spring][QUANTITIES[number]])

    assert spread / stated == pytest.approx(1.0, abs=AGREEMENT)
