"""The row's feet in; what they say of the camera out.

Every spring stands on the same plate, and where its foot's near edge is seen, the row
itself tells where the plate lies over its whole length. The feet are observations of
the calibration's variants (JCGM 100:2008, F.1.2.4: correlated estimates from common
data), solved as linear least squares with prior. Where the gap of a ground end faces
the lens the wire is seen higher than the plate, and a gap at the side makes a foot
seem fuller: such feet are told from the others by their share in a mixture of both.
"""

from dataclasses import dataclass, replace

import numpy as np

from calib.records import Calibration, Floats
from vision.spring.budget import U_DEPTH_MM, U_FLAT_MM
from vision.spring.foot import (
    RIM,
    U_RIM,
    Foot,
    basis,
    expected_edge,
    find_foot,
    near_edge,
)
from vision.spring.moving import Belief, nothing_known
from vision.spring.solid import Seen

U_LEVEL_PX, U_BULGE_PX = 0.15, 0.4  # one foot that stands
SHADOW_PX, U_SHADOW_PX = 0.3, 0.15  # with light from behind, the foot's edge is lower
U_COMMON_BULGE_PX = 0.2
GAP_PX = 1.0  # how much higher a gap is seen
GAP_SHARE = 0.4  # of the feet that show one
ODD_SHARE = 0.05  # feet that are wrong the other way: a chip, a stain
ROUNDS = (4.0, 4.0, 2.0, 2.0, 1.0, 1.0, 1.0)  # own u, wide at first, for the mixture
LEAST_STANDING = 1.5  # feet that must stand, by their shares, for the row to count


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sayings:
    """What n feet's levels and bulges say: values, effects (n, m), own u, odd side.

    The last two of the m unknowns are the shadow and the bulge that all feet share.
    ``odd`` is -1 where a gap makes the value smaller, 1 where it makes it larger.
    """

    seen_px: Floats
    effects: Floats
    own_px: Floats
    odd: Floats


def doubts_px(calibration: Calibration, foot: Foot) -> Floats:
    """How far off a foot may be expected: u in px of level, slope and bulge (3,)."""
    shapes, _ = _shapes(calibration, foot)
    shapes[-1] *= U_DEPTH_MM
    return np.asarray(np.sqrt((shapes**2).sum(axis=0)))


def foot_seen_from(calibration: Calibration, seen: Seen, foot: Foot) -> Foot | None:
    """Hold a foot that was read against what another calibration expects there."""
    expected = find_foot(calibration, seen)
    if expected is None:
        return None
    before, _, _ = expected_edge(foot, foot.stance.camera)
    now, down, _ = expected_edge(expected, expected.stance.camera)
    lower, _, fuller = np.linalg.pinv(basis()) @ ((before - now) * down).sum(axis=1)
    return replace(
        expected,
        lower_px=foot.lower_px + float(lower),
        fuller_px=None if foot.fuller_px is None else foot.fuller_px + float(fuller),
        plate=foot.plate,
    )


def learn_from_feet(calibration: Calibration, feet: list[Foot]) -> Belief:
    """Say what the feet make of the variants: nothing where too few of them stand."""
    if not feet:
        return nothing_known(calibration)
    said = _sayings(calibration, feet)
    mean, covariance = np.zeros(said.effects.shape[1]), np.eye(said.effects.shape[1])
    share = np.ones(len(said.seen_px))
    for wide in ROUNDS:
        mean, covariance = _posterior(said, wide * said.own_px / np.sqrt(share))
        rest = said.seen_px - said.effects @ mean
        share = _standing(rest, wide * said.own_px, said.odd)
    evidence = _log_evidence(said, mean, covariance)
    if share[said.odd < 0].sum() < LEAST_STANDING:
        return replace(nothing_known(calibration), log_evidence=evidence)
    count = len(calibration.variants)
    return Belief(
        mean=mean[:count],
        covariance=covariance[:count, :count],
        log_evidence=evidence,
    )


def _sayings(calibration: Calibration, feet: list[Foot]) -> _Sayings:
    """Write each foot's level and bulge as linear in the unknowns."""
    seen, effects, own, odd = [], [], [], []
    for foot in feet:
        shapes, px_per_mm = _shapes(calibration, foot)
        level = foot.lower_px - (SHADOW_PX if foot.is_lit_from_behind else 0.0)
        level += RIM * foot.rim_px
        depth = U_DEPTH_MM * shapes[-1]
        flat = U_FLAT_MM * px_per_mm
        seen.append(level)
        effects.append([*shapes[:-1, 0], U_SHADOW_PX, 0.0])
        rim = U_RIM * foot.rim_px
        own.append(np.sqrt(U_LEVEL_PX**2 + rim**2 + depth[0] ** 2 + flat**2))
        odd.append(-1.0)
        if foot.fuller_px is not None:
            seen.append(foot.fuller_px)
            effects.append([*shapes[:-1, 2], 0.0, U_COMMON_BULGE_PX])
            own.append(float(np.hypot(U_BULGE_PX, depth[2])))
            odd.append(1.0)
    return _Sayings(
        seen_px=np.array(seen),
        effects=np.array(effects),
        own_px=np.array(own),
        odd=np.array(odd),
    )


def _shapes(calibration: Calibration, foot: Foot) -> tuple[Floats, float]:
    """Level, slope and bulge (n + 1, 3) by which each variant moves a foot's near edge.

    The last row is for a foot 1 mm farther away; beside it the scale in px per mm.
    """
    base, down, px_per_mm = expected_edge(foot, calibration.camera)
    moved = [
        near_edge(foot, each.camera, each.axis_plane_shift_mm)
        for each in calibration.variants
    ]
    moved.append(near_edge(foot, calibration.camera, 1.0))
    lower = np.array([((each - base) * down).sum(axis=1) for each in moved])
    return lower @ np.linalg.pinv(basis()).T, px_per_mm


def _posterior(said: _Sayings, u_px: Floats) -> tuple[Floats, Floats]:
    """Mean and covariance of the unknowns, given the feet."""
    effects = said.effects
    noise = np.diag(u_px**2)
    gain = effects.T @ np.linalg.inv(effects @ effects.T + noise)
    covariance = np.eye(effects.shape[1]) - gain @ effects
    return gain @ said.seen_px, (covariance + covariance.T) / 2


def _log_evidence(said: _Sayings, mean: Floats, covariance: Floats) -> float:
    """Logarithm of how likely the feet are, by Laplace's approximation at the mean."""
    rest = said.seen_px - said.effects @ mean
    likely = np.log(sum(_densities(rest, said.own_px, said.odd))).sum()
    return float(likely - 0.5 * (mean @ mean - np.linalg.slogdet(covariance)[1]))


def _standing(rest: Floats, u_px: Floats, odd: Floats) -> Floats:
    """Probability (n,) that a foot stands as expected, and is no gap or stain."""
    sound, wrong = _densities(rest, u_px, odd)
    return np.asarray(np.maximum(sound / (sound + wrong), 1e-6))


def _densities(rest: Floats, u_px: Floats, odd: Floats) -> tuple[Floats, Floats]:
    """How likely feet are seen so (n,), per px: such that stand, and all others."""
    sound = np.exp(-0.5 * (rest / u_px) ** 2) / (u_px * np.sqrt(2 * np.pi))
    share = np.where(rest * odd > 0, GAP_SHARE, ODD_SHARE)
    wide = np.hypot(GAP_PX, u_px)
    wrong = share * np.exp(-np.abs(rest) / wide) / wide
    return (1 - GAP_SHARE) * sound, wrong
