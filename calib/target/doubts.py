"""Located sides of a target in; what their points err by, and how far to believe them.

Grain, shadows, weak steps, bends of one side and clipped light move edges by more than
the noise of their points tells.
"""

from collections.abc import Iterable
from dataclasses import replace

import numpy as np
from scipy.stats import siegelslopes

from calib.pose.model import Observed, SideModel, TargetModel
from calib.pose.solve import PoseFit
from calib.pose.unknowns import side_parts
from calib.records import EdgePoints, Floats, Sighting, TargetKind
from calib.target.points import SidePoints

POINT_U_PX = 0.03  # roughness of an edge from point to point
CORRELATED_POINTS = 3.0  # neighbours share noise after JPEG and denoising
EDGE_OFFSET_U = 0.17  # per px of blur: a tone curve that is not quite undone
LEAST_EDGE_OFFSET_U_PX = 0.12  # the camera's sharpening
BLOWN_LEVEL = 0.97  # of linear light
BLOWN_OFFSET_U_PX = 0.6  # a blown backdrop eats 0.5 to 1 px of a dark edge
USUAL_SCATTER_PX = 0.1  # of a sound side's points about its own line
# What scatters more is the grain of a plate or a step that hardly shows: it errs alike
# over about a quarter of a side, which leaves this much of it in offset, tilt and bow.
PATCHY = (0.5, 0.87, 1.12)
# A step that changes less than half of the light is moved by shading beside it, as by a
# shadow at the foot of bright steel on granite: by this over the square of its share.
CLEAR_STEP, LEAST_STEP, FAINT_U_PX = 0.5, 0.1, 0.02
BLOWN_FACE_U_PX = 0.4  # of offset and tilt: a face blown white mirrors an uneven lamp
BENT, BENT_PART = 2.0, 3  # u of a side's bow; at most one side in three
LEAST_FOR_SCATTER, SPREAD_ROUNDS = 6, 3
MAD_SIGMA = 1.4826  # of normal errors, in their median absolute deviation


def observed_points(sides: tuple[SidePoints, ...]) -> Observed:
    """Lay the sides' points together with the uncertainty that the fit gives them."""
    u_px = np.concatenate([_points_u_px(side) for side in sides])
    return Observed(
        points_px=np.vstack([side.points.points_px for side in sides]),
        side=np.concatenate([np.full(len(each.along), each.side) for each in sides]),
        along=np.concatenate([side.along for side in sides]),
        u_px=u_px * np.sqrt(CORRELATED_POINTS),
    )


def _points_u_px(seen: SidePoints) -> Floats:
    """Give what each point errs by: its noise, and no less than the side shows itself.

    Grain and the roughness of a print move points that their own noise leaves certain.
    """
    u_px = np.hypot(seen.points.u_px, POINT_U_PX)
    if len(seen.along) < LEAST_FOR_SCATTER:
        return u_px
    return np.maximum(u_px, _spread_px(seen, 2))


def doubted_model(model: TargetModel, sides: tuple[SidePoints, ...]) -> TargetModel:
    """Believe less of sides whose points scatter, or whose face is blown white."""
    doubted = list(model.sides)
    for each in sides:
        doubted[each.side] = _doubted(doubted[each.side], each)
    return replace(model, sides=tuple(doubted))


def _doubted(side: SideModel, seen: SidePoints) -> SideModel:
    beyond = max(_scatter_px(seen) ** 2 - USUAL_SCATTER_PX**2, 0.0) ** 0.5
    own, tilt, bow = (share * beyond for share in PATCHY)
    faint = FAINT_U_PX * (_step(seen) ** -2.0 - CLEAR_STEP**-2.0)
    blown = float(np.median(seen.points.inside)) > BLOWN_LEVEL
    glare = BLOWN_FACE_U_PX if blown else 0.0
    offset_px = float(np.linalg.norm([own, glare, faint]))
    return _less_believed(side, offset_px, float(np.hypot(tilt, glare)), bow)


def _less_believed(
    side: SideModel, offset_px: float, tilt_px: float, bow_px: float
) -> SideModel:
    """Doubt a side's own offset, tilt and bow by so much more."""
    return replace(
        side,
        own_u_px=float(np.hypot(side.own_u_px, offset_px)),
        tilt_u_px=float(np.hypot(side.tilt_u_px, tilt_px)),
        bow_u_px=float(np.hypot(side.bow_u_px, bow_px)),
    )


