"""A likely place in, the pose and the straight edges that settle there out."""

from dataclasses import dataclass, replace

import numpy as np

from calib.camera import Intrinsics
from calib.pose.model import Observed
from calib.pose.solve import Problem, even_weights, solve_pose
from calib.pose.unknowns import (
    UNLIKELY_COST,
    make_priors,
    seen_depths,
    similar_pose,
    standing_ways,
)
from calib.records import Floats
from calib.target.choose import MISSING_COST, SPOTS, Choice, choose_lines, spots_on
from calib.target.level import Level, expected_strips, lines_near
from calib.target.search import SMALL_PX, Place
from calib.target.strip import Line, Strip

FIRST_REACH = 0.04  # of the target's extent, beside the search's own px
FIRST_TILT = 0.06
NEXT_TILT = 0.02
LINE_U_PX = 0.7  # of the level in which a line is seen


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Settled:
    """A place settled: pose, the lines chosen and all lines that stood for choice."""

    problem: Problem
    theta: Floats
    choice: Choice
    strips: tuple[Strip, ...]
    lines: tuple[tuple[Line, ...], ...]
    place: Place

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
    extent_px = float(np.max(place.model.extent_mm)) * place.px_per_mm
    small = max(inner.size_px) / SMALL_PX
    first = settle_round(
        problem,
        theta,
        level,
        (FIRST_REACH * extent_px + 3.0 * small, FIRST_TILT),
        place,
    )
    if first is None:
        return None
    reach_px = 0.01 * extent_px + 4.0 * level.shrink
    return settle_round(problem, first.theta, level, (reach_px, NEXT_TILT), place)


def settle_round(
    problem: Problem,
    theta: Floats,
    level: Level,
    reach: tuple[float, float],
    place: Place,
) -> Settled | None:
    """Look for lines near the present pose, choose, and solve the pose anew."""
    priors = seen_depths(problem.priors, theta, problem.model)
    strips = expected_strips(problem, theta, *reach)
    lines = tuple(lines_near(level, strip) for strip in strips)
    u_px = LINE_U_PX * level.shrink
    ways = []
    for number, way in enumerate(standing_ways(priors, problem.model)):
        standing = replace(problem, priors=way)
        for choice in choose_lines(standing, theta, strips, lines, u_px)[:1]:
            ways.append((choice.cost + UNLIKELY_COST * number, standing, choice))
    if not ways:
        return None
    _, problem, choice = min(ways, key=lambda way: way[0])
    fit = solve_pose(
        replace(problem, observed=lines_observed(strips, choice, u_px)),
        choice.theta,
        even_weights,
    )
    return Settled(
        problem=problem,
        theta=fit.theta,
        choice=choice,
        strips=strips,
        lines=lines,
        place=place,
    )


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
