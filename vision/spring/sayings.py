"""Feet that were read in; what each says, linear in the unknowns of the camera, out.

The unknowns are the calibration's variants, and what all feet of a row have in common:
how far the contact shadow lowers their edges, how much they bulge besides, and where
on the ground wire the rim lies.
"""

from dataclasses import dataclass, replace

import numpy as np

from calib.records import Calibration, Floats
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
    reach_px,
)
from vision.spring.solid import Seen

U_LEVEL_PX, U_BULGE_PX = 0.08, 0.3  # one foot that stands
# The contact shadow puts a foot's edge lower, most where light comes from behind.
SHADOW_PX, BACKLIT_SHADOW_PX, U_SHADOW_PX = 0.17, 0.37, 0.15
U_COMMON_BULGE_PX = 0.1
# Where the plate before a foot is this dark, as a share of the backdrop, so much of its
# contact shadow may be taken for its edge; a third lighter, next to nothing.
DIM, U_DIM_PX, DIM_POWER = 0.1, 0.7, 6
INSET = 0.1  # of the wire's radius: a step by which a rim is moved
COMMON = 3  # unknowns that the feet share: `SHADOW`, the bulge, the rim's place
SHADOW = -3  # place of the shadow among all unknowns


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Saying:
    """A foot's level or bulge: how far from what was expected, and what moves it.

    ``effect`` (m,) is by how many px one u of each unknown moves it, ``own_px`` the u
    that is its own. It was sought up to ``sought_px`` to either side; the wire is
    ``wire_px`` thick there. ``is_even`` where the edge follows a foot's curve closely.
    """

    is_level: bool
    seen_px: float
    effect: Floats
    own_px: float
    sought_px: float
    wire_px: float
    is_even: bool


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


def sayings_of(calibration: Calibration, foot: Foot) -> list[Saying]:
    """Write a foot's level, and its bulge if it was read, as linear in the unknowns."""
    shapes, px_per_mm = _shapes(calibration, foot)
    depth = U_DEPTH_MM * shapes[-1]
    sought = reach_px(float(np.linalg.norm([*shapes[:-1, 0], depth[0]])), px_per_mm)
    rim = _rim_shape(calibration, foot)
    shared = U_RIM_SHARED * rim
    dim = U_DIM_PX * (DIM / foot.plate_share) ** DIM_POWER
    flat, part = U_FLAT_MM * px_per_mm, U_RIM_PART * rim[0]
    is_even = foot.fuller_px is not None
    level = Saying(
        is_level=True,
        seen_px=foot.lower_px - _shadow_px(foot),
        effect=np.array([*shapes[:-1, 0], U_SHADOW_PX, 0.0, shared[0]]),
        own_px=float(np.linalg.norm([U_LEVEL_PX, part, depth[0], flat, dim])),
        sought_px=sought,
        wire_px=2 * foot.wire_mm * px_per_mm,
        is_even=is_even,
    )
    if foot.fuller_px is None:
        return [level]
    bulge = replace(
        level,
        is_level=False,
        seen_px=foot.fuller_px,
        effect=np.array([*shapes[:-1, 2], 0.0, U_COMMON_BULGE_PX, shared[2]]),
        own_px=float(np.linalg.norm([U_BULGE_PX, U_RIM * rim[2], depth[2]])),
    )
    return [level, bulge]


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
