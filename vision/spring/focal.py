"""A calibration without a focal length and the row in; what both together tell out.

The target was solved once for each focal length that may be. For each of them the
row's feet, sizes and tops are held against what it makes of them; the cases are then
weighed by how likely they make all that is seen (Bayes), and the mean camera comes
with the spread of the others (law of total covariance).
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.interpolate import PchipInterpolator

from calib.records import Calibration, Floats, Variant
from vision.spring.alike import Sizes, compare_sizes, read_sizes
from vision.spring.feet import learn_from_feet
from vision.spring.foot import Foot
from vision.spring.moving import (
    Belief,
    moved_calibration,
    nothing_known,
    pivot_of,
    step_between,
    stepped,
    variant_of,
    varied,
)
from vision.spring.sayings import foot_seen_from
from vision.spring.solid import Seen
from vision.spring.tops import Slope, believed_slope, learn_from_tilts, weigh_tilts

NEGLIGIBLE = 14.0  # a case that is a millionth as likely as another
BETWEEN = 10  # steps from one case to the next, between which all is interpolated
LEAST_KIND = 0.002  # how likely whole (or cut) pictures must be to count
LEAST_SHARE = 0.02  # of the largest direction in which the cases scatter

ReadFeet = Callable[[Calibration], list[tuple[Seen, Foot]]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Case:
    """A calibration with one focal length, how it sees the springs, what they tell."""

    log_share: float
    cut: bool
    calibration: Calibration
    sizes: Sizes
    belief: Belief

    @property
    def log_weight(self) -> float:
        return self.log_share + self.belief.log_evidence


def settle_focal(
    calibration: Calibration, seen: tuple[Seen, ...], read_feet: ReadFeet
) -> Calibration:
    """Settle camera and focal length on target and row together."""
    sized = _likely([_with_sizes(case) for case in _cases(calibration, seen)])
    feet = read_feet(_joined(sized))
    likely = _likely([_with_feet(case, feet) for case in sized])
    return _joined(_likely(_with_tops(likely, seen)))


def _cases(calibration: Calibration, seen: tuple[Seen, ...]) -> list[_Case]:
    cases = []
    for each in calibration.focal_cases:
        alone = replace(
            calibration,
            camera=each.camera,
            edge_offset_px=each.edge_offset_px,
            variants=each.variants,
            focal_known=True,
            focal_cases=(),
        )
        cases.append(
            _Case(
                log_share=each.log_share,
                cut=each.cut,
                calibration=alone,
                sizes=read_sizes(alone, seen),
                belief=nothing_known(alone),
            )
        )
    return cases


def _likely(cases: list[_Case]) -> list[_Case]:
    """Leave out the shortest and the longest that are out of the question."""
    least = max(case.log_weight for case in cases) - NEGLIGIBLE
    kept: list[_Case] = []
    for some in _kinds(cases):
        possible = [k for k, case in enumerate(some) if case.log_weight > least]
        kept += some[possible[0] : possible[-1] + 1] if possible else []
    return kept


def _kinds(cases: list[_Case]) -> list[list[_Case]]:
    """Part the cases of whole pictures from those of cut ones."""
    kinds = ([case for case in cases if case.cut is cut] for cut in (False, True))
    return [some for some in kinds if some]


def _with_sizes(case: _Case) -> _Case:
    return replace(case, belief=compare_sizes(case.belief, case.sizes))


def _with_feet(case: _Case, feet: list[tuple[Seen, Foot]]) -> _Case:
    held = (foot_seen_from(case.calibration, seen, foot) for seen, foot in feet)
    standing = [foot for foot in held if foot is not None]
    belief = learn_from_feet(case.calibration, case.belief, standing)
    return replace(case, belief=belief)


def _with_tops(cases: list[_Case], seen: tuple[Seen, ...]) -> list[_Case]:
    """Weigh the tops' tilts once, over all slopes that the cases make possible."""
    slopes = [believed_slope(case.calibration, case.belief, seen) for case in cases]
    best = max(cases, key=lambda case: case.log_weight)
    expected = _spread_of(_shares([case.log_weight for case in cases]), slopes)
    tilts = weigh_tilts(best.calibration, best.belief, seen, expected)
    return [
        replace(case, belief=learn_from_tilts(case.belief, slope, tilts))
        for case, slope in zip(cases, slopes, strict=True)
    ]


