"""Calibrations for tests: known cameras, and cameras solved from a target's points.

The target is a card with a solid square; its edge points are projected exactly, so that
no picture is needed between the inputs' errors and the results.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from calib.camera import Intrinsics, pixels_per_mm
from calib.pose.model import Observed, TargetModel
from calib.pose.solve import PoseFit, Problem, solve_pose
from calib.pose.unknowns import PLACE, TURN, make_priors
from calib.quantity import Influence, Quantity
from calib.records import (
    Calibration,
    Camera,
    Exif,
    Floats,
    Reference,
    SquareCard,
    Variant,
)
from calib.target.square_card import square_card_model
from calib.variants import Doubts, Names, camera_variants
from tests.vision.spring.places import LEVEL, Place, make_camera, seen

SIDE_MM, MARGIN_MM, FACE_OFFSET_MM = 60.0, 8.0, 0.0
SIZE_U_MM, OFFSET_U_MM = 0.025, 0.5  # half of what a reference file states by default
FOCAL_U, CENTRE_U_PX, K1_U, K2_U = 0.01, 20.0, 0.02, 0.01
EDGE_OFFSET_U_PX, EDGE_MODEL_U_PX, POINT_U_PX = 0.17, 0.1, 0.05
SIDE_U_PX, TILT_U_PX = 0.06, 0.08  # as the card's model states them
POINTS_ON_SIDE = 30
REFERENCE = Reference(
    shape=SquareCard(side_mm=SIDE_MM, bottom_margin_mm=MARGIN_MM),
    expanded_uncertainty_mm=2 * SIZE_U_MM,
    face_offset_mm=FACE_OFFSET_MM,
    face_offset_uncertainty_mm=2 * OFFSET_U_MM,
)


def make_calibration(camera: Camera, variants: tuple[Variant, ...] = ()) -> Calibration:
    """What a photo of the card would have taught if it taught just this camera."""
    return Calibration(
        photo_name="exact points",
        photo_sha256="0" * 64,
        exif=Exif(),
        reference=REFERENCE,
        camera=camera,
        px_per_mm=Quantity(
            value=pixels_per_mm(camera, (0.0, 0.0, 30.0)),
            unit="px/mm",
            influences=(Influence(source="none", label="none", u=0.0),),
        ),
        edge_offset_px=0.0,
        blur_px=1.0,
        target_box_mm=(0.0, 0.0, SIDE_MM, SIDE_MM + MARGIN_MM),
        target_outline_px=np.zeros((0, 2)),
        variants=variants,
        residual_px=0.05,
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Staging:
    """How a scene really is: the camera, the card, and how edges are seen.

    ``moved_mm`` is how far the card's face stands before its stated place;
    ``turned_rad`` and ``leaning_rad`` how it stands against row and plate.
    """

    camera: Camera
    sizes_mm: Floats
    moved_mm: float
    turned_rad: float
    leaning_rad: float
    edge_offset_px: float
    side_offsets_px: Floats
    side_tilts_px: Floats


def nominal_staging(place: Place = LEVEL) -> Staging:
    """Everything as stated."""
    return Staging(
        camera=make_camera(place),
        sizes_mm=square_card_model(REFERENCE).sizes_mm,
        moved_mm=0.0,
        turned_rad=0.0,
        leaning_rad=0.0,
        edge_offset_px=0.0,
        side_offsets_px=np.zeros(4),
        side_tilts_px=np.zeros(4),
    )


def target_points(staging: Staging, rng: np.random.Generator | None) -> Observed:
    """Edge points (n, 2) of the card's sides as its picture would show them."""
    model = square_card_model(REFERENCE)
    pivot = np.array([SIDE_MM / 2, -FACE_OFFSET_MM, 0.0])
    turn = Rotation.from_euler("zx", [staging.turned_rad, staging.leaning_rad])
    along = np.linspace(-0.94, 0.94, POINTS_ON_SIDE)
    points = []
    for k, side in enumerate(model.sides):
        start, end = side.start @ staging.sizes_mm, side.end @ staging.sizes_mm
        share = (along[:, None] + 1) / 2
        flat = start + share * (end - start)
        face = np.full(len(flat), -FACE_OFFSET_MM - staging.moved_mm)
        world = turn.apply(np.column_stack([flat[:, 0], face, flat[:, 1]]) - pivot)
        px = seen(staging.camera, world + pivot)
        beside = turn.apply(np.array([[side.outward[0], 0.0, side.outward[1]]]))
        ahead = seen(staging.camera, world + pivot + 0.01 * beside) - px
        run = px[-1] - px[0]
        normal = np.array([run[1], -run[0]]) / np.hypot(*run)
        normal *= np.sign(ahead[0] @ normal)
        away = staging.edge_offset_px + staging.side_offsets_px[k]
        offset = away + staging.side_tilts_px[k] * along
        if rng is not None:
            offset = offset + POINT_U_PX * rng.standard_normal(len(along))
        points.append(px + offset[:, None] * normal)
    count = len(model.sides)
    return Observed(
        points_px=np.vstack(points),
        side=np.repeat(np.arange(count), POINTS_ON_SIDE),
        along=np.tile(along, count),
        u_px=np.full(count * POINTS_ON_SIDE, POINT_U_PX),
    )


def solve_staging(
    observed: Observed, believed: Camera, focal_u: float = FOCAL_U
) -> PoseFit:
    """Solve the camera from the card's points, starting near the believed one."""
    model = square_card_model(REFERENCE)
    inner = Intrinsics(
        size_px=believed.size_px,
        focal_px=believed.focal_px,
        focal_u=focal_u,
        focal_source="test",
        centre_px=(float(believed.centre_px[0]), float(believed.centre_px[1])),
        centre_u_px=CENTRE_U_PX,
        k1=believed.k1,
        k1_u=K1_U,
        k2=believed.k2,
        k2_u=K2_U,
    )
    priors = make_priors(model, inner, EDGE_OFFSET_U_PX)
    problem = Problem(observed=observed, model=model, priors=priors)
    return solve_pose(problem, _start(believed, model, priors.estimate.copy()))


def _start(believed: Camera, model: TargetModel, theta: Floats) -> Floats:
    facing = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    pivot = np.array([SIDE_MM / 2, model.face_y_mm, MARGIN_MM + SIDE_MM / 2])
    x, y, depth = believed.rotation @ (pivot - believed.position_mm)
    turn = Rotation.from_matrix(believed.rotation @ facing.T)
    theta[TURN : TURN + 3] = turn.as_rotvec()
    theta[PLACE : PLACE + 3] = (x / depth, y / depth, np.log(depth))
    return theta


def calibrate_points(observed: Observed, believed: Camera) -> Calibration:
    """Solve the camera and all its variants, as the calibration of a photo does."""
    fit = solve_staging(observed, believed)
    doubts = Doubts(face_offset_u_mm=OFFSET_U_MM, edge_u_px=EDGE_MODEL_U_PX)
    names = Names(photo="points", target="card")
    calibration = make_calibration(fit.camera, camera_variants(fit, doubts, names))
    return replace(calibration, edge_offset_px=fit.edge_offset_px)
