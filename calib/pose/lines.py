"""The vector of unknowns in; the sides' picture lines, and points' distances, out.

Lines are homogeneous in normalised, undistorted picture coordinates, of unit normal
that points outward: (a, b, c) . (x, y, 1) is a distance. Many vectors of unknowns are
treated at once, as differentiating asks for a dozen.
"""

import numpy as np

from calib.camera import undistorted
from calib.pose.model import Observed, TargetModel
from calib.pose.unknowns import (
    CENTRE,
    FOCAL,
    K1,
    K2,
    OFFSET,
    PLACE,
    SIDE_PARTS,
    SIZES,
    STANDOUT,
    Priors,
    position_of,
    rotation_of,
    side_parts,
)
from calib.records import Floats

LINE_COLUMNS = (*range(PLACE + 3), STANDOUT)  # unknowns that move the lines, and sizes
POINT_COLUMNS = (FOCAL, CENTRE, CENTRE + 1, K1, K2)  # those that move the points
STEP = 1e-6
PIXEL_STEP = 1e-2
MM_STEP = 1e-3


def side_ends(theta: Floats, model: TargetModel) -> tuple[Floats, Floats]:
    """Give the world points (..., s, 3) at which the sides start and end."""
    sizes = theta[..., SIZES : SIZES + len(model.sizes_mm)]
    depth = theta[..., -len(model.sides) :]
    ends = np.empty((2, *depth.shape, 3))
    ends[..., 1] = model.face_y_mm - model.forward * theta[..., [STANDOUT]] + depth
    ends[0][..., [0, 2]] = np.einsum("sij,...j->...si", model.starts, sizes)
    ends[1][..., [0, 2]] = np.einsum("sij,...j->...si", model.ends, sizes)
    return ends[0], ends[1]


def side_lines(theta: Floats, model: TargetModel, priors: Priors) -> Floats:
    """Give the sides' lines (..., s, 3)."""
    first, last = side_ends(theta, model)
    turn = np.swapaxes(rotation_of(theta), -1, -2)
    place = position_of(theta, priors)[..., None, :]
    beside = 0.5 * (first + last) - place
    beside[..., [0, 2]] += model.outward
    line = _crossed((first - place) @ turn, (last - place) @ turn)
    ahead = np.sign(np.sum(line * (beside @ turn), axis=-1))
    length = np.sqrt(line[..., 0] ** 2 + line[..., 1] ** 2)
    oriented: Floats = line * (ahead / length)[..., None]
    return oriented


def _crossed(one: Floats, other: Floats) -> Floats:
    a, b, c = one[..., 0], one[..., 1], one[..., 2]
    d, e, f = other[..., 0], other[..., 1], other[..., 2]
    return np.stack([b * f - c * e, c * d - a * f, a * e - b * d], axis=-1)


def straight_points(theta: Floats, observed: Observed) -> Floats:
    """Give the points (n, 3) as normalised, undistorted (x, y, 1)."""
    bent = (observed.points_px - theta[CENTRE : CENTRE + 2]) / np.exp(theta[FOCAL])
    points = np.ones((len(bent), 3))
    points[:, :2] = undistorted(bent, float(theta[K1]), float(theta[K2]))
    return points


def left_over(
    theta: Floats, observed: Observed, model: TargetModel, priors: Priors
) -> Floats:
    """Give how far outward (n,) in px each point lies, less the offsets in theta."""
    own, tilt, bow, _ = side_parts(theta, len(model.sides))
    mine = side_lines(theta, model, priors)[observed.side]
    away = np.sum(mine * straight_points(theta, observed), axis=1)
    side = observed.side
    offset = theta[OFFSET] + own[side] + tilt[side] * observed.along
    offset += bow[side] * _bowed(observed.along)
    return np.asarray(np.exp(theta[FOCAL]) * away - offset)


def _bowed(along: Floats) -> Floats:
    """Give a bow that is 1 at the ends of a side and neither moves nor tilts it."""
    return 1.5 * along**2 - 0.5


def slopes_of(
    theta: Floats, observed: Observed, model: TargetModel, priors: Priors
) -> Floats:
    """Give the derivatives (n, unknowns) of what is left over."""
    count, side = len(model.sides), observed.side
    slopes = np.zeros((len(side), len(theta)))
    points = straight_points(theta, observed)
    lines = side_lines(theta, model, priors)
    _fill_by_lines(slopes, theta, (points, lines), observed, (model, priors))
    for column in POINT_COLUMNS:
        step = PIXEL_STEP if column in (CENTRE, CENTRE + 1) else STEP
        moved = theta.copy()
        moved[column] += step
        change = np.exp(moved[FOCAL]) * straight_points(moved, observed)
        change -= np.exp(theta[FOCAL]) * points
        slopes[:, column] = np.sum(lines[side] * change, axis=1) / step
    every, first = np.arange(len(side)), len(theta) - SIDE_PARTS * count
    slopes[:, OFFSET] = -1.0
    slopes[every, first + side] = -1.0
    slopes[every, first + count + side] = -observed.along
    slopes[every, first + 2 * count + side] = -_bowed(observed.along)
    return slopes


def _fill_by_lines(
    slopes: Floats,
    theta: Floats,
    here: tuple[Floats, Floats],
    observed: Observed,
    target: tuple[TargetModel, Priors],
) -> None:
    """Fill in the columns of pose, sizes and depths by moving the lines."""
    points, lines = here
    model, priors = target
    columns = [*LINE_COLUMNS, *range(SIZES, SIZES + len(model.sizes_mm))]
    steps = np.where(np.array(columns) < FOCAL, STEP, MM_STEP)
    moved = np.repeat(theta[None], len(columns) + 1, axis=0)
    moved[np.arange(len(columns)), columns] += steps
    depths = len(theta) - len(model.sides)
    moved[-1, depths:] += MM_STEP
    change = side_lines(moved, model, priors) - lines
    change *= np.exp(theta[FOCAL]) / np.append(steps, MM_STEP)[:, None, None]
    by_line = np.einsum("ni,kni->nk", points, change[:, observed.side])
    slopes[:, columns] = by_line[:, :-1]
    slopes[np.arange(len(points)), depths + observed.side] = by_line[:, -1]
