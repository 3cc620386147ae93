"""Likely places in; the targets that settle there out, or why there is none."""

import numpy as np

from calib.camera import Intrinsics, project
from calib.errors import ContradictionError, TargetError
from calib.pose.unknowns import camera_of
from calib.records import Photo
from calib.target.level import CLEAR_SUPPORT, Level
from calib.target.search import Place
from calib.target.settle import (
    Settled,
    apparent_extent_px,
    is_reflection,
    settle_place,
)
from calib.target.verify import REMEDY_SIZES, contradiction, is_solid

MOST_TRIED = 6
GOOD_EXCESS = 10.0  # squared u; the wrong edges cost 25 and more
DOUBTFUL_EXCESS = 12.5  # as things before a target cost; looked at where none is good
GOOD_SUPPORT = 0.55
AGAIN_SHARE = 0.8  # of the best one's support: a second target


def good_ones(
    places: tuple[Place, ...],
    level: Level,
    inner: Intrinsics,
    most_excess: float = GOOD_EXCESS,
) -> list[Settled]:
    """Settle the likeliest places and keep those that fit, one of each place.

    One that lacks a side may have been settled from too far off to see it.
    """
    good: list[Settled] = []
    for place in places[:MOST_TRIED]:
        here = [each for each in good if _overlap(place, each)]
        if any(not each.missing for each in here):
            continue
        settled = settle_place(place, level, inner)
        if settled is None or not _is_good(settled, level, most_excess):
            continue
        if all(settled.missing < each.missing for each in here):
            good = [*(each for each in good if each not in here), settled]
    return good


def likeliest(
    photo: Photo, good: list[Settled], level: Level
) -> tuple[Settled, list[Settled]]:
    """Give the one that fits best, and those that fit about as well.

    What lacks a side is no rival of a whole one, nor is a target's own reflection in
    a glossy plate.

    Raises
    ------
    ContradictionError
        It lacks a side, which another size would let be seen.
    """
    good = [each for each in good if not any(is_reflection(each, one) for one in good)]
    best = min(good, key=_rank)
    rivals = [each for each in good if each is not best]
    rivals = [each for each in rivals if each.missing <= best.missing]
    if best.missing:
        refuse_contradiction(photo, contradiction(best, level))
    return best, [each for each in rivals if each.support > AGAIN_SHARE * best.support]


def refuse_contradiction(photo: Photo, wrong: str | None) -> None:
    """Raise what contradicts the stated sizes, if anything does."""
    if wrong is not None:
        raise ContradictionError(photo.name, wrong, REMEDY_SIZES)


def none_found(
    photo: Photo, places: tuple[Place, ...], level: Level, inner: Intrinsics
) -> TargetError:
    """Say why: sizes that contradict the best place, or nothing there at all."""
    for place in places[:1]:
        settled = settle_place(place, level, inner)
        wrong = settled and contradiction(settled, level)
        if wrong:
            return ContradictionError(photo.name, wrong, REMEDY_SIZES)
    return TargetError(
        photo.name,
        "shows no target of the stated sizes",
        "Stand the target upright on the plate, facing the camera and free of other "
        "things, and check kind and sizes in the reference file",
    )


def _is_good(settled: Settled, level: Level, most_excess: float) -> bool:
    model = settled.problem.model
    fits = settled.excess < most_excess and settled.support >= GOOD_SUPPORT
    fits = fits and settled.missing <= model.spare_sides
    fits = fits and not (settled.missing and is_guessed(settled))
    return fits and (not model.brighter_outside or is_solid(settled, level))


def is_guessed(settled: Settled) -> bool:
    """Tell whether a side rests on a part of it that luminance does not show.

    Springs before a target have edges of their own in their own colour.
    """
    return any(
        line is not None and line.channel is not None and line.support < CLEAR_SUPPORT
        for line in settled.choice.lines
    )


def _rank(settled: Settled) -> float:
    return settled.choice.cost - 40.0 * settled.support


def name_of(settled: Settled) -> str:
    """Give the kind of target in words."""
    return settled.problem.model.kind.value.replace("-", " ")


def _overlap(place: Place, settled: Settled) -> bool:
    camera = camera_of(settled.theta, settled.problem.priors)
    pivot_px = project(camera, settled.problem.priors.pivot_mm)[0]
    extent_px = apparent_extent_px(settled.problem, settled.theta)
    return float(np.hypot(*(pivot_px - place.pivot_px))) < 0.5 * extent_px
