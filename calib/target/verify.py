"""Checks on a target that seems found: each says what is wrong, or nothing."""

from dataclasses import replace

import numpy as np

from calib.camera import Intrinsics, project
from calib.errors import TargetError
from calib.pose.model import TargetModel
from calib.pose.solve import PoseFit, side_ends
from calib.pose.unknowns import SIZES, camera_of
from calib.records import Photo
from calib.target.level import Level
from calib.target.points import SidePoints
from calib.target.settle import Settled, settle_place

LEAST_EXTENT_PX = 60.0
MOST_BLUR_PX = 4.0
LEAST_SIDES = 3
LEAST_SHARE = 0.25  # of a side's points
LOOSE = 0.08  # how far a stated size may be wrong and still be named
LOOSE_COST = 25.0
LOOSE_SUPPORT = 0.7
WRONG_SHARE = 0.003
WRONG_SIGMAS = 5.0
# The side whose absence tells on a size.
TELLTALE = {
    "blade length": "tip",
    "stock length": "stock_end",
    "blade width": "blade_inner",
    "stock width": "stock_top",
    "square width": "right",
    "square height": "top",
}


def check_view(photo: Photo, settled: Settled) -> None:
    """Refuse a target that the frame cuts off or that is too small to measure by."""
    camera = camera_of(settled.theta, settled.problem.priors)
    ends = np.vstack(side_ends(settled.theta, settled.problem.model))
    corners = project(camera, ends)
    extent_px = float(np.max(np.ptp(corners, axis=0)))
    if extent_px < LEAST_EXTENT_PX:
        raise TargetError(
            photo.name,
            f"shows the target {extent_px:.0f} px long, at least "
            f"{LEAST_EXTENT_PX:.0f} px are needed",
            "Go nearer, or use a longer lens or the picture in full size",
        )
    beyond = np.maximum(-corners, corners - (np.array(photo.size_px) - 1.0))
    if float(np.max(beyond)) > 0.0:
        raise TargetError(
            photo.name,
            f"cuts the target off: a corner lies {float(np.max(beyond)):.0f} px "
            "outside the frame",
            "Take the picture again with the whole target inside",
        )


def check_points(
    photo: Photo, model: TargetModel, sides: tuple[SidePoints, ...]
) -> None:
    """Refuse a target whose edges are too soft or of which too little is seen."""
    clear = [side for side in sides if len(side.along) >= LEAST_SHARE * side.tried]
    blur = [float(np.median(side.points.blur_px)) for side in clear]
    if blur and float(np.median(blur)) > MOST_BLUR_PX:
        raise TargetError(
            photo.name,
            f"is blurred: the target's edges have a sigma of {np.median(blur):.1f} px, "
            f"at most {MOST_BLUR_PX:.0f} px",
            "Focus on the target and hold the camera still",
        )
    if len(clear) < LEAST_SIDES:
        raise TargetError(
            photo.name,
            f"shows only {len(clear)} of the target's {len(model.sides)} sides "
            f"clearly, at least {LEAST_SIDES} are needed",
            "Free the target, focus on it, and give it contrast with what is behind",
        )


def check_sizes(photo: Photo, fit: PoseFit) -> None:
    """Refuse when the photo itself gives a size that contradicts the stated one."""
    model, priors = fit.problem.model, fit.problem.priors
    information = fit.data_information + fit.prior_information
    for k, name in enumerate(model.size_names):
        row = SIZES + k
        stated, u_mm = float(model.sizes_mm[k]), float(priors.u[row])
        free = information.copy()
        free[row, row] -= u_mm**-2.0
        inverse = np.linalg.inv(free + 1e-12 * np.diag(np.diag(information)))
        pull = float(fit.theta[row] - priors.estimate[row]) / u_mm**2
        seen = float(fit.theta[row] + inverse[row, row] * pull)
        u_seen = float(np.sqrt(max(inverse[row, row], 0.0)))
        gap = abs(seen - stated)
        if gap > WRONG_SIGMAS * np.hypot(u_seen, u_mm) and gap > WRONG_SHARE * stated:
            raise TargetError(photo.name, _wrong(name, seen, stated), REMEDY)


REMEDY = "Measure the target again and correct the reference file"


def contradiction(settled: Settled, level: Level, inner: Intrinsics) -> str | None:
    """Tell which stated size, were it another, would let the whole target be seen."""
    model = settled.problem.model
    unseen = {
        name
        for name, line in zip(model.names, settled.choice.lines, strict=True)
        if line is None
    }
    for k, name in enumerate(model.size_names):
        if TELLTALE.get(name) not in unseen and settled.choice.cost < LOOSE_COST:
            continue
        loose = model.sizes_u_mm.copy()
        loose[k] = LOOSE * model.sizes_mm[k]
        other = replace(model, sizes_u_mm=loose)
        place = replace(settled.place, model=other)
        again = settle_place(place, level, inner)
        if again is None or not _fits(again, len(unseen)):
            continue
        seen, stated = float(again.theta[SIZES + k]), float(model.sizes_mm[k])
        if abs(seen / stated - 1.0) > WRONG_SHARE:
            return _wrong(name, seen, stated)
    return None


def _fits(again: Settled, unseen_before: int) -> bool:
    support = [line.support for line in again.choice.lines if line is not None]
    complete = len(support) == len(again.choice.lines)
    complete = complete or len(again.choice.lines) - len(support) < unseen_before
    return (
        complete
        and again.choice.cost < LOOSE_COST
        and float(np.min(support)) > LOOSE_SUPPORT
    )


def _wrong(name: str, seen_mm: float, stated_mm: float) -> str:
    return (
        f"contradicts the stated sizes: beside the others a {name} of {seen_mm:.2f} mm "
        f"is seen, {stated_mm:g} mm is stated"
    )
