"""Several straight edges near each side in, the set that is one known target out.

Bevels, the blade's thickness, its shadow, the plate's edge and springs give edges
beside the wanted ones. Only the wanted ones agree with the target's sizes under one
camera, so every combination is solved (linearly, near the present pose) and compared.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np

from calib.pose.model import Observed
from calib.pose.solve import Problem, remaining, slopes_at
from calib.records import Floats
from calib.target.strip import Line, Strip

MISSING_COST = 14.0  # a side left out costs as much as 3.7 u
THIN_COST = 8.0  # a side of which hardly anything is seen
MOST_PER_SIDE = 4
MOST_LEFT_OUT = 2
SPOTS = np.array([-0.9, 0.0, 0.9])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Choice:
    """One line (or none) per side, what the combination costs, and its unknowns."""

    lines: tuple[Line | None, ...]
    cost: float
    theta: Floats

    @property
    def seen(self) -> tuple[int, ...]:
        """Indices of the sides that have a line."""
        return tuple(k for k, line in enumerate(self.lines) if line is not None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Linear:
    """One side near the present pose: slopes (3, unknowns), distances of its spots."""

    slopes: Floats
    away: Floats
    lines: tuple[Line, ...]


def spots_on(strip: Strip, line: Line) -> Floats:
    """Give picture points (3, 2) that stand for a line."""
    away = line.offset_px + line.tilt_px * SPOTS
    return _between(strip, strip.points_px) + away[:, None] * _between(
        strip, strip.normals
    )


def _between(strip: Strip, values: Floats) -> Floats:
    columns = [np.interp(SPOTS, strip.along, values[:, k]) for k in range(2)]
    return np.column_stack(columns)


def unseen_cost(line: Line | None) -> float:
    """Give what a side costs of which not all is seen, or nothing."""
    return MISSING_COST if line is None else THIN_COST * (1.0 - line.support)


def choose_lines(
    problem: Problem,
    theta: Floats,
    strips: tuple[Strip, ...],
    lines: tuple[tuple[Line, ...], ...],
    u_px: float,
) -> tuple[Choice, ...]:
    """Give the combinations of one line a side, cheapest first; at most 8 of them."""
    sides = _linear_sides(problem, theta, strips, lines)
    open_sides = [k for k, side in enumerate(sides) if side.lines]
    least = max(len(sides) - MOST_LEFT_OUT, 3)
    choices: list[Choice] = []
    for used in product((True, False), repeat=len(open_sides)):
        chosen = [k for k, use in zip(open_sides, used, strict=True) if use]
        if len(chosen) >= least:
            choices += _cheapest(problem, theta, sides, chosen, u_px)
    return tuple(sorted(choices, key=lambda choice: choice.cost)[:8])


def _linear_sides(
    problem: Problem,
    theta: Floats,
    strips: tuple[Strip, ...],
    lines: tuple[tuple[Line, ...], ...],
) -> list[Linear]:
    """Differentiate each side's distances at three spots of the expected side."""
    rest = Line(offset_px=0.0, tilt_px=0.0, support=1.0, brightens=1)
    points = np.vstack([spots_on(strip, rest) for strip in strips])
    count = len(strips)
    observed = Observed(
        points_px=points,
        side=np.repeat(np.arange(count), len(SPOTS)),
        along=np.tile(SPOTS, count),
        u_px=np.ones(len(points)),
    )
    nearby = Problem(observed=observed, model=problem.model, priors=problem.priors)
    away = remaining(theta, nearby)
    slopes = slopes_at(theta, nearby).reshape(count, len(SPOTS), -1)
    away = away.reshape(count, len(SPOTS))
    sides = []
    for k in range(count):
        best = sorted(lines[k], key=lambda line: -line.support)[:MOST_PER_SIDE]
        sides.append(Linear(slopes=slopes[k], away=away[k], lines=tuple(best)))
    return sides


def _cheapest(
    problem: Problem,
    theta: Floats,
    sides: list[Linear],
    chosen: list[int],
    u_px: float,
) -> list[Choice]:
    """Solve all combinations of lines over the chosen sides at once."""
    priors = problem.priors
    gap = (theta - priors.estimate) / priors.u
    normal = np.diag(priors.u**-2.0)
    for k in chosen:
        normal += sides[k].slopes.T @ sides[k].slopes / u_px**2
    combos = list(product(*(range(len(sides[k].lines)) for k in chosen)))
    pulls = np.tile(gap / priors.u, (len(combos), 1))
    costs = np.full(len(combos), float(gap @ gap))
    picked = np.array(combos)
    for column, k in enumerate(chosen):
        side = sides[k]
        left = np.array(
            [side.away + line.offset_px + line.tilt_px * SPOTS for line in side.lines]
        )
        thin = np.array([unseen_cost(line) for line in side.lines])
        own = np.sum(left**2, axis=1) / u_px**2 + thin
        pulls += (left @ side.slopes / u_px**2)[picked[:, column]]
        costs += own[picked[:, column]]
    moves = np.linalg.solve(normal, pulls.T).T
    costs += MISSING_COST * (len(sides) - len(chosen)) - np.sum(pulls * moves, axis=1)
    best = np.argsort(costs)[:4]
    return [
        Choice(
            lines=_laid_out(sides, chosen, combos[index]),
            cost=float(costs[index]),
            theta=theta - moves[index],
        )
        for index in best
    ]


def _laid_out(
    sides: list[Linear], chosen: list[int], combo: tuple[int, ...]
) -> tuple[Line | None, ...]:
    lines: list[Line | None] = [None] * len(sides)
    for k, index in zip(chosen, combo, strict=True):
        lines[k] = sides[k].lines[index]
    return tuple(lines)