def bent_model(model: TargetModel, fit: PoseFit) -> TargetModel:
    """Believe less of the few sides that are bent where the others are straight.

    A lens bends them all. What bends one of them lies beside it, a shadow, grain or
    something before its end, and moves and tilts it by about as much as it bends it;
    of sizes and right angles a bow tells nothing. It counts as far as the points show
    it themselves: a lens that other sides seem to bend bends straight ones, too.
    """
    fitted = np.abs(side_parts(fit.theta, len(model.sides))[2])
    bow_px = np.minimum(fitted, _own_bows_px(fit))
    believed = np.array([side.bow_u_px for side in model.sides])
    pull = bow_px / believed
    most = len(np.unique(fit.problem.observed.side)) // BENT_PART
    worst = [k for k in np.argsort(-pull)[:most] if pull[k] > BENT]
    if not worst:
        return model
    sides = list(model.sides)
    for k in worst:
        bow = float(bow_px[k])
        sides[k] = _less_believed(sides[k], bow, bow, bow)
    return replace(model, sides=tuple(sides))


def _own_bows_px(fit: PoseFit) -> Floats:
    """Give how far each side's points bend in the picture, without sign."""
    seen, kept = fit.problem.observed, fit.weight > 0.0
    bows = np.zeros(len(fit.problem.model.sides))
    for k in np.unique(seen.side[kept]):
        mine = kept & (seen.side == k)
        if np.count_nonzero(mine) < LEAST_FOR_SCATTER:
            continue
        points = seen.points_px[mine] - seen.points_px[mine].mean(axis=0)
        across = np.linalg.svd(points, full_matrices=False)[2][1]
        bend = np.polynomial.legendre.legfit(seen.along[mine], points @ across, 2)
        bows[k] = abs(float(bend[2]))
    return bows


def _step(seen: SidePoints) -> float:
    """Give the share of the light that a side's step changes, up to a clear one."""
    inside, outside = np.median([seen.points.inside, seen.points.outside], axis=1)
    share = abs(float(outside - inside)) / max(float(inside), float(outside), 1e-6)
    return float(np.clip(share, LEAST_STEP, CLEAR_STEP))


def _scatter_px(seen: SidePoints) -> float:
    """Give the robust spread of a side's points about a straight line.

    A smooth bend is the lens's own and no scatter.
    """
    if len(seen.along) < LEAST_FOR_SCATTER or _spread_px(seen, 2) < USUAL_SCATTER_PX:
        return 0.0
    return _spread_px(seen, 1)


def _spread_px(seen: SidePoints, degree: int) -> float:
    """Give the robust spread of a side's points about their own smooth line."""
    away = seen.points.points_px @ seen.points.normals.mean(axis=0)
    slope, middle = siegelslopes(away, seen.along)
    rest = np.abs(away - middle - slope * seen.along)
    spread = MAD_SIGMA * float(np.median(rest))
    for _ in range(SPREAD_ROUNDS):
        kept = rest <= 2.0 * spread + USUAL_SCATTER_PX
        line = np.polynomial.Polynomial.fit(seen.along[kept], away[kept], degree)
        rest = np.abs(away - line(seen.along))
        spread = MAD_SIGMA * float(np.median(rest[kept]))
    return spread


def is_blown(sides: Iterable[EdgePoints]) -> bool:
    """Tell whether one side of the target's edges is clipped white."""
    brighter = [np.maximum(side.inside, side.outside) for side in sides]
    return float(np.median(np.concatenate(brighter))) > BLOWN_LEVEL


def glares(sighting: Sighting) -> bool:
    """Tell whether light of the target's own is clipped white: its face's or paper's.

    What that does to its edges is done to no spring's, unlike a blown backdrop's light.
    """
    if sighting.kind is TargetKind.SQUARE_CARD:
        return is_blown(side.points for side in sighting.sides)
    inside = np.concatenate([side.points.inside for side in sighting.sides])
    return float(np.median(inside)) > BLOWN_LEVEL


def offset_u_px(sides: tuple[SidePoints, ...]) -> float:
    """Give how far all edges may appear moved outward, before the target tells."""
    blur = float(np.median(np.concatenate([side.points.blur_px for side in sides])))
    u_px = max(EDGE_OFFSET_U * blur, LEAST_EDGE_OFFSET_U_PX)
    blown = is_blown(side.points for side in sides)
    return max(u_px, BLOWN_OFFSET_U_PX) if blown else u_px
