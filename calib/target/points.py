"""A settled target in, the sub-pixel edge points of its sides out."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from scipy.stats import siegelslopes

from calib.edge import EdgeSettings, fit_edges
from calib.pose.model import Observed, SideModel, TargetModel
from calib.pose.solve import PoseFit
from calib.pose.unknowns import side_parts
from calib.records import EdgePoints, Floats, Side, Sighting, TargetKind
from calib.target.level import Level, on_level, seen_in
from calib.target.settle import Settled
from calib.target.strip import Line, Strip

POINT_U_PX = 0.03  # roughness of an edge from point to point
CORRELATED_POINTS = 3.0  # neighbours share noise after JPEG and denoising
EDGE_OFFSET_U = 0.17  # per px of blur: a tone curve that is not quite undone
LEAST_EDGE_OFFSET_U_PX = 0.12  # the camera's sharpening
BLOWN_LEVEL = 0.97  # of linear light
BLOWN_OFFSET_U_PX = 0.6  # a blown backdrop eats 0.5 to 1 px of a dark edge
# Two colours of one luminance part in a channel: a side of which its own grey shows
# less than the first share is looked for in each, and taken if seen by the second.
FAINT_SHARE, CLEAR_SHARE = 0.25, 0.6
WAYS = tuple((channel, brightens) for channel in range(3) for brightens in (1, -1))
STEP_PX = 4.0
MOST_POINTS = 72
ROWS = 5  # fitted together; the side is straight
HALF_LENGTH_PX = 4.0
CORNER_PX = 8.0  # kept clear of corners, where two edges blur into one
CORNER_SHARE = 0.03
LEAST_CONTRAST = 0.006
LEAST_CONTRAST_TO_NOISE = 2.5
MOST_RESIDUAL = 0.35  # strays drop out later, by the side's own line
MOST_BLUR_PX = 8.0  # enough to say how blurred a photo is
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SidePoints:
    """Edge points of one side of the model, and their place -1..1 along it."""

    side: int
    points: EdgePoints
    along: Floats
    tried: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spots:
    """Where a side's edge points are looked for, n places from corner to corner.

    ``rough_px`` (n, 2) photo px, ``normals`` (n, 2), ``along`` (n,) -1..1.
    """

    rough_px: Floats
    normals: Floats
    along: Floats


def locate_sides(settled: Settled, level: Level) -> tuple[SidePoints, ...]:
    """Locate edge points along each chosen line, in photo px."""
    sides = []
    for k, line in enumerate(settled.choice.lines):
        if line is not None:
            sides.append(_locate_side(k, settled.strips[k], line, level))
    return tuple(side for side in sides if len(side.along))


def _locate_side(k: int, strip: Strip, line: Line, level: Level) -> SidePoints:
    length_px = float(np.hypot(*(strip.points_px[-1] - strip.points_px[0])))
    length_px /= float(np.ptp(strip.along)) / 2.0
    most = 1.0 - 2.0 * max(CORNER_PX / length_px, CORNER_SHARE)
    count = int(np.clip(most * length_px / STEP_PX, 12, MOST_POINTS))
    along = np.linspace(-most, most, count)
    rough = np.column_stack(
        [np.interp(along, strip.along, strip.points_px[:, j]) for j in range(2)]
    )
    normals = np.column_stack(
        [np.interp(along, strip.along, strip.normals[:, j]) for j in range(2)]
    )
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    rough += (line.offset_px + line.tilt_px * along)[:, None] * normals
    spots = Spots(rough_px=rough, normals=normals, along=along)
    seen = _points_in(k, spots, level, (line.channel, line.brightens))
    if len(seen.along) >= FAINT_SHARE * count:
        return seen
    tries = [_points_in(k, spots, level, way) for way in WAYS]
    clearest = max(tries, key=lambda each: len(each.along))
    return clearest if len(clearest.along) >= CLEAR_SHARE * count else seen


def _points_in(
    k: int, spots: Spots, level: Level, way: tuple[int | None, int]
) -> SidePoints:
    """Locate a side's edge points in one grey, all of them steps of one sign."""
    channel, brightens = way
    settings = EdgeSettings(
        polarity=brightens,
        rows=ROWS,
        least_contrast=LEAST_CONTRAST,
        least_contrast_to_noise=LEAST_CONTRAST_TO_NOISE,
        most_blur_px=MOST_BLUR_PX,
        most_residual=MOST_RESIDUAL,
    )
    grey, rough = seen_in(level, channel), on_level(level, spots.rough_px)
    found, kept = fit_edges(grey, rough, spots.normals, HALF_LENGTH_PX, settings)
    points = replace(found, points_px=found.points_px + level.origin_px)
    return SidePoints(
        side=k, points=points, along=spots.along[kept], tried=len(spots.along)
    )


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
    return replace(
        side,
        own_u_px=float(np.linalg.norm([side.own_u_px, own, glare, faint])),
        tilt_u_px=float(np.linalg.norm([side.tilt_u_px, tilt, glare])),
        bow_u_px=float(np.hypot(side.bow_u_px, bow)),
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
        side, bow = sides[k], float(bow_px[k])
        sides[k] = replace(
            side,
            own_u_px=float(np.hypot(side.own_u_px, bow)),
            tilt_u_px=float(np.hypot(side.tilt_u_px, bow)),
            bow_u_px=float(np.hypot(side.bow_u_px, bow)),
        )
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


def kept_sides(
    sides: tuple[SidePoints, ...], weight: Floats, names: tuple[str, ...]
) -> tuple[Side, ...]:
    """Give the sides as records, without the points that the fit left out."""
    kept, start = [], 0
    for each in sides:
        mine = weight[start : start + len(each.along)] > 0.0
        start += len(each.along)
        kept.append(Side(name=names[each.side], points=each.points.chosen(mine)))
    return tuple(kept)


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
