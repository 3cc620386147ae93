"""The row's springs in; what their apparent sizes say of the camera, as belief, out.

Springs of one set have nearly the same outside diameter. Where they seem to grow along
the row, the row comes nearer to the lens there: it is turned against the target, whose
face the frame follows. The logarithms of the sizes are observations of the
calibration's variants (JCGM 100:2008, F.1.2.4), linear with prior; of a kind's own size
nothing is known. How far a set scatters is not known either, nor whether a spring or
some springs are of another make: each such case is solved, and the beliefs are joined
by how likely they make what is seen (Bayes).
"""

from dataclasses import dataclass

import numpy as np

from calib.records import Calibration, Floats
from vision.spring.axis import Axis, solve_axes
from vision.spring.budget import U_DEPTH_MM, U_EDGE_PX, base_stance, shared_shifts
from vision.spring.moving import Belief, joined
from vision.spring.rays import Stance
from vision.spring.solid import Seen

WHOLE_COILS = 7  # with fewer a spring shows too few heights to be compared with others
KIND_GAP = 0.04  # kinds of spring, as of two valves, differ by more of the diameter
SCATTERS = (0.002, 0.004, 0.008, 0.016)  # of a set's diameters, and how likely each is:
SCATTER_SHARES = (0.25, 0.5, 0.2, 0.05)  # common practice, worse when flanks are poor
OTHER = 0.03  # how far another make differs that was not told apart by `KIND_GAP`
ODD_SHARE, MIXED_SHARE = 0.1, 0.1  # rows with one such spring, with two makes
HEIGHTS = 9  # at which radii are compared: tapered springs differ along themselves
OPEN = 1.0  # of a kind's size nothing is known


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sizes:
    """Logarithms of n springs' radii, smallest first: effects (n, m), own u, kind."""

    seen: Floats
    effects: Floats
    own: Floats
    kinds: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Case:
    """Which springs (n,) are of another make than those of their kind: how likely."""

    other: Floats
    share: float


def learn_from_sizes(
    calibration: Calibration, belief: Belief, seen: tuple[Seen, ...]
) -> Belief:
    """Change the belief by what equal springs say: nothing where none has its like."""
    return compare_sizes(belief, read_sizes(calibration, seen))


def compare_sizes(belief: Belief, sizes: Sizes) -> Belief:
    """Change the belief by sizes that were read under its calibration."""
    if len(np.unique(sizes.kinds)) == len(sizes.seen):
        return belief
    solved = [
        _solved(sizes, belief, case, scatter, np.log(case.share * share))
        for case in _cases(sizes)
        for scatter, share in zip(SCATTERS, SCATTER_SHARES, strict=True)
    ]
    return joined(
        np.array([log for log, _ in solved]) + belief.log_evidence,
        np.array([each.mean for _, each in solved]),
        np.array([each.covariance for _, each in solved]),
    )


def read_sizes(calibration: Calibration, seen: tuple[Seen, ...]) -> Sizes:
    """Write each spring's size as linear in the variants, beside others of its kind."""
    base = base_stance(calibration)
    stances = [each.stance for each in shared_shifts(calibration, base)]
    rows = [row for each in seen if (row := _axes(base, stances, each)) is not None]
    whole = [row for row in rows if _is_whole(row[0])]
    rows = whole if 2 * len(whole) >= len(rows) else rows
    rows.sort(key=lambda row: _mean_mm(row[0]))
    radii = np.array([_mean_mm(row[0]) for row in rows])
    kinds = np.cumsum(np.diff(np.log(radii), prepend=np.log(radii[:1])) > KIND_GAP)
    found = np.zeros((len(rows), len(stances) + 1))
    for kind in np.unique(kinds):
        which = np.flatnonzero(kinds == kind)
        found[which] = _compared([rows[k] for k in which])
    edge_mm = U_EDGE_PX * base.mm_per_px
    noise_mm = np.array([_u_size_mm(row[0]) for row in rows])
    own = (noise_mm**2 + edge_mm**2) / radii**2 + (U_DEPTH_MM / base.distance_mm) ** 2
    return Sizes(
        seen=found[:, 0],
        effects=found[:, 1:] - found[:, :1],
        own=np.sqrt(own),
        kinds=kinds,
    )


def _axes(base: Stance, stances: list[Stance], seen: Seen) -> list[Axis] | None:
    """Solve the axis under base and variants; None where too little is seen."""
    try:
        return list(solve_axes((base, *stances), seen.left, seen.right))
    except ValueError:
        return None


def _mean_mm(axis: Axis) -> float:
    return float(axis.knot_radii_mm.mean())


def _compared(rows: list[list[Axis]]) -> Floats:
    """Logarithms of mean radii (n, m + 1) over heights that all springs show.

    Springs that show little but their tops are compared from the top down: at one
    height a taller spring of a tapered set shows another coil.
    """
    if all(_is_whole(row[0]) for row in rows):
        low = max(row[0].knots_mm[0] for row in rows)
        high = min(row[0].knots_mm[-1] for row in rows)
        places, top = np.linspace(low, max(low, high), HEIGHTS), 0.0
    else:
        span = min(float(np.ptp(row[0].knots_mm)) for row in rows)
        places, top = np.linspace(-span, 0.0, HEIGHTS), 1.0
    radii = [
        [axis.radii_at(places + top * axis.knots_mm[-1]).mean() for axis in row]
        for row in rows
    ]
    return np.asarray(np.log(radii))


def _is_whole(axis: Axis) -> bool:
    """Tell whether a spring shows coils enough to be compared height by height."""
    return len(axis.sides) >= WHOLE_COILS


def _u_size_mm(axis: Axis) -> float:
    """Give the u of a spring's mean radius; single knots of few coils say nothing."""
    return axis.u_radius_mm if _is_whole(axis) else axis.u_mean_mm


def _cases(sizes: Sizes) -> list[_Case]:
    """One make in each kind; one odd spring; two makes, told apart by size."""
    count = len(sizes.seen)
    odd = list(np.eye(count))
    mixed = [
        (sizes.kinds == kind) & (np.arange(count) <= last)
        for kind in np.unique(sizes.kinds)
        for last in np.flatnonzero(sizes.kinds == kind)[1:-2]
    ]
    sole = 1.0 - ODD_SHARE - MIXED_SHARE
    return [
        _Case(other=np.zeros(count), share=sole),
        *(_Case(other=each, share=ODD_SHARE / count) for each in odd),
        *(
            _Case(other=each.astype(float), share=MIXED_SHARE / len(mixed))
            for each in mixed
        ),
    ]


def _solved(
    sizes: Sizes, belief: Belief, case: _Case, scatter: float, log_share: float
) -> tuple[float, Belief]:
    """Update the belief in one case; beside it the log likelihood of what is seen."""
    same = sizes.kinds[:, None] == sizes.kinds[None]
    effects, apart = sizes.effects, OTHER * case.other
    along = effects @ belief.covariance
    spread = along @ effects.T + OPEN**2 * same + np.outer(apart, apart)
    spread += np.diag(sizes.own**2 + scatter**2)
    rest = -(sizes.seen + effects @ belief.mean)
    for kind in np.unique(sizes.kinds):
        rest[sizes.kinds == kind] -= rest[sizes.kinds == kind].mean()
    gain = np.linalg.solve(spread, along).T
    covariance = belief.covariance - gain @ along
    learnt = Belief(
        mean=belief.mean + gain @ rest, covariance=(covariance + covariance.T) / 2
    )
    misfit = float(rest @ np.linalg.solve(spread, rest))
    return log_share - 0.5 * (misfit + np.linalg.slogdet(spread)[1]), learnt
