"""The vector of unknowns: where each stands in it and what is believed of it before.

Beside the pose these are the camera's inner geometry, how far edges appear moved
outward, how far the stock stands out from the blade's face, the target's sizes, and
of each side its own offset and tilt, since no edge is perfectly straight and square,
and how far behind the face the edge lies that is seen.
"""

from dataclasses import dataclass, replace

import numpy as np

from calib.camera import Intrinsics, undistorted
from calib.pose.model import TargetModel
from calib.records import Camera, Floats

FACING = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
SPINS = np.array(  # rotation vector to its cross product's matrix, row by row
    [
        [0.0, 0.0, 0.0, 0.0, 0.0, -1.0, 0.0, 1.0, 0.0],
        [0.0, 0.0, 1.0, 0.0, 0.0, 0.0, -1.0, 0.0, 0.0],
        [0.0, -1.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    ]
)
TURN, PLACE, FOCAL, CENTRE, K1, K2, OFFSET, STANDOUT = 0, 3, 6, 7, 9, 10, 11, 12
SIZES = 13
SIDE_PARTS = 4  # unknowns of each side
TURN_U = 0.25  # rad; a view from farther aside than twice that is no front view
USUAL_OFFSET_U_PX = 0.2
UNLIKELY_COST = 5.0  # of a way to stand out after the likelier ones
LEAST_U = 1e-6  # holds an unknown that is given exactly


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Priors:
    """Estimate and standard uncertainty of each unknown; u is infinite where free.

    The pose is a turn (rotation vector, rad), and the pivot's X/Z, Y/Z and log Z in the
    camera's frame; the focal length stands as its logarithm.
    """

    labels: tuple[str, ...]
    estimate: Floats
    u: Floats
    pivot_mm: Floats
    size_px: tuple[int, int]
    cut_share: float
    distance_mm: float | None
    distance_u_mm: float


def rotation_of(theta: Floats) -> Floats:
    """Give the rotations (..., 3, 3) from world axes to camera axes (Rodrigues)."""
    vector = theta[..., TURN : TURN + 3]
    angle = np.sqrt(np.sum(vector**2, axis=-1))[..., None, None]
    spin = vector @ SPINS
    spin = spin.reshape(*vector.shape, 3)
    once = np.sinc(angle / np.pi)  # sin(angle) / angle
    twice = 0.5 * np.sinc(0.5 * angle / np.pi) ** 2  # (1 - cos(angle)) / angle^2
    rotation: Floats = (np.eye(3) + once * spin + twice * (spin @ spin)) @ FACING
    return rotation


def position_of(theta: Floats, priors: Priors) -> Floats:
    """Give the lens' places (..., 3): the pivot less where the camera sees it."""
    seen = np.ones((*theta.shape[:-1], 1, 3))
    seen[..., 0, :2] = theta[..., PLACE : PLACE + 2]
    seen = seen * np.exp(theta[..., PLACE + 2])[..., None, None]
    position: Floats = priors.pivot_mm - (seen @ rotation_of(theta))[..., 0, :]
    return position


def camera_of(theta: Floats, priors: Priors) -> Camera:
    """Build the camera from the vector of unknowns."""
    return Camera(
        size_px=priors.size_px,
        focal_px=float(np.exp(theta[FOCAL])),
        centre_px=theta[CENTRE : CENTRE + 2].copy(),
        k1=float(theta[K1]),
        k2=float(theta[K2]),
        rotation=rotation_of(theta),
        position_mm=position_of(theta, priors),
    )


def pivot_of(model: TargetModel) -> Floats:
    """Give the world point in the middle of the target's face.

    The pose is counted from here: turning about it hardly moves the picture, which
    keeps the unknowns' valley straight.
    """
    ends = np.array([end @ model.sizes_mm for side in model.sides for end in side.ends])
    x, z = 0.5 * (ends.min(axis=0) + ends.max(axis=0))
    return np.array([x, model.face_y_mm, z])


def make_priors(
    model: TargetModel, inner: Intrinsics, offset_u_px: float = USUAL_OFFSET_U_PX
) -> Priors:
    """Lay out the unknowns: pose, inner geometry, offset, stand-out, sizes, sides."""
    names = [side.name for side in model.sides]
    labels = [
        *("turn x", "turn y", "turn z", "place right", "place down", "depth"),
        *("focal length", "principal point x", "principal point y", "k1", "k2"),
        *("edge offset", "stock stand-out"),
        *model.size_names,
        *(f"{name} offset" for name in names),
        *(f"{name} tilt" for name in names),
        *(f"{name} bow" for name in names),
        *(f"{name} depth" for name in names),
    ]
    estimate = np.zeros(len(labels))
    estimate[FOCAL] = np.log(inner.focal_px)
    estimate[CENTRE : CENTRE + 2] = inner.centre_px
    estimate[K1], estimate[K2] = inner.k1, inner.k2
    sizes = slice(SIZES, SIZES + len(model.sizes_mm))
    estimate[sizes] = model.sizes_mm
    u = np.full(len(labels), np.inf)
    u[TURN : TURN + 3] = TURN_U
    u[FOCAL] = inner.focal_u
    u[CENTRE : CENTRE + 2] = inner.centre_u_px
    u[K1], u[K2] = inner.k1_u, inner.k2_u
    u[OFFSET] = offset_u_px
    estimate[STANDOUT], u[STANDOUT] = model.standouts_mm[0]
    u[sizes] = model.sizes_u_mm
    own, tilt, bow, depth = side_parts(u, len(names))
    own[:] = [side.own_u_px for side in model.sides]
    tilt[:] = [side.tilt_u_px for side in model.sides]
    bow[:] = [side.bow_u_px for side in model.sides]
    depth[:] = np.maximum([side.depth_u_mm for side in model.sides], LEAST_U)
    return Priors(
        labels=tuple(labels),
        estimate=estimate,
        u=np.maximum(u, LEAST_U),
        pivot_mm=pivot_of(model),
        size_px=inner.size_px,
        cut_share=inner.cut_share,
        distance_mm=inner.distance_mm,
        distance_u_mm=inner.distance_u_mm,
    )


def side_parts(theta: Floats, count: int) -> tuple[Floats, Floats, Floats, Floats]:
    """Give views of the sides' own offsets, tilts, bows (px) and depths (mm)."""
    own, tilt, bow, depth = theta[-SIDE_PARTS * count :].reshape(SIDE_PARTS, count)
    return own, tilt, bow, depth


def standing_ways(priors: Priors, model: TargetModel) -> tuple[Priors, ...]:
    """Give the priors for each way in which the stock may stand out.

    A stock that stands out before the blade does so behind it, too: its back edges
    lie anywhere up to twice as deep.
    """
    ways = []
    ahead = len(priors.u) - len(model.sides) + np.flatnonzero(model.forward)
    for standout_mm, u_mm in model.standouts_mm:
        estimate, u = priors.estimate.copy(), priors.u.copy()
        estimate[STANDOUT], u[STANDOUT] = standout_mm, max(u_mm, LEAST_U)
        seen = ahead[u[ahead] > LEAST_U]
        estimate[seen] += standout_mm
        u[seen] += standout_mm
        ways.append(replace(priors, estimate=estimate, u=u))
    return tuple(ways)


def seen_depths(priors: Priors, theta: Floats, model: TargetModel) -> Priors:
    """Allow a back edge to be seen where the present pose shows the face before it."""
    place = position_of(theta, priors)
    estimate, u = priors.estimate.copy(), priors.u.copy()
    for k, side in enumerate(model.sides):
        at = side.start @ model.sizes_mm
        shown = float(side.outward @ (place[[0, 2]] - at)) > 0.0
        estimate[k - len(model.sides)] = side.depth_mm if shown else 0.0
        u[k - len(model.sides)] = max(side.depth_u_mm if shown else 0.0, LEAST_U)
    return replace(priors, estimate=estimate, u=u)


def similar_pose(
    priors: Priors, pivot_px: Floats, px_per_mm: float, roll_rad: float
) -> Floats:
    """Start from the picture of the target's pivot, its scale and roll."""
    theta = priors.estimate.copy()
    focal_px = np.exp(theta[FOCAL])
    bent = (pivot_px - theta[CENTRE : CENTRE + 2]) / focal_px
    flat = undistorted(bent.reshape(1, 2), theta[K1], theta[K2])[0]
    theta[TURN : TURN + 3] = (0.0, 0.0, roll_rad)
    theta[PLACE : PLACE + 3] = (*flat, np.log(focal_px / px_per_mm))
    return theta
