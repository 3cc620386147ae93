"""The row's tops in; from how high the lens sees them, as belief of the camera, out.

A ground end seen from above or below is an ellipse: how round the tops' outlines are
tells the slope of sight on them, which a small target seen from the front leaves open
by a degree and more. Half the diameter times that slope is what a free height is off.
Each top is held against every shape that its end can have, under cameras of several
slopes; how much worse the outlines are explained than by the best is the likelihood
(Bayes; a residual of unknown scale counts by its logarithm).
"""

from dataclasses import dataclass

import numpy as np

from calib.records import Calibration, Camera, Floats
from vision.spring.axis import Stance, solve_axes
from vision.spring.budget import base_stance
from vision.spring.ground_end import Shape, shapes
from vision.spring.moving import Belief, shifted_calibrations
from vision.spring.rim import ROUGH_ROUNDS, End, fit_shapes, search_shapes
from vision.spring.skyline import rough_height
from vision.spring.solid import Seen, wire_of

REACH_U, STEP = 2.5, 0.0025  # slopes tried: so many u, in steps that bend a rim 0.1 px
MOST_STEPS, PASSES = 7, 2  # to either side at once; then again about the likeliest
SURE_SLOPE = 0.004  # u up to which one search for shapes serves all slopes
HOPEFUL = 6  # shapes taken over from each search
COUNTING_POINTS = 2.5  # of one top's outline: shapes that nearly fit err alike
USUAL_MISFIT, WORST_MISFIT = 2.0, 48.0  # of a sound top, of none; see `rim.Top`
FINE = 401  # values between which the likelihood is interpolated
LEAST_U_SLOPE = 0.0008  # ends of a row out of parallel one way


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Slope:
    """Slope of sight on the tops, less the calibration's, as it was believed before.

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
    base = base_stance(calibration)
    heights = [rough_height(base, each.outline) for each in seen]
    slope = _slope(calibration, belief, float(np.median(heights)))
    if slope.u <= LEAST_U_SLOPE:
        return belief
    tops = _search_tops(calibration, belief, slope, seen, heights)
    mean, u = slope.mean, slope.u
    for _ in range(PASSES):
        steps = int(np.clip(np.ceil(REACH_U * u / STEP), 3, MOST_STEPS))
        values = mean + REACH_U * u * np.linspace(-1, 1, 2 * steps + 1)
        fine = values[1] - values[0] <= STEP
        stances = _stances(calibration, belief, slope, values)
        likely = -0.5 * ((values - slope.mean) / slope.u) ** 2
        for top in tops:
            misfits = _misfits(top, stances)
            likely = likely - COUNTING_POINTS * np.log(misfits + USUAL_MISFIT)
        mean, u = _moments(values, likely)
        if fine:
            break
    return belief.narrowed(slope.effect, mean, min(u, slope.u))


def _slope(calibration: Calibration, belief: Belief, top_mm: float) -> _Slope:
    """Say what is believed of the slope before any top is looked at."""
    cameras = [each.camera for each in calibration.variants]
    base = _slope_of(calibration.camera, top_mm)
    effect = np.array([_slope_of(camera, top_mm) - base for camera in cameras])
    along = belief.covariance @ effect
    return _Slope(
        mean=float(effect @ belief.mean),
        u=float(np.sqrt(effect @ along)),
        effect=effect,
        along=along,
    )


def _slope_of(camera: Camera, top_mm: float) -> float:
    _, y, z = camera.position_mm
    return float((z - top_mm) / -y)


def _stances(
    calibration: Calibration, belief: Belief, slope: _Slope, values: Floats
) -> tuple[Stance, ...]:
    """Give the likeliest stance for each slope (m,)."""
    steps = np.outer(values - slope.mean, slope.along / slope.u**2)
    moved = shifted_calibrations(calibration, belief.mean + steps)
    return tuple(base_stance(each) for each in moved)


def _search_tops(
    calibration: Calibration,
    belief: Belief,
    slope: _Slope,
    seen: tuple[Seen, ...],
    heights_mm: list[float],
) -> list[_Top]:
    """Find the shapes that come near to each top, under slopes one u apart."""
    apart = slope.u if slope.u > SURE_SLOPE else 0.0
    values = slope.mean + np.unique([-apart, 0.0, apart])
    stances = _stances(calibration, belief, slope, values)
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
            wire_mm=wire_of(stance, seen)[0],
        )
        for stance, axis in zip(stances, axes, strict=True)
    ]


def _moments(values: Floats, likely: Floats) -> tuple[float, float]:
    """Mean and u of values whose likelihoods' logarithms are known."""
    fine = np.linspace(values[0], values[-1], FINE)
    weight = np.exp(np.interp(fine, values, likely) - likely.max())
    weight /= weight.sum()
    mean = float(weight @ fine)
    return mean, float(np.sqrt(weight @ (fine - mean) ** 2 + LEAST_U_SLOPE**2))
