"""Photo and reference in, the one target that is surely there out, or a refusal."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from calib.camera import Intrinsics, expected_intrinsics, project
from calib.errors import ContradictionError, TargetError
from calib.pose.lines import side_ends
from calib.pose.model import TargetModel
from calib.pose.solve import PoseFit, Problem
from calib.pose.stand import PLAIN_STRAIN, Rival, solve_standing
from calib.pose.unknowns import camera_of, make_priors
from calib.records import (
    Floats,
    Photo,
    Reference,
    Sighting,
    SquareCard,
    TargetKind,
    TrySquare,
)
from calib.target.doubts import (
    bent_model,
    doubted_model,
    observed_points,
    offset_u_px,
)
from calib.target.level import Level, full_level, middle_copy, middle_level
from calib.target.likely import (
    DOUBTFUL_EXCESS,
    good_ones,
    is_guessed,
    likeliest,
    name_of,
    none_found,
    refuse_contradiction,
)
from calib.target.paper import paper_margins_mm
from calib.target.points import kept_sides, locate_sides
from calib.target.search import FINE_PX, search_places
from calib.target.settle import Settled, settle_round
from calib.target.square_card import square_card_models
from calib.target.try_square import try_square_models
from calib.target.verify import (
    check_face,
    check_points,
    check_sizes,
    check_view,
    contradiction,
    ways_by_joint,
)

Models = Callable[[Reference], tuple[TargetModel, ...]]

TARGETS: dict[type, Models] = {
    TrySquare: try_square_models,
    SquareCard: square_card_models,
}

LAST_REACH_PX = 10.0
LAST_TILT = 0.01
MARGIN_PX = 40.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sight:
    """A sighting with the camera that saw it, and poses that might be meant instead."""

    sighting: Sighting
    fit: PoseFit
    rivals: tuple[Rival, ...]
    box_mm: tuple[float, float, float, float]


def find_target(
    photo: Photo, reference: Reference, inner: Intrinsics | None = None
) -> Sighting:
    """Find the target's sides in a photo to sub-pixel.

    Raises
    ------
    TargetError
        None is found, or several; it is cut off, small or blurred; or its shape
        contradicts the sizes stated for it.
    """
    inner = inner or expected_intrinsics(photo)
    return sight_target(photo, reference, inner).sighting


def sight_target(photo: Photo, reference: Reference, inner: Intrinsics) -> Sight:
    """Find the target and solve the camera that saw it; raises as ``find_target``."""
    models = TARGETS[type(reference.shape)](reference)
    copy = middle_copy(photo)
    middle = middle_level(photo, copy)
    places = search_places(copy, photo.size_px, models)
    good = good_ones(places, middle, inner)
    if not good:
        finer = search_places(copy, photo.size_px, models, FINE_PX)
        good = good_ones(finer, middle, inner)
    if not good:
        good = good_ones(places, middle, inner, DOUBTFUL_EXCESS)
    if not good:
        raise none_found(photo, places, middle, inner)
    settled, rivals = likeliest(photo, good, middle)
    sight = _look_closely(photo, settled, middle, inner)
    again = sum(_is_rival(photo, each, middle, inner) for each in rivals)
    if again:
        raise TargetError(
            photo.name,
            f"shows {again + 1} shapes like the {name_of(settled)}",
            "Leave one target in the picture",
        )
    return sight


def _is_rival(photo: Photo, settled: Settled, middle: Level, inner: Intrinsics) -> bool:
    """Tell whether what fits about as well as a target may be one.

    None is what contradicts the stated sizes when looked at closely, nor a thing that
    springs before it make up to one.
    """
    if is_guessed(settled):
        return False
    try:
        _look_closely(photo, settled, middle, inner)
    except ContradictionError:
        return False
    except TargetError:  # cut off, or too little of it seen: it may be one
        return True
    return True


def _look_closely(
    photo: Photo, settled: Settled, middle: Level, inner: Intrinsics
) -> Sight:
    """Locate the sides in full size and solve with all their points."""
    check_view(photo, settled)
    outline = outline_px(settled.problem, settled.theta)
    level = full_level(photo, outline, MARGIN_PX)
    reach = (LAST_REACH_PX, LAST_TILT)
    last = settle_round(settled.problem, settled.theta, level, reach) or settled
    sides = locate_sides(last, level)
    model = settled.problem.model
    check_points(photo, model, sides)
    check_face(photo, last, level, sides)
    if len(sides) < len(model.sides):
        refuse_contradiction(photo, contradiction(settled, middle))
    model = doubted_model(model, sides)
    problem = Problem(
        observed=observed_points(sides),
        model=replace(model, standouts_mm=ways_by_joint(last, level)),
        priors=make_priors(model, inner, offset_u_px(sides)),
    )
    fit, rivals = solve_standing(problem, last.theta)
    if fit.strain > PLAIN_STRAIN:  # a joint may be there unseen
        problem = replace(problem, model=model)
        fit, rivals = solve_standing(problem, last.theta)
    if (bent := bent_model(problem.model, fit)) is not problem.model:
        believed = make_priors(bent, inner, offset_u_px(sides))
        problem = replace(problem, model=bent, priors=believed)
        fit, rivals = solve_standing(problem, fit.theta)
    check_sizes(photo, fit, problem, focal_known=inner.knows_focal)
    kept = kept_sides(sides, fit.weight, problem.model.names)
    blur = np.concatenate([side.points.blur_px for side in kept])
    sighting = Sighting(
        kind=model.kind,
        direction=problem.model.direction,
        sides=kept,
        corners_px=outline_px(fit.problem, fit.theta),
        blur_px=float(np.median(blur)),
    )
    box_mm = covered_box_mm(middle, fit)
    return Sight(sighting=sighting, fit=fit, rivals=rivals, box_mm=box_mm)


def covered_box_mm(level: Level, fit: PoseFit) -> tuple[float, float, float, float]:
    """Give (x, z, x, z) of what the target covers; of a card, with its paper."""
    model = fit.problem.model
    ends = np.vstack([model.starts @ model.sizes_mm, model.ends @ model.sizes_mm])
    (left, _), (right, top) = ends.min(axis=0), ends.max(axis=0)
    if model.kind is TargetKind.SQUARE_CARD:
        margins = paper_margins_mm(level, fit.camera, model)
        left, right, top = left - margins[0], right + margins[1], top + margins[2]
    return float(left), 0.0, float(right), float(top)


def outline_px(problem: Problem, theta: Floats) -> Floats:
    """Give the picture of the target's corners, once round."""
    first, last = side_ends(theta, problem.model)
    corners = problem.model.corners(first, last)
    return project(camera_of(theta, problem.priors), corners)
