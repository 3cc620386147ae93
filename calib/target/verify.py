"""Checks on a target that seems found: each says what is wrong, or nothing."""

from dataclasses import replace

import numpy as np

from calib.camera import project
from calib.errors import ContradictionError, TargetError
from calib.pose.by_focal import solve_by_focal
from calib.pose.lines import side_ends
from calib.pose.model import TargetModel
from calib.pose.solve import PoseFit, Problem
from calib.pose.stand import solve_standing
from calib.pose.unknowns import SIZES, camera_of
from calib.records import Camera, Floats, Photo
from calib.target.level import Level, joint_strip, levels_at, lines_near
from calib.target.points import SidePoints
from calib.target.settle import Settled, settle_pose

REMEDY_SIZES = "Measure the target again and correct the reference file"
REMEDY_STRAIN = (
    f"{REMEDY_SIZES}; free it of things before it and of a shadow at its foot; if the "
    "camera bends straight lines, give its lens file"
)
LEAST_EXTENT_PX = 60.0
MOST_BLUR_PX = 4.0
SOLID_SHARE = 0.9  # of a printed square, springs before it left in
UNEVEN, MOST_UNEVEN = 0.45, 0.3  # of the contrast, of the face
LEAST_SHARE = 0.25  # of a side's points
LOOSE = 0.08  # how far a stated size may be wrong and still be named
LOOSE_EXCESS = 10.0
LOOSE_SUPPORT = 0.7
BETTER_COST = 6.0  # by which another size must be likelier than the stated one
JOINT_SUPPORT = 0.68
JOINT_REACH = (14.0, 0.02)  # px, and tilt
LEAST_OWN = 0.02  # of what the statement tells: below it the photo tells nothing
WRONG_SHARE = 0.003
WRONG_SIGMAS = 5.0
MOST_STRAIN = 16.0  # a sum of about six squares; sound photos stay below 8


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


def is_solid(settled: Settled, level: Level) -> bool:
    """Tell whether the inside of a dark square is dark all over."""
    model = settled.problem.model
    camera = camera_of(settled.theta, settled.problem.priors)
    rim, inside = np.linspace(-0.06, 1.06, 40), np.linspace(0.0, 1.0, 30)
    x0, z0, x1, z1 = model.inner_mm[0]
    for_x, for_z = np.meshgrid(x0 + inside * (x1 - x0), z0 + inside * (z1 - z0))
    dark = _levels(
        level, camera, model, np.column_stack([for_x.ravel(), for_z.ravel()])
    )
    low, high = model.corners(*_flat_ends(model))[[0, 2]]
    across, up = (low + rim[:, None] * (high - low)).T
    around = [
        np.column_stack([across, np.full_like(across, up[0])]),
        np.column_stack([across, np.full_like(across, up[-1])]),
        np.column_stack([np.full_like(up, across[0]), up]),
        np.column_stack([np.full_like(up, across[-1]), up]),
    ]
    bright = np.concatenate([_levels(level, camera, model, part) for part in around])
    middle = 0.5 * (float(np.median(dark)) + float(np.median(bright)))
    return float(np.mean(dark < middle)) > SOLID_SHARE


def uneven_share(
    settled: Settled, level: Level, sides: tuple[SidePoints, ...]
) -> float:
    """Give the share of the face that differs much from the usual level of its part."""
    model = settled.problem.model
    camera = camera_of(settled.theta, settled.problem.priors)
    inside = np.linspace(0.0, 1.0, 24)
    levels = []
    for x0, z0, x1, z1 in model.inner_mm:
        x, z = np.meshgrid(x0 + inside * (x1 - x0), z0 + inside * (z1 - z0))
        flat = np.column_stack([x.ravel(), z.ravel()])
        part = _levels(level, camera, model, flat)
        levels.append(part - np.median(part))  # blade and stock may be of two materials
    strays = np.abs(np.concatenate(levels))
    contrast = max(
        float(np.median(np.abs(side.points.outside - side.points.inside)))
        for side in sides
    )
    return float(np.mean(strays > UNEVEN * contrast))


def check_face(
    photo: Photo, settled: Settled, level: Level, sides: tuple[SidePoints, ...]
) -> None:
    """Refuse an outline whose inside is a patchwork, as a chessboard's is."""
    share = uneven_share(settled, level, sides)
    if share > MOST_UNEVEN:
        raise TargetError(
            photo.name,
            f"shows an outline of the stated sizes, but {100.0 * share:.0f} % of its "
            f"face differ in tone, at most {100.0 * MOST_UNEVEN:.0f} %",
            "Stand a plain target on the plate, with nothing before it",
        )


def _flat_ends(model: TargetModel) -> tuple[Floats, Floats]:
    return model.starts @ model.sizes_mm, model.ends @ model.sizes_mm


