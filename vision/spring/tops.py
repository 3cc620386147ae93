"""The row's tops in; from how high the lens sees them, as belief of the camera, out.

A ground end seen from above or below is an ellipse: how round the tops' outlines are
tells the slope of sight on them, which a small target seen from the front leaves open
by a degree and more. Half the diameter times that slope is what a free height is off.
Each top is held against every shape that its end can have, under cameras of several
slopes; how much worse the outlines are explained than by the best is the likelihood
(Bayes; a residual of unknown scale counts by its logarithm).
"""

from dataclasses import dataclass, replace

import numpy as np

from calib.records import Calibration, Camera, Floats
from vision.spring.axis import solve_axes
from vision.spring.budget import base_stance
from vision.spring.ground_end import Shape, shapes
from vision.spring.moving import Belief, shifted_calibrations
from vision.spring.rays import Stance
from vision.spring.rim import ROUGH_ROUNDS, End, fit_shapes, search_shapes
from vision.spring.skyline import rough_height
from vision.spring.solid import Seen, wire_of

REACH_U, STEP = 2.5, 0.0025  # slopes tried: so many u, in steps that bend a rim 0.1 px
MOST_STEPS, PASSES = 7, 2  # to either side at once; then again about the likeliest
SURE_SLOPE = 0.004  # u up to which one search for shapes serves all slopes
HOPEFUL = 6  # shapes taken over from each search
COUNTING_POINTS = 2.5  # of one top's outline: shapes that nearly fit err alike
USUAL_MISFIT, WORST_MISFIT = 2.0, 48.0  # of a sound top, of none; see `rim.Top`
FINE, MOST_U = 401, 3.0  # slopes at which likelihoods are summed, to so many u
LEAST_U_SLOPE = 0.0008  # ends of a row out of parallel one way


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Tilts:
    """Slopes of sight on the tops (n,), rising, and how likely tops are seen so.

    ``log_likely`` (n,) is a logarithm, but for a constant. It holds for every focal
    length: the outlines show the slope alone.
    """

    slopes: Floats
    log_likely: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Slope:
    """What is believed of the slope of sight on the tops, with standard uncertainty.

    ``effect`` (n,) is what each variant adds to it, ``along`` (n,) what it asks of each
    variant.
    """

    mean: float
    u: float
    effect: Floats
    along: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Top:
    """A spring whose top is held against shapes that came near to it."""

    seen: Seen
    start_mm: float
    hopeful: tuple[Shape, ...]


def learn_from_tops(
    calibration: Calibration, belief: Belief, seen: tuple[Seen, ...]
) -> Belief:
    """Narrow the belief by what the tops' outlines say of the slope of sight."""
    slope = believed_slope(calibration, belief, seen)
    if slope.u <= LEAST_U_SLOPE:
        return belief
    tilts = weigh_tilts(calibration, belief, seen, (slope.mean, slope.u))
    return learn_from_tilts(belief, slope, tilts)


def believed_slope(
    calibration: Calibration, belief: Belief, seen: tuple[Seen, ...]
) -> Slope:
    """Say what is believed of the slope before any top is looked at."""
    top_mm = float(np.median(_heights(calibration, seen)))
    cameras = [each.camera for each in calibration.variants]
    base = _slope_of(calibration.camera, top_mm)
    effect = np.array([_slope_of(camera, top_mm) - base for camera in cameras])
    along = belief.covariance @ effect
    return Slope(
        mean=base + float(effect @ belief.mean),
        u=float(np.sqrt(effect @ along)),
        effect=effect,
        along=along,
    )


def _heights(calibration: Calibration, seen: tuple[Seen, ...]) -> list[float]:
    base = base_stance(calibration)
    return [rough_height(base, each.outline) for each in seen]


def _slope_of(camera: Camera, top_mm: float) -> float:
    _, y, z = camera.position_mm
    return float((z - top_mm) / -y)


