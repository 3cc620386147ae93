"""Photo and reference in, the one target that is surely there out, or a refusal."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from calib.camera import Intrinsics, expected_intrinsics, project
from calib.errors import TargetError
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
from calib.target.level import (
    CLEAR_SUPPORT,
    Level,
    full_level,
    middle_copy,
    middle_level,
)
from calib.target.paper import paper_margins_mm
from calib.target.points import (
    doubted_model,
    kept_sides,
    locate_sides,
    observed_points,
    offset_u_px,
)
from calib.target.search import FINE_PX, Place, search_places
from calib.target.settle import (
    Settled,
    apparent_extent_px,
    is_reflection,
    settle_place,
    settle_round,
)
from calib.target.square_card import square_card_models
from calib.target.try_square import try_square_models
from calib.target.verify import (
    REMEDY_SIZES,
    check_face,
    check_points,
    check_sizes,
    check_view,
    contradiction,
    is_solid,
    ways_by_joint,
)

Models = Callable[[Reference], tuple[TargetModel, ...]]

TARGETS: dict[type, Models] = {
    TrySquare: try_square_models,
    SquareCard: square_card_models,
}

MOST_TRIED = 6
GOOD_EXCESS = 10.0  # squared u; the wrong edges cost 25 and more
GOOD_SUPPORT = 0.55
LAST_REACH_PX = 10.0
LAST_TILT = 0.01
MARGIN_PX = 40.0
AGAIN_SHARE = 0.8  # of the best one's support: a second target


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
    good = _good_ones(places, middle, inner)
    if not good:
        finer = search_places(copy, photo.size_px, models, FINE_PX)
        good = _good_ones(finer, middle, inner)
    if not good:
        raise _none_found(photo, places, middle, inner)
    settled = _only_one(photo, good, middle)
    check_view(photo, settled)
    return _look_closely(photo, settled, middle, inner)


def _good_ones(
    places: tuple[Place, ...], level: Level, inner: Intrinsics
) -> list[Settled]:
    """Settle the likeliest places and keep those that fit."""
    good: list[Settled] = []
    for place in places[:MOST_TRIED]:
        if any(_overlap(place, other) for other in good):
            continue
        settled = settle_place(place, level, inner)
        if settled and _is_good(settled, level):
            good.append(settled)
    return good


def _only_one(photo: Photo, good: list[Settled], level: Level) -> Settled:
    """Give the one that fits best; refuse where another fits as well.

    What lacks a side is no rival of a whole one, nor is a target's own reflection in
    a glossy plate.
    """
    good = [each for each in good if not any(is_reflection(each, one) for one in good)]
    best = min(good, key=_rank)
    rivals = [each for each in good if each is not best]
    rivals = [each for each in rivals if each.missing <= best.missing]
    if any(each.support > AGAIN_SHARE * best.support for each in rivals):
        raise TargetError(
            photo.name,
            f"shows {len(rivals) + 1} shapes like the {_name(best)}",
            "Leave one target in the picture",
        )
    if best.missing:
        _refuse_contradiction(photo, contradiction(best, level))
    return best


def _refuse_contradiction(photo: Photo, wrong: str | None) -> None:
    if wrong is not None:
        raise TargetError(photo.name, wrong, REMEDY_SIZES)


def _none_found(
    photo: Photo, places: tuple[Place, ...], level: Level, inner: Intrinsics
) -> TargetError:
    """Say why: sizes that contradict the best place, or nothing there at all."""
    for place in places[:1]:
        settled = settle_place(place, level, inner)
        wrong = settled and contradiction(settled, level)
        if wrong:
            return TargetError(photo.name, wrong, REMEDY_SIZES)
    return TargetError(
        photo.name,
        "shows no target of the stated sizes",
        "Stand the target upright on the plate, facing the camera and free of other "
        "things, and check kind and sizes in the reference file",
    )


def _is_good(settled: Settled, level: Level) -> bool:
    model = settled.problem.model
    fits = settled.excess < GOOD_EXCESS and settled.support >= GOOD_SUPPORT
    fits = fits and settled.missing <= model.spare_sides
    fits = fits and not (settled.missing and _is_guessed(settled))
    return fits and (not model.brighter_outside or is_solid(settled, level))


def _is_guessed(settled: Settled) -> bool:
    """Tell whether a side rests on a part of it that luminance does not show.

    Springs before a target have edges of their own in their own colour.
    """
    return any(
        line is not None and line.channel is not None and line.support < CLEAR_SUPPORT
        for line in settled.choice.lines
    )


def _rank(settled: Settled) -> float:
    return settled.choice.cost - 40.0 * settled.support


def _name(settled: Settled) -> str:
    return settled.problem.model.kind.value.replace("-", " ")


def _overlap(place: Place, settled: Settled) -> bool:
    camera = camera_of(settled.theta, settled.problem.priors)
    pivot_px = project(camera, settled.problem.priors.pivot_mm)[0]
    extent_px = apparent_extent_px(settled.problem, settled.theta)
    return float(np.hypot(*(pivot_px - place.pivot_px))) < 0.5 * extent_px


def _look_closely(
    photo: Photo, settled: Settled, middle: Level, inner: Intrinsics
) -> Sight:
    """Locate the sides in full size and solve with all their points."""
    outline = outline_px(settled.problem, settled.theta)
    level = full_level(photo, outline, MARGIN_PX)
    reach = (LAST_REACH_PX, LAST_TILT)
    last = settle_round(settled.problem, settled.theta, level, reach) or settled
    sides = locate_sides(last, level)
    model = settled.problem.model
    check_points(photo, model, sides)
    check_face(photo, last, level, sides)
    if len(sides) < len(model.sides):
        _refuse_contradiction(photo, contradiction(settled, middle))
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
