"""Ends of coils that were seen in, places where others may lie added.

Wire passes a flank once in a turn, half a turn after the other flank: ends lie a pitch
apart on each, and midway between those of the other. One flank may be in the light and
the other as dark as what is behind it; then the one tells where to look on the other.
"""

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from calib.records import EdgePoints, Floats

WHOLE_TURN = 1.5  # times the pitch: ends farther apart are more than a turn apart
HULL_ROUNDS = 3  # that leave the outermost eighth of a flank's edges
LEAST_EDGES = 7  # that show how a flank runs

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ends:
    """Circles of the coils' ends on one flank: centres (n, 2) px, radii (n,), support.

    ``outward`` is the flank's direction in the picture; ``turned`` by how much of a
    radian each end was seen.
    """

    outward: Floats
    centres_px: Floats
    radii_px: Floats
    turned: Floats

    def chosen(self, which: Mask) -> "Ends":
        """Those ends that ``which`` (n,) tells."""
        return replace(
            self,
            centres_px=self.centres_px[which],
            radii_px=self.radii_px[which],
            turned=self.turned[which],
        )


def half_turns(other: Ends, up: Floats, pitch_px: float) -> Floats:
    """Heights (n,) where ends may be, told by the other flank's, half a turn away."""
    height = np.sort(other.centres_px @ up)
    if len(height) == 0:
        return height
    within = [
        (low + high) / 2
        for low, high in pairwise(height)
        if high - low < WHOLE_TURN * pitch_px
    ]
    half = pitch_px / 2
    return np.array([height[0] - half, *within, height[-1] + half])


def follow_flank(ends: Ends, flank: EdgePoints, up: Floats, usual_px: float) -> Floats:
    """Heights and how far out (2, n) the wire's axis runs along a flank.

    A flank without two ends is followed by the outermost of its edges.
    """
    height, out = ends.centres_px @ up, ends.centres_px @ ends.outward
    if len(height) > 1:
        order = np.argsort(height)
        return np.vstack([height[order], out[order]])
    height, out = flank.points_px @ up, flank.points_px @ ends.outward
    if len(height) < LEAST_EDGES:
        return np.zeros((2, 0))
    line = np.zeros(2)
    for _ in range(HULL_ROUNDS):
        line = np.polyfit(height, out, 1)
        outer = out >= np.polyval(line, height)
        if np.count_nonzero(outer) < LEAST_EDGES:
            break
        height, out = height[outer], out[outer]
    span = np.array([height.min(), height.max()])
    return np.vstack([span, np.polyval(line, span) - usual_px])


def fill_in(
    ends: Ends,
    up: Floats,
    usual_px: float,
    run_px: tuple[float, Floats],
    between_px: Floats,
    course: Floats,
) -> Ends:
    """Add ends where one may be between others, or beyond the first and the last.

    What is added is a guess, to be kept only where edges are found around it: at the
    usual pitch, and half a turn from the other flank's ends (``between_px``).
    ``run_px`` is the pitch, and foot and top; ``course`` how the flank runs, see
    `follow_flank`.
    """
    pitch_px, reach_px = run_px
    if course.shape[1] == 0 or np.ptp(course[0]) == 0:
        return ends
    height = np.sort(ends.centres_px @ up)
    there = between_px
    if len(height) > 1:
        there = np.append(there, _by_pitch(height, usual_px, pitch_px))
    there = there[(there > reach_px[0]) & (there < reach_px[1] - usual_px / 2)]
    slope = np.polyfit(course[0], course[1], 1)[0]
    past = there - np.clip(there, course[0, 0], course[0, -1])
    out = np.interp(there, course[0], course[1]) + slope * past
    added = there[:, None] * up + out[:, None] * ends.outward
    return Ends(
        outward=ends.outward,
        centres_px=np.vstack([ends.centres_px, added]),
        radii_px=np.append(ends.radii_px, np.full(len(added), usual_px)),
        turned=np.append(ends.turned, np.zeros(len(added))),
    )


def _by_pitch(height_px: Floats, usual_px: float, pitch_px: float) -> Floats:
    """Heights (n,) between two or more ends and beyond them, a pitch apart."""
    guesses = [
        np.linspace(low, high, round((high - low) / pitch_px) + 1)[1:-1]
        for low, high in pairwise(height_px)
    ]
    beyond = _beyond(usual_px, pitch_px)
    return np.concatenate([*guesses, height_px[0] - beyond, height_px[-1] + beyond])


def _beyond(usual_px: float, pitch_px: float) -> Floats:
    """How far past the last end another may lie: coils close up towards the ends.

    From coils that touch to a whole pitch, half a wire apart: a guess reaches as far.
    """
    steps = round((pitch_px - 2 * usual_px) / usual_px) + 1
    return np.linspace(2 * usual_px, pitch_px, max(steps, 2))