def weigh_tilts(
    calibration: Calibration,
    belief: Belief,
    seen: tuple[Seen, ...],
    expected: tuple[float, float],
) -> Tilts:
    """Hold the tops against slopes about one that is expected, with that u."""
    slope = believed_slope(calibration, belief, seen)
    first_mean, first_u = mean, u = expected
    apart = u if u > SURE_SLOPE else 0.0
    rough = _stances(calibration, belief, slope, mean + np.unique([-apart, 0.0, apart]))
    tops = _search_tops(rough, seen, _heights(calibration, seen))
    tilts = Tilts(slopes=np.empty(0), log_likely=np.empty(0))
    for _ in range(PASSES):
        steps = int(np.clip(np.ceil(REACH_U * u / STEP), 3, MOST_STEPS))
        values = mean + REACH_U * u * np.linspace(-1, 1, 2 * steps + 1)
        stances = _stances(calibration, belief, slope, values)
        likely = np.zeros(len(values))
        for top in tops:
            misfits = _misfits(top, stances)
            likely -= COUNTING_POINTS * np.log(misfits + USUAL_MISFIT)
        tilts = _merged(tilts, values, likely)
        mean, u, _ = _moments(first_mean, first_u, tilts)
        if values[1] - values[0] <= STEP:
            break
    return tilts


def _merged(tilts: Tilts, slopes: Floats, log_likely: Floats) -> Tilts:
    slopes = np.concatenate([tilts.slopes, slopes])
    order = np.argsort(slopes)
    log_likely = np.concatenate([tilts.log_likely, log_likely])
    return Tilts(slopes=slopes[order], log_likely=log_likely[order])


def learn_from_tilts(belief: Belief, slope: Slope, tilts: Tilts) -> Belief:
    """Narrow the belief of a slope by what the tops say of slopes."""
    mean, u, evidence = _moments(slope.mean, slope.u, tilts)
    before = slope.mean - float(slope.effect @ belief.mean)
    learnt = belief.narrowed(slope.effect, mean - before, min(u, slope.u))
    return replace(learnt, log_evidence=belief.log_evidence + evidence)


def _stances(
    calibration: Calibration, belief: Belief, slope: Slope, values: Floats
) -> tuple[Stance, ...]:
    """Give the likeliest stance for each slope (m,)."""
    steps = np.outer(values - slope.mean, slope.along / slope.u**2)
    moved = shifted_calibrations(calibration, belief.mean + steps)
    return tuple(base_stance(each) for each in moved)


def _search_tops(
    stances: tuple[Stance, ...], seen: tuple[Seen, ...], heights_mm: list[float]
) -> list[_Top]:
    """Find the shapes that come near to each top, under stances one u apart."""
    tops = []
    for each, height in zip(seen, heights_mm, strict=True):
        try:
            found = [
                search_shapes(end, height, shapes()) for end in _ends(stances, each)
            ]
        except ValueError:  # its measurement will say why
            continue
        near = (fit.shape for rough in found for fit in rough[:HOPEFUL])
        start_mm = found[len(found) // 2][0].height_mm
        hopeful = tuple(dict.fromkeys(near))
        tops.append(_Top(seen=each, start_mm=start_mm, hopeful=hopeful))
    return tops


def _misfits(top: _Top, stances: tuple[Stance, ...]) -> Floats:
    """How badly the best shape explains a top under each stance (n,)."""
    fits = (
        fit_shapes(end, top.start_mm, top.hopeful, ROUGH_ROUNDS)
        for end in _ends(stances, top.seen)
    )
    return np.array([each[0].misfit_px if each else WORST_MISFIT for each in fits])


def _ends(stances: tuple[Stance, ...], seen: Seen) -> list[End]:
    axes = solve_axes(stances, seen.left, seen.right)
    return [
        End(
            stance=stance,
            axis=axis,
            edges=seen.outline.top,
            wire_mm=wire_of(stance, seen).mm,
        )
        for stance, axis in zip(stances, axes, strict=True)
    ]


def _moments(mean: float, u: float, tilts: Tilts) -> tuple[float, float, float]:
    """Mean and u of a slope believed before, and the evidence's logarithm."""
    slopes = mean + MOST_U * u * np.linspace(-1.0, 1.0, FINE)
    before = np.exp(-0.5 * ((slopes - mean) / u) ** 2)
    most = float(tilts.log_likely.max())
    likely = np.exp(np.interp(slopes, tilts.slopes, tilts.log_likely) - most)
    weight = before * likely
    evidence = most + float(np.log(weight.sum() / before.sum()))
    weight /= weight.sum()
    middle = float(weight @ slopes)
    spread = float(weight @ (slopes - middle) ** 2)
    return middle, float(np.sqrt(spread + LEAST_U_SLOPE**2)), evidence
