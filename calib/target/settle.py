"""A likely place in, the pose and the straight edges that settle there out."""

from dataclasses import dataclass, replace

import numpy as np

from calib.camera import Intrinsics, project
from calib.pose.model import Observed
from calib.pose.solve import Problem, even_weights, solve_pose
from calib.pose.unknowns import (
    FOCAL,
    PLACE,
    TURN,
    UNLIKELY_COST,
    Priors,
    camera_of,
    make_priors,
    seen_depths,
    similar_pose,
    standing_ways,
)
from calib.records import Floats
from calib.target.choose import (
    MISSING_COST,
    SPOTS,
    Choice,
    choose_lines,
    spots_on,
    unseen_cost,
)
from calib.target.level import Level, expected_strips, lines_near
from calib.target.search import SMALL_PX, Place
from calib.target.strip import Line, Strip

FIRST_REACH = 0.04  # of the target's extent, beside the search's own px
ROUGH_SHARE = 0.14  # of the smallest target in a copy: that is what its px come to
FIRST_TILT = 0.11  # the search's steps of roll are wide for a small target
NEXT_TILT = 0.02
MOST_TURN = 0.6  # rad
MOST_DRAWN = 1.5  # of the focal length's logarithm
MOST_FRAMES = 2.0  # how many frames wide a target can seem
LEAST_VIEW_PX = 10.0  # smaller than any place that is searched for
MIRRORED_SHARE = 0.15  # of its size, by which a reflection may lie off its place
LINE_U_PX = 0.7  # of the level in which a line is seen


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settled:
    """A place settled: its pose, and the lines chosen in strips along its sides."""

    problem: Problem
    theta: Floats
    choice: Choice
    strips: tuple[Strip, ...]

    @property
    def missing(self) -> int:
        """How many sides have no line."""
        return sum(line is None for line in self.choice.lines)

    @property
    def excess(self) -> float:
        """What the combination costs beyond its missing sides."""
        return self.choice.cost - MISSING_COST * self.missing

    @property
    def support(self) -> float:
        """How much of the outline is seen, 0..1."""
        shares = [line.support if line else 0.0 for line in self.choice.lines]
        return float(np.mean(shares))


def settle_place(place: Place, level: Level, inner: Intrinsics) -> Settled | None:
    """Settle a place in two rounds; None when no combination of edges fits."""
    priors = make_priors(place.model, inner)
    problem = Problem(observed=_nothing(), model=place.model, priors=priors)
    theta = similar_pose(priors, place.pivot_px, place.px_per_mm, place.roll_rad)
    return settle_pose(problem, theta, level)


def settle_pose(problem: Problem, theta: Floats, level: Level) -> Settled | None:
    """Settle from a rough pose, searching wide and then near."""
    extent_px = apparent_extent_px(problem, theta)
    small = max(problem.priors.size_px) / SMALL_PX
    rough = min(3.0 * small, ROUGH_SHARE * extent_px)
    wide = (FIRST_REACH * extent_px + rough, FIRST_TILT)
    first = settle_round(problem, theta, level, wide)
    if first is None:
        return None
    near = (0.01 * extent_px + 4.0 * level.shrink, NEXT_TILT)
    return settle_round(problem, first.theta, level, near)


def apparent_extent_px(problem: Problem, theta: Floats) -> float:
    """Give how large the target appears in the photo."""
    px_per_mm = float(np.exp(theta[FOCAL] - theta[PLACE + 2]))
    return float(np.max(problem.model.extent_mm)) * px_per_mm


