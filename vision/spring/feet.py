"""The row's feet in; what they say of the camera out.

Every spring stands on the same plate, and where its foot's near edge is seen, the row
itself tells where the plate lies over its whole length. The feet are observations of
the calibration's variants (JCGM 100:2008, F.1.2.4: correlated estimates from common
data), solved as linear least squares with prior. Where the gap of a ground end faces
the lens the wire is seen higher than the plate, and a gap at the side makes a foot
seem fuller: such feet are told from the others by their share in a mixture of all.
"""

from dataclasses import dataclass, replace

import numpy as np

from calib.records import Calibration, Floats, Rows
from vision.spring.budget import U_DEPTH_MM, U_FLAT_MM
from vision.spring.foot import (
    U_RIM,
    U_RIM_PART,
    U_RIM_SHARED,
    Foot,
    basis,
    expected_edge,
    find_foot,
    near_edge,
)
from vision.spring.moving import Belief, joined, nothing_known
from vision.spring.solid import Seen

U_LEVEL_PX, U_BULGE_PX = 0.08, 0.3  # one foot that stands
# The contact shadow puts a foot's edge lower, most where light comes from behind.
SHADOW_PX, BACKLIT_SHADOW_PX, U_SHADOW_PX = 0.17, 0.37, 0.15
U_COMMON_BULGE_PX = 0.1
# Where the plate before a foot is this dark, as a share of the backdrop, so much of its
# contact shadow may be taken for its edge; a third lighter, next to nothing.
DIM, U_DIM_PX, DIM_POWER = 0.1, 0.7, 6
INSET = 0.1  # of the wire's radius: a step by which a rim is moved
# What a value may be of: its share, how far to its odd side in px, and the spread of
# that. Feet stand, or show the beginning of a gap, or a gap; few are wrong the other
# way: a chip, a stain. Measured on 215 feet under the true cameras.
LEVELS = ((0.45, 0.0, 0.0), (0.27, 0.2, 0.25), (0.23, 0.9, 0.5), (0.05, 0.0, 3.0))
BULGES = ((0.55, 0.0, 0.0), (0.4, 1.0, 1.0), (0.05, -1.0, 1.0))
STANDS_PX = 0.5  # what may be farther off is a gap or a fault, no foot that stands
MOST_HYPOTHESES = 200  # of which feet stand and which do not
LEAST_STANDING = 1.5  # feet that must stand, by their shares, for the row to count


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Hypotheses(Rows):
    """Beliefs (h, m), (h, m, m) if certain feet stand, and how likely that is (h,).

    ``standing`` (h,) counts the feet that do.
    """

    means: Floats
    covariances: Floats
    logs: Floats
    standing: Floats


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Sayings:
    """What n feet's levels and bulges say: values, effects (n, m), own u, odd side.

    The last three of the m unknowns are the shadow, the bulge and the rim's place that
    all feet share.
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
    lower, _, fuller = _shape_of(((before - now) * down).sum(axis=1))
    return replace(
        expected,
        lower_px=foot.lower_px + float(lower),
        fuller_px=None if foot.fuller_px is None else foot.fuller_px + float(fuller),
        plate=foot.plate,
    )


def learn_from_feet(calibration: Calibration, feet: list[Foot]) -> Belief:
    """Say what the feet make of the variants: nothing where too few of them stand.

    Each value in turn splits every hypothesis into those of a foot that stands, of a
    gap and of a stain; the likeliest go on.
    """
    if not feet:
        return nothing_known(calibration)
    said = _sayings(calibration, feet)
    open_to = said.effects.shape[1]
    known = _Hypotheses(
        means=np.zeros((1, open_to)),
        covariances=np.eye(open_to)[None],
        logs=np.zeros(1),
        standing=np.zeros(1),
    )
    for value in range(len(said.seen_px)):
        known = _likeliest(_split(known, said, value))
    count = len(calibration.variants)
    learnt = joined(
        known.logs, known.means[:, :count], known.covariances[:, :count, :count]
    )
    shares = np.exp(known.logs - learnt.log_evidence)
    if shares @ known.standing < LEAST_STANDING:
        return replace(nothing_known(calibration), log_evidence=learnt.log_evidence)
    return learnt


def _split(known: _Hypotheses, said: _Sayings, value: int) -> _Hypotheses:
    """Update every hypothesis by a value, for each kind of foot that it may be of."""
    effect, odd = said.effects[value], said.odd[value]
    along = known.covariances @ effect
    before = along @ effect
    parts = []
    for share, gap_px, gap_u_px in LEVELS if odd < 0.0 else BULGES:
        spread = before + said.own_px[value] ** 2 + gap_u_px**2
        rest = said.seen_px[value] - odd * gap_px - known.means @ effect
        gain = along / spread[:, None]
        stands = float(odd < 0.0 and gap_px + gap_u_px < STANDS_PX)
        parts.append(
            _Hypotheses(
                means=known.means + gain * rest[:, None],
                covariances=known.covariances - gain[:, :, None] * along[:, None],
                logs=known.logs
                + np.log(share)
                - 0.5 * (rest**2 / spread + np.log(2 * np.pi * spread)),
                standing=known.standing + stands,
            )
        )
    return _Hypotheses.joined(parts)


def _likeliest(known: _Hypotheses) -> _Hypotheses:
    return known.chosen(np.argsort(-known.logs)[:MOST_HYPOTHESES])


def _sayings(calibration: Calibration, feet: list[Foot]) -> _Sayings:
    """Write each foot's level and bulge as linear in the unknowns."""
    seen, effects, own, odd = [], [], [], []
    for foot in feet:
        shapes, px_per_mm = _shapes(calibration, foot)
        depth = U_DEPTH_MM * shapes[-1]
        flat = U_FLAT_MM * px_per_mm
        rim = _rim_shape(calibration, foot)
        shared = U_RIM_SHARED * rim
        seen.append(foot.lower_px - _shadow_px(foot))
        effects.append([*shapes[:-1, 0], U_SHADOW_PX, 0.0, shared[0]])
        dim = U_DIM_PX * (DIM / foot.plate_share) ** DIM_POWER
        part = U_RIM_PART * rim[0]
        own.append(np.linalg.norm([U_LEVEL_PX, part, depth[0], flat, dim]))
        odd.append(-1.0)
        if foot.fuller_px is not None:
            seen.append(foot.fuller_px)
            effects.append([*shapes[:-1, 2], 0.0, U_COMMON_BULGE_PX, shared[2]])
            own.append(np.linalg.norm([U_BULGE_PX, U_RIM * rim[2], depth[2]]))
            odd.append(1.0)
    return _Sayings(
        seen_px=np.array(seen),
        effects=np.array(effects),
        own_px=np.array(own),
        odd=np.array(odd),
    )


def _shadow_px(foot: Foot) -> float:
    return BACKLIT_SHADOW_PX if foot.is_lit_from_behind else SHADOW_PX


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
    return _shape_of(lower), px_per_mm


def _shape_of(lower_px: Floats) -> Floats:
    """Level, slope and bulge (..., 3) of how much lower edges lie (..., columns)."""
    return np.asarray(lower_px @ np.linalg.pinv(basis()).T)


def _rim_shape(calibration: Calibration, foot: Foot) -> Floats:
    """Level, slope and bulge (3,) that a rim one radius of the wire behind has."""
    base, down, _ = expected_edge(foot, calibration.camera)
    inset = near_edge(foot, calibration.camera, 0.0, inset_mm=INSET * foot.wire_mm)
    return _shape_of(((inset - base) * down).sum(axis=1) / INSET)
