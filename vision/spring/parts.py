"""Edge points of both flanks in, the widest points of coils seen in part out.

Bright wire before a dark card, and shiny wire before any, is at some place round its
end as bright as what is behind it: no edge is seen there, and often none beyond the
widest point. Such an end's circle is told by all ends of both flanks together.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from calib.records import EdgePoints, Floats, Rows
from calib.runs import split_runs
from vision.spring.alike_ends import AlikeEnds, fit_alike
from vision.spring.coil_ends import Course, Ends, padded
from vision.spring.flank import (
    Coils,
    Flank,
    Sight,
    course_of,
    find_coils,
    lay_out,
)

LEAST_POINTS = 5
LEAST_TURN = 0.45  # radian by which a part must turn
NEAREST_TURN = 0.7  # radian from the widest point to which it must come
SAME_END = 0.7  # radii between circles' centres within which parts are one end's
MOST_RMS, LEAST_RMS_PX = 2.5, 0.2  # medians of the rms beyond which an end is none
MOST_U_PX, MOST_U = 0.3, 0.03  # of widest points: px, and as a share of the radius
MOST_TURN_APART = 1.75  # turns without an end; one may melt away altogether
COURSES = 3  # rounds in which ends and their courses settle
SOUND_ROUNDS = 3  # in which ends that are none are left out
LEAST_ENDS = 4  # that tell of one radius

Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Parts(Rows):
    """Points of n ends as seen from the foot, their flanks (n,), first centres (n, 2).

    ``points_px``, ``there`` and ``spread_px2`` are those of `Ends`.
    """

    points_px: Floats
    there: Mask
    spread_px2: Floats
    flank: NDArray[np.intp]
    centres_px: Floats

    @property
    def ends(self) -> Ends:
        return Ends(
            points_px=self.points_px, there=self.there, spread_px2=self.spread_px2
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Run:
    """One run of edge points (n, 2) of a flank, with normals (n, 2)."""

    flank: int
    points_px: Floats
    normals: Floats
    spread_px2: float

    @property
    def turned(self) -> float:
        """Radian from end to end."""
        return float(np.ptp(self.angles))

    @property
    def angles(self) -> Floats:
        """Radian (n,) from the widest point."""
        return np.arctan2(self.normals[:, 1], self.normals[:, 0])

    @property
    def radius_px(self) -> float:
        """By how much points move as normals turn."""
        turn = self.normals - self.normals.mean(axis=0)
        return float(np.sum(self.points_px * turn) / max(np.sum(turn**2), 1e-9))

    def centre_px(self, radius_px: float) -> Floats:
        """Where a circle of a radius has its centre (2,)."""
        return np.median(self.points_px - radius_px * self.normals, axis=0)


def find_parts(
    flanks: tuple[EdgePoints, EdgePoints],
    axis_px: Floats,
    sights: tuple[Sight, Sight],
) -> tuple[Coils, Coils]:
    """Find each coil's widest point by all ends of both flanks at once.

    The wire is taken to be wound the way that its ends fit better.
    """
    sides = [
        lay_out(flank, axis_px, sight)
        for flank, sight in zip(flanks, sights, strict=True)
    ]
    runs = [run for number, each in enumerate(sides) for run in _runs(each, number)]
    if len(runs) < LEAST_ENDS:
        return find_coils(flanks, axis_px, sights)
    usual = _usual_radius(runs)
    parts = _joined(runs, usual)
    left, right = min(
        (_wind(parts, sides, usual, hand) for hand in (1, -1)), key=lambda each: each[0]
    )[1]
    return left, right


def _runs(flank: Flank, number: int) -> list[_Run]:
    """Split a flank between its coils; what does not turn is no part of an end."""
    local, tilt = flank.local_px, np.clip(flank.tilts, -1.0, 1.0)
    normals = np.column_stack([np.sqrt(1.0 - tilt**2), tilt])
    found = [
        _Run(
            flank=number,
            points_px=local[run],
            normals=normals[run],
            spread_px2=flank.spread_px2,
        )
        for run in split_runs(local[:, 0], local[:, 1], LEAST_POINTS)
        if len(run) >= LEAST_POINTS
    ]
    return [
        run
        for run in found
        if run.turned > LEAST_TURN and np.abs(run.angles).min() < NEAREST_TURN
    ]


def _usual_radius(runs: list[_Run]) -> float:
    """Usual radius in px by normals; runs that turn farther tell it better."""
    radii = np.array([run.radius_px for run in runs])
    order = np.argsort(radii)
    weight = np.cumsum(np.array([run.turned for run in runs])[order] ** 3)
    return max(float(radii[order][np.searchsorted(weight, weight[-1] / 2)]), 1.0)


def _joined(runs: list[_Run], usual_px: float) -> _Parts:
    """Take parts of one end together: above and below where it melts away."""
    groups: list[list[_Run]] = []
    for run in runs:
        centre = run.centre_px(usual_px)
        last = groups[-1] if groups and groups[-1][0].flank == run.flank else None
        if last is not None:
            before = np.mean([each.centre_px(usual_px) for each in last], axis=0)
            if np.linalg.norm(centre - before) < SAME_END * usual_px:
                last.append(run)
                continue
        groups.append([run])
    ends = padded(
        [np.vstack([run.points_px for run in each]) for each in groups],
        [each[0].spread_px2 for each in groups],
    )
    return _Parts(
        points_px=ends.points_px,
        there=ends.there,
        spread_px2=ends.spread_px2,
        flank=np.array([each[0].flank for each in groups]),
        centres_px=np.array(
            [
                np.mean([run.centre_px(usual_px) for run in each], axis=0)
                for each in groups
            ]
        ),
    )


def _wind(
    parts: _Parts, sides: list[Flank], usual_px: float, hand: int
) -> tuple[float, tuple[Coils, Coils]]:
    """Follow the wire wound to the right (+1) or left (-1): how badly it fits, coils.

    Ends that fit much worse than most are something else's, and go.
    """
    fitted, radius, u_radius = _follow_course(parts, sides, usual_px, hand)
    for _ in range(SOUND_ROUNDS):
        worst = max(MOST_RMS * float(np.median(fitted.rms_px)), LEAST_RMS_PX)
        sound = fitted.rms_px <= worst
        if sound.all():
            break
        parts = parts.chosen(sound)
        fitted, radius, u_radius = _follow_course(parts, sides, usual_px, hand)
    sure = fitted.u_px < max(MOST_U_PX, MOST_U * radius)
    sure[sure] = _follow_on(parts.flank[sure], fitted.centres_px[sure, 1])
    left, right = (
        _coils(fitted.chosen(sure & (parts.flank == number)), side, radius, u_radius)
        for number, side in enumerate(sides)
    )
    return float(np.mean(fitted.rms_px)), (left, right)


def _follow_on(flank: NDArray[np.intp], up_px: Floats) -> Mask:
    """Tell ends (n,) that follow one another from those too far beyond the others.

    Wire passes one of the flanks every half turn: what comes after almost two turns
    without any is another thing's, and would vouch for a top edge that is no spring's.
    """
    gaps = [np.diff(np.sort(up_px[flank == number])) for number in (0, 1)]
    turn = np.concatenate(gaps)
    if len(turn) == 0:
        return np.ones(len(up_px), dtype=bool)
    order = np.argsort(up_px)
    apart = np.diff(up_px[order]) > MOST_TURN_APART * float(np.median(turn))
    group = np.concatenate([[0], np.cumsum(apart)])
    kept = np.zeros(len(up_px), dtype=bool)
    kept[order] = group == np.argmax(np.bincount(group))
    return kept


def _follow_course(
    parts: _Parts, sides: list[Flank], usual_px: float, hand: int
) -> tuple[AlikeEnds, float, float]:
    """Fit circles with the course of the wire's axis taken off, see `fit_alike`."""
    course = _courses(parts.flank, parts.centres_px, sides, usual_px, hand)
    fitted, radius, u_radius = fit_alike(parts.ends, course, parts.centres_px, usual_px)
    for _ in range(COURSES - 1):
        course = _courses(parts.flank, fitted.centres_px, sides, radius, hand)
        fitted, radius, u_radius = fit_alike(
            parts.ends, course, parts.centres_px, usual_px
        )
    return fitted, radius, u_radius


def _courses(
    flank: NDArray[np.intp],
    centres_px: Floats,
    sides: list[Flank],
    radius_px: float,
    hand: int,
) -> Course:
    """Give the courses of the wire of both flanks' ends, the left one's first."""
    outward, up = centres_px.T
    radii = np.maximum(outward, 2 * radius_px)
    return Course.joined(
        [
            course_of(up[flank == number], radii[flank == number], side.sight, hand)
            for number, side in enumerate(sides)
        ]
    )


def _coils(
    ends: AlikeEnds, flank: Flank, radius_px: float, u_radius_px: float
) -> Coils:
    widest = ends.centres_px + np.array([radius_px, 0.0])
    return Coils(
        side=flank.sight.side,
        points_px=flank.foot_px + widest @ flank.frame,
        radius_px=np.full(len(widest), radius_px),
        u_px=ends.u_px,
        outward=flank.frame[0],
        u_wire_px=u_radius_px,
    )