def _spread_of(shares: Floats, slopes: list[Slope]) -> tuple[float, float]:
    """Mean and u of the slope over all cases."""
    means = np.array([slope.mean for slope in slopes])
    inner = np.array([slope.u for slope in slopes])
    mean = float(shares @ means)
    return mean, float(np.sqrt(shares @ (inner**2 + (means - mean) ** 2)))


def _shares(logs: list[float] | Floats) -> Floats:
    weights = np.exp(np.asarray(logs) - np.max(logs))
    return np.asarray(weights / weights.sum())


def _joined(cases: list[_Case]) -> Calibration:
    """Take the mean of all cases, weighed by how likely whole and cut pictures are."""
    kinds = _kinds(cases)
    logs = [
        float(np.logaddexp.reduce([case.log_weight for case in some])) for some in kinds
    ]
    shares = _shares(logs)
    most = int(np.argmax(shares))
    mean, share = _mean_of(kinds[most]), float(shares[most])
    if 1.0 - share < LEAST_KIND:
        return mean
    return _mixed(mean, _mean_of(kinds[1 - most]), share)


def _mixed(likelier: Calibration, other: Calibration, share: float) -> Calibration:
    """Take the mean of two calibrations; what they differ by becomes a variant."""
    pivot = pivot_of(likelier)
    apart = step_between(likelier, other, pivot)
    centre = stepped(likelier, (1.0 - share) * apart, pivot)
    between = stepped(centre, np.sqrt(share * (1.0 - share)) * apart, pivot)
    source = f"cut or whole|{likelier.photo_sha256[:12]}"
    return replace(
        centre,
        variants=(
            *_carried_over(likelier, centre, pivot, weight=share),
            *(
                replace(each, source=f"else {each.source}")
                for each in _carried_over(other, centre, pivot, weight=1.0 - share)
            ),
            variant_of(centre, between, source, "whether the picture was cut"),
        ),
    )


def _mean_of(cases: list[_Case]) -> Calibration:
    """Take the cases' mean; their scatter becomes variants beside those of one case."""
    settled = [moved_calibration(case.calibration, case.belief) for case in cases]
    base = settled[len(settled) // 2]
    pivot = pivot_of(base)
    fine = np.linspace(0.0, len(cases) - 1.0, BETWEEN * (len(cases) - 1) + 1)
    shares = _shares(_between([case.log_weight for case in cases], fine))
    between = _between([step_between(base, each, pivot) for each in settled], fine)
    mean = shares @ between
    centre = stepped(base, mean, pivot)
    scatter = np.sqrt(shares)[:, None] * (between - mean)
    others = (stepped(centre, step, pivot) for step in _directions(scatter))
    return replace(
        centre,
        variants=(
            *_carried_over(settled[round(float(shares @ fine))], centre, pivot),
            *(
                variant_of(
                    centre,
                    other,
                    f"focal length {number}|{base.photo_sha256[:12]}",
                    "focal length",
                )
                for number, other in enumerate(others, start=1)
            ),
        ),
    )


def _between(values: list[float] | list[Floats], places: Floats) -> Floats:
    """Interpolate along cases 0, 1, 2, ...; nothing overshoots where one stands out."""
    if len(values) == 1:
        return np.asarray(values)
    return np.asarray(PchipInterpolator(np.arange(len(values)), values)(places))


def _carried_over(
    near: Calibration, centre: Calibration, pivot: Floats, weight: float = 1.0
) -> list[Variant]:
    """Give the variants of a calibration that is near to another, as the other's.

    Their variances count with the weight.
    """
    steps = (step_between(near, varied(near, each), pivot) for each in near.variants)
    moved = (stepped(centre, np.sqrt(weight) * step, pivot) for step in steps)
    return [
        variant_of(centre, other, each.source, each.label)
        for each, other in zip(near.variants, moved, strict=True)
    ]


def _directions(scatter: Floats) -> Floats:
    """Give few steps (k, n) with the same covariance as many (m, n)."""
    unit = np.maximum(np.abs(scatter).max(axis=0), 1e-12)
    _, sizes, rows = np.linalg.svd(scatter / unit, full_matrices=False)
    kept = sizes > LEAST_SHARE * max(float(sizes[0]), 1e-12)
    return np.asarray((sizes[:, None] * rows * unit)[kept])
