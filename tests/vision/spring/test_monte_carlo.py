"""The linear budget (JCGM 100) against Monte Carlo over the whole chain (JCGM 101).

Every input is drawn about its estimate, a card and a spring at the row's end are
projected by the camera that results, and camera and spring are solved again from the
points alone. What the spring's own points scatter is tested apart, in test_scatter.py.
"""

from dataclasses import dataclass, replace

import numpy as np
import pytest

from calib.quantity import Quantity
from calib.records import Camera, Floats
from tests.vision.spring.helix import (
    Contour,
    Helix,
    between_ends,
    chosen,
    graze,
    grazing_points,
    picture_normals,
)
from tests.vision.spring.outlines import (
    INWARD,
    flank_of,
    frame_of,
    make_outline,
    round_end,
    top_edges,
)
from tests.vision.spring.places import Place, make_camera, seen
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
from vision.spring.budget import (
    U_DEPTH_MM,
    U_DEPTH_SLOPE,
    U_EDGE_PX,
    U_RIM_WIRES,
    base_stance,
)
from vision.spring.flank import Coils
from vision.spring.ground_end import WHOLE
from vision.spring.measure import Solved, view_quantities
from vision.spring.rays import Stance
from vision.spring.solid import Seen, Solid, look, solve_solid

PLACE = Place(position_mm=(0.0, -800.0, 90.0), pitch_deg=3.0)
TRIALS = 120
AGREEMENT = 0.10
ROW_TURN_U_RAD, CARD_LEAN_U_RAD = np.radians(2.0), np.radians(0.3)
FULL_RIM = (WHOLE,)
AT_MM = 110.0
INPUTS = 26
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
        points[mine] = seen(camera, again.points_mm) + (out_px - INWARD.px) * normals
    return replace(before, points_px=points)


def drawn_inputs(rng: np.random.Generator) -> Floats:
    """Normal deviates (trials, inputs) whose own covariance is exactly the unit matrix.

    So a hundred trials show what is not linear as well as thousands would.
    """
    drawn = rng.standard_normal((TRIALS, INPUTS))
    drawn -= drawn.mean(axis=0)
    root = np.linalg.cholesky(np.cov(drawn.T))
    return np.asarray(np.linalg.solve(root, drawn.T).T)


def drawn_staging(deviates: Floats) -> Staging:
    nominal = nominal_staging(PLACE)
    camera = replace(
        nominal.camera,
        focal_px=nominal.camera.focal_px * np.exp(FOCAL_U * deviates[0]),
        centre_px=nominal.camera.centre_px + CENTRE_U_PX * deviates[1:3],
        k1=K1_U * deviates[3],
        k2=K2_U * deviates[4],
    )
    return Staging(
        camera=camera,
        sizes_mm=nominal.sizes_mm + SIZE_U_MM * deviates[5:8],
        moved_mm=OFFSET_U_MM * deviates[8],
        turned_rad=ROW_TURN_U_RAD * deviates[9],
        leaning_rad=CARD_LEAN_U_RAD * deviates[10],
        edge_offset_px=EDGE_OFFSET_U_PX * deviates[11],
        side_offsets_px=SIDE_U_PX * deviates[12:16],
        side_tilts_px=TILT_U_PX * deviates[16:20],
    )


def values_of(solid: Solid) -> Floats:
    lean = float(np.degrees(np.arctan(solid.axis.slope)))
    return np.array([solid.height_mm, lean, solid.outside_mm])


def one_trial(deviates: Floats, rng: np.random.Generator, base: Base) -> Floats:
    """Values (quantities,) as measured in one drawn scene."""
    staging = drawn_staging(deviates)
    fit = solve_staging(target_points(staging, rng), make_camera(PLACE))
    depth, slope, wider, own, common, light = deviates[20:]
    helix = replace(
        base.helix, foot_y_mm=U_DEPTH_MM * depth, slope_y=U_DEPTH_SLOPE * slope
    )
    rim_mm = helix.outside_mm / 2 + U_RIM_WIRES * helix.wire_mm * wider
    out_px = staging.edge_offset_px + EDGE_MODEL_U_PX * common + U_EDGE_PX * own
    out_px += base.seen.u_edge_px * light
    again = seen_by(staging.camera, base, helix, rim_mm, out_px)
    stance = Stance(camera=fit.camera, edge_shift_px=-fit.edge_offset_px)
    return values_of(solve_solid(stance, again, 48.0, FULL_RIM))


def stated_u(quantity: Quantity) -> float:
    """Standard uncertainty from staging and camera, without the points' own scatter."""
    kept = [
        each for each in quantity.influences if not each.label.startswith(OWN_NOISE)
    ]
    return float(np.sqrt(sum(each.u**2 for each in kept)))


@pytest.fixture(scope="module")
def base() -> Base:
    return base_of(AT_MM)


@pytest.fixture(scope="module")
def trials(base: Base) -> Floats:
    """Measured values (trials, quantities)."""
    rng = np.random.default_rng(20260301)
    return np.array([one_trial(each, rng, base) for each in drawn_inputs(rng)])


@pytest.fixture(scope="module")
def budget(base: Base) -> dict[Characteristic, Quantity]:
    """The linear budget of the spring."""
    camera = make_camera(PLACE)
    observed = target_points(nominal_staging(PLACE), None)
    calibration = calibrate_points(observed, camera)
    stance = base_stance(calibration)
    solid = solve_solid(stance, base.seen, 48.0, FULL_RIM)
    solved = Solved(seen=base.seen, stance=stance, solid=solid, name="spring")
    return view_quantities(solved, calibration)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(len(QUANTITIES)))
def test_spread_is_the_linear_budget(
    trials: Floats, budget: dict[Characteristic, Quantity], number: int
) -> None:
    """Drawn inputs scatter each result as its combined standard uncertainty says."""
    spread = float(np.std(trials[:, number], ddof=1))

    stated = stated_u(budget[QUANTITIES[number]])

    assert spread / stated == pytest.approx(1.0, abs=AGREEMENT)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(len(QUANTITIES)))
def test_mean_is_the_estimate(
    trials: Floats, budget: dict[Characteristic, Quantity], number: int
) -> None:
    """What is not linear shifts no result by more than a fifth of its u."""
    quantity = budget[QUANTITIES[number]]

    shift = float(np.mean(trials[:, number])) - quantity.value

    assert abs(shift) < 0.2 * stated_u(quantity)
