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
from vision.spring.axis import Stance, solve_axis
from vision.spring.budget import base_stance
from vision.spring.ground_end import Shape, shapes
from vision.spring.moving import Belief, moved_cameras
from vision.spring.rim import HOPEFUL, ROUGH_ROUNDS, End, fit_shapes, search_shapes
from vision.spring.skyline import rough_height
from vision.spring.solid import Seen, wire_of

REACH_U, STEP, MOST_STEPS = 2.5, 0.0025, 17  # slopes tried; a step bends a rim 0.1 px
SURE_SLOPE = 0.004  # u up to which one search for shapes serves all slopes
COUNTING_POINTS = 4.0  # of one top's outline: shapes that nearly fit err alike
USUAL_MISFIT, WORST_MISFIT = 2.0, 48.0  # of a sound top, of none; see `rim.Top`
FINE = 401  # values between which the likelihood is interpolated
LEAST_U_SLOPE = 0.0008  # ends of a row out of parallel one way


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Slopes:
    """Slopes of sight (m,) to try, less the calibration's, with a stance for each.

    ``effect`` (n,) is what each variant adds to the slope; ``mean`` and ``u`` are what
    was believed of it before.
    """

    values: Floats
    stances: list[Stance]
    effect: Floats
    mean: float
    u: float


def learn_from_tops(
    calibration: Calibration, belief: Belief, seen: tuple[Seen, ...]
) -> Belief:
    """Narrow the belief by what the tops' outlines say of the slope of sight."""
    base = base_stance(calibration)
    heights = [rough_height(base, each.outline) for each in seen]
    slopes = _slopes(calibration, belief, float(np.median(heights)))
    if slopes is None:
        return belief
    likely = -0.5 * ((slopes.values - slopes.mean) / slopes.u) ** 2
    for each, height in zip(seen, heights, strict=True):
        try:
            misfits = _misfits(each, height, slopes)
        except ValueError:  # its measurement will say why
            continue
        likely = likely - COUNTING_POINTS * np.log(misfits + USUAL_MISFIT)
    mean, u = _moments(slopes.values, likely)
    return belief.narrowed(slopes.effect, mean, min(u, slopes.u))


def _slopes(calibration: Calibration, belief: Belief, top_mm: float) -> _Slopes | None:
    """Lay out the slopes to try about what is believed; None where that is sure."""
    cameras = [each.camera for each in calibration.variants]
    base = _slope_of(calibration.camera, top_mm)
    effect = np.array([_slope_of(camera, top_mm) - base for camera in cameras])
    mean = float(effect @ belief.mean)
    along = belief.covariance @ effect
    u = float(np.sqrt(effect @ along))
    if u <= LEAST_U_SLOPE:
        return None
    steps = int(np.clip(np.ceil(REACH_U * u / STEP), 3, MOST_STEPS))
    values = mean + REACH_U * u * np.linspace(-1, 1, 2 * steps + 1)
    coefficients = belief.mean + np.outer(values - mean, along / u**2)
    return _Slopes(
        values=values,
        stances=_stances(calibration, coefficients),
        effect=effect,
        mean=mean,
        u=u,
    )


def _slope_of(camera: Camera, top_mm: float) -> float:
    _, y, z = camera.position_mm
    return float((z - top_mm) / -y)


def _stances(calibration: Calibration, coefficients: Floats) -> list[Stance]:
    base = base_stance(calibration)
    shifts = np.array([each.axis_plane_shift_mm for each in calibration.variants])
    edges = np.array([each.edge_shift_px for each in calibration.variants])
    return [
        replace(
            base,
            camera=camera,
            depth_mm=base.depth_mm + float(each @ shifts),
            edge_shift_px=base.edge_shift_px + float(each @ edges),
        )
        for camera, each in zip(
            moved_cameras(calibration, coefficients), coefficients, strict=True
        )
    ]


def _misfits(seen: Seen, start_mm: float, slopes: _Slopes) -> Floats:
    """How badly the best shape explains a top under each slope (m,).

    Raises
    ------
    ValueError
        When axis or top cannot be solved.
    """
    middle = len(slopes.stances) // 2
    apart = middle // 2 if slopes.u > SURE_SLOPE else 0
    hopeful: dict[Shape, None] = {}
    for place in sorted({middle - apart, middle, middle + apart}):
        rough = search_shapes(_end(slopes.stances[place], seen), start_mm, shapes())
        start_mm = rough[0].height_mm
        hopeful |= dict.fromkeys(fit.shape for fit in rough[:HOPEFUL])
    ends = (_end(stance, seen) for stance in slopes.stances)
    fits = (fit_shapes(end, start_mm, tuple(hopeful), ROUGH_ROUNDS) for end in ends)
    return np.array([found[0].misfit_px if found else WORST_MISFIT for found in fits])


def _end(stance: Stance, seen: Seen) -> End:
    return End(
        stance=stance,
        axis=solve_axis(stance, seen.left, seen.right),
        edges=seen.outline.top,
        wire_mm=wire_of(stance, seen)[0],
    )


def _moments(values: Floats, likely: Floats) -> tuple[float, float]:
    """Mean and u of values whose likelihoods' logarithms are known."""
    fine = np.linspace(values[0], values[-1], FINE)
    weight = np.exp(np.interp(fine, values, likely) - likely.max())
    weight /= weight.sum()
    mean = float(weight @ fine)
    return mean, float(np.sqrt(weight @ (fine - mean) ** 2 + LEAST_U_SLOPE**2))