def _levels(level: Level, camera: Camera, model: TargetModel, flat: Floats) -> Floats:
    """Read the picture at points (n, 2) of the target's face."""
    world = np.insert(flat, 1, model.face_y_mm, axis=1)
    return levels_at(level, project(camera, world))


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
    least = len(model.sides) - model.spare_sides
    if len(clear) < least:
        raise TargetError(
            photo.name,
            f"shows only {len(clear)} of the target's {len(model.sides)} sides "
            f"clearly, at least {least} are needed",
            "Free the target, focus on it, and give it contrast with what is behind",
        )


def check_sizes(
    photo: Photo, fit: PoseFit, problem: Problem, *, focal_known: bool
) -> None:
    """Refuse when the photo itself contradicts one of the stated sizes.

    ``problem`` is the fit's own before anything was decided about depths. How wide a
    tilted side appears hangs on the focal length: where it is unknown the sizes are
    wrong only if no focal length lets them be right.
    """
    strained, wrong = fit.strain > MOST_STRAIN, _wrong_size(fit)
    if not strained and wrong is None:
        return
    if not focal_known and any(_agrees(each.pose) for each in solve_by_focal(fit)):
        return
    if strained or wrong is None:
        raise ContradictionError(photo.name, _strained(fit, problem), REMEDY_STRAIN)
    raise ContradictionError(photo.name, wrong, REMEDY_SIZES)


def _agrees(fit: PoseFit) -> bool:
    return fit.strain <= MOST_STRAIN and _wrong_size(fit) is None


def _wrong_size(fit: PoseFit) -> str | None:
    """Name the first size that the photo tells otherwise, whatever is stated of it."""
    model, priors = fit.problem.model, fit.problem.priors
    covariance = fit.covariance
    for k, name in enumerate(model.size_names):
        row = SIZES + k
        stated, u_mm = float(model.sizes_mm[k]), float(priors.u[row])
        own = 1.0 / float(covariance[row, row]) - u_mm**-2.0
        if own < LEAST_OWN * u_mm**-2.0:
            continue
        seen = float(fit.theta[row] / covariance[row, row] - stated / u_mm**2) / own
        u_seen = own**-0.5
        gap = abs(seen - stated)
        if gap > WRONG_SIGMAS * np.hypot(u_seen, u_mm) and gap > WRONG_SHARE * stated:
            return _wrong(name, seen, stated)
    return None


def _strained(fit: PoseFit, problem: Problem) -> str:
    """Free one size after the other, and name the one that takes the strain away."""
    model, freed = problem.model, []
    for k, name in enumerate(model.size_names):
        stated, u = float(model.sizes_mm[k]), problem.priors.u.copy()
        u[SIZES + k] = LOOSE * stated
        loose = replace(problem, priors=replace(problem.priors, u=u))
        again, _ = solve_standing(loose, fit.theta)
        wrong = _wrong(name, float(again.theta[SIZES + k]), stated)
        freed.append((again.strain, wrong))
    least, wrong = min(freed)
    if least < 0.5 * min(MOST_STRAIN, fit.strain):
        return wrong
    return (
        "contradicts the stated sizes: the sides miss them and their right angles by "
        f"{np.sqrt(fit.strain):.0f} times their uncertainty"
    )


def contradiction(settled: Settled, level: Level) -> str | None:
    """Tell which stated size, were it another, would let the whole target be seen."""
    model, priors = settled.problem.model, settled.problem.priors
    found: list[tuple[float, str]] = []
    for k, name in enumerate(model.size_names):
        stated, u = float(model.sizes_mm[k]), priors.u.copy()
        u[SIZES + k] = LOOSE * stated
        loose = replace(settled.problem, priors=replace(priors, u=u))
        again = settle_pose(loose, settled.theta, level)
        if again is None or again.missing or not _fits(again):
            continue
        seen = float(again.theta[SIZES + k])
        better = settled.choice.cost - again.choice.cost > BETTER_COST
        if better and abs(seen / stated - 1.0) > WRONG_SHARE:
            found.append((again.choice.cost, _wrong(name, seen, stated)))
    return min(found)[1] if found else None


def _fits(again: Settled) -> bool:
    support = [line.support for line in again.choice.lines if line is not None]
    return again.excess < LOOSE_EXCESS and float(np.min(support)) > LOOSE_SUPPORT


def _wrong(name: str, seen_mm: float, stated_mm: float) -> str:
    return (
        f"contradicts the stated sizes: beside the others a {name} of {seen_mm:.2f} mm "
        f"is seen, {stated_mm:g} mm is stated"
    )


def ways_by_joint(settled: Settled, level: Level) -> tuple[tuple[float, float], ...]:
    """Give the ways in which the stock may stand out, likeliest first.

    Where it does, an edge crosses the blade at the stock's upper edge; without one the
    square is of one piece.
    """
    model = settled.problem.model
    if model.joint is None:
        return model.standouts_mm
    strip = joint_strip(settled.problem, settled.theta, model.joint, JOINT_REACH)
    if any(line.support > JOINT_SUPPORT for line in lines_near(level, strip)):
        return model.standouts_mm[::-1]
    return model.standouts_mm[:1]