def settle_round(
    problem: Problem, theta: Floats, level: Level, reach: tuple[float, float]
) -> Settled | None:
    """Look for lines near the present pose, choose, and solve the pose anew.

    ``reach`` is how far beside an expected side its edge may lie, in px, and how far
    its end, per half its length.
    """
    priors = seen_depths(problem.priors, theta, problem.model)
    strips = expected_strips(problem, theta, *reach)
    lines = tuple(_of_right_sense(problem, lines_near(level, each)) for each in strips)
    u_px = LINE_U_PX * level.shrink
    found: list[tuple[int, Priors, Choice]] = []
    for number, way in enumerate(standing_ways(priors, problem.model)):
        standing = replace(problem, priors=way)
        choices = choose_lines(standing, theta, strips, lines, u_px)
        found += [(number, way, each) for each in _fullest(choices)]
    tries = []
    for number, way, choice in found:
        settled = _solved(replace(problem, priors=way), choice, strips, u_px)
        if settled is not None:
            tries.append((settled.choice.cost + UNLIKELY_COST * number, settled))
    if not tries:
        return None
    _, best = min(tries, key=lambda each: each[0])
    return replace(best, problem=problem)


def _fullest(choices: tuple[Choice, ...]) -> list[Choice]:
    """Keep the cheapest choice, and the cheapest of those that miss fewer sides.

    Costs are linear about a pose that may be far off: a side left out may fit yet.
    """
    kept: list[Choice] = []
    for each in choices:
        if not kept or len(each.seen) > len(kept[-1].seen):
            kept.append(each)
    return kept


def _solved(
    problem: Problem, choice: Choice, strips: tuple[Strip, ...], u_px: float
) -> Settled | None:
    """Solve the pose for a choice, whose cost becomes that of the solution."""
    if not _is_view(choice.theta, problem):
        return None
    observed = lines_observed(strips, choice, u_px)
    standing = replace(problem, observed=observed)
    fit = solve_pose(standing, choice.theta, even_weights)
    if not _is_view(fit.theta, problem):
        return None
    cost = fit.cost + sum(unseen_cost(line) for line in choice.lines)
    return Settled(
        problem=standing,
        theta=fit.theta,
        choice=replace(choice, cost=float(cost)),
        strips=strips,
    )


def _of_right_sense(problem: Problem, lines: tuple[Line, ...]) -> tuple[Line, ...]:
    """Keep the edges that brighten outward, where every side of the target does."""
    wanted = problem.model.brighter_outside
    return tuple(line for line in lines if wanted in (0, line.brightens))


def _is_view(theta: Floats, problem: Problem) -> bool:
    """Tell whether a pose can be a front view of the target at all."""
    turned = float(np.max(np.abs(theta[TURN : TURN + 3])))
    drawn = abs(float(theta[FOCAL] - problem.priors.estimate[FOCAL]))
    if not np.all(np.isfinite(theta)) or turned > MOST_TURN or drawn > MOST_DRAWN:
        return False
    extent_px = apparent_extent_px(problem, theta)
    return LEAST_VIEW_PX < extent_px < MOST_FRAMES * max(problem.priors.size_px)


def is_reflection(settled: Settled, other: Settled) -> bool:
    """Tell whether one stands where the plate shows the other upside down."""
    upright = camera_of(other.theta, other.problem.priors)
    mirrored_mm = other.problem.priors.pivot_mm * (1.0, 1.0, -1.0)
    camera = camera_of(settled.theta, settled.problem.priors)
    pivot_px = project(camera, settled.problem.priors.pivot_mm)[0]
    off_px = float(np.hypot(*(project(upright, mirrored_mm)[0] - pivot_px)))
    return off_px < MIRRORED_SHARE * apparent_extent_px(other.problem, other.theta)


def lines_observed(strips: tuple[Strip, ...], choice: Choice, u_px: float) -> Observed:
    """Let three points stand for each chosen line."""
    points, sides = [], []
    for k, line in enumerate(choice.lines):
        if line is not None:
            points.append(spots_on(strips[k], line))
            sides.append(k)
    count = len(sides)
    return Observed(
        points_px=np.vstack(points),
        side=np.repeat(np.array(sides), len(SPOTS)),
        along=np.tile(SPOTS, count),
        u_px=np.full(count * len(SPOTS), u_px),
    )


def _nothing() -> Observed:
    none = np.zeros(0)
    return Observed(
        points_px=np.zeros((0, 2)), side=none.astype(np.int64), along=none, u_px=none
    )
