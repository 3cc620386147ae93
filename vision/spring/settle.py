"""A calibration and the row's feet in; the calibration settled on the whole row out.

A target of 50 mm fixes the plate's level and the row's direction at the end of a 300 mm
row only roughly. Every spring stands on the same plate: where its foot's near edge is
seen, the row itself tells, over its whole length. The calibration's variants are the
unknowns (each with mean 0 and u 1); the feet are observations of them (JCGM 100:2008,
F.1.2.4: correlated estimates from common data; here solved as linear least squares
with prior). Feet that cast no clear edge are left out.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from calib.records import Calibration, Camera, Floats, Photo, Variant
from vision.records.measured import Outline
from vision.spring.budget import U_DEPTH_MM
from vision.spring.foot import Foot, basis, find_foot, near_edge, read_foot

U_FOOT_PX, U_BULGE_PX = 0.4, 0.6  # one foot's level and bulge
SHADOW_PX, U_COMMON_PX = 0.2, 0.25  # contact shadow puts every foot's edge lower
U_COMMON_BULGE_PX = 0.2
MOST_FULLER_PX = 0.8  # a gap at either side makes a foot seem fuller, never flatter
MOST_STRAY = 3.0  # own u by which a foot may differ from the rest
LEAST_FEET = 2


def settle(
    photo: Photo, calibration: Calibration, outlines: tuple[Outline, ...]
) -> Calibration:
    """Settle the calibration on the row's feet; unchanged where they are not seen."""
    expected = [find_foot(calibration, outline) for outline in outlines]
    feet = [
        foot
        for each in expected
        if each is not None
        and (foot := read_foot(photo, each, _doubt_px(calibration, each))) is not None
    ]
    if len(feet) < LEAST_FEET:
        return calibration
    kept = _without_strays(calibration, feet)
    if len(kept) < LEAST_FEET:
        return calibration
    mean, covariance = _posterior(_system(calibration, kept))
    return _moved(calibration, mean, covariance)


def _doubt_px(calibration: Calibration, foot: Foot) -> float:
    """How far the calibration may be off at a foot (u in px)."""
    system = _system(calibration, [foot])
    return float(np.sqrt((system.effects**2).sum() + system.noise[0, 0]))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _System:
    """Observations (n,), their derivatives (n, variants) and covariance (n, n)."""

    seen: Floats
    effects: Floats
    noise: Floats
    scale: Floats


def _system(calibration: Calibration, feet: list[Foot]) -> _System:
    """Write each foot's level and bulge as linear in the variants' coefficients."""
    seen, effects, depths, u, common = [], [], [], [], []
    solver = np.linalg.pinv(basis())
    for foot in feet:
        base = near_edge(foot, calibration.camera, 0.0)
        above = near_edge(foot, calibration.camera, 0.0, lift_mm=1.0)
        down = (base - above) / np.linalg.norm(above - base, axis=1, keepdims=True)
        moved = [
            near_edge(foot, each.camera, each.axis_plane_shift_mm)
            for each in calibration.variants
        ]
        moved.append(near_edge(foot, calibration.camera, 1.0))
        shapes = np.array(
            [solver @ ((each - base) * down).sum(axis=1) for each in moved]
        )
        for value, k, own in (
            (foot.lower_px, 0, U_FOOT_PX),
            (foot.fuller_px, 2, U_BULGE_PX),
        ):
            if value is None:
                continue
            seen.append(value - (SHADOW_PX if k == 0 else 0.0))
            effects.append(shapes[:-1, k])
            depths.append(U_DEPTH_MM * shapes[-1, k])
            u.append(own)
            common.append(U_COMMON_PX if k == 0 else U_COMMON_BULGE_PX * 1j)
    depth, shared = np.array(depths), np.array(common)
    noise = np.diag(np.array(u) ** 2 + depth**2)
    noise = (
        noise + np.outer(shared.real, shared.real) + np.outer(shared.imag, shared.imag)
    )
    return _System(
        seen=np.array(seen),
        effects=np.array(effects),
        noise=noise,
        scale=np.hypot(u, depth),
    )


def _posterior(system: _System) -> tuple[Floats, Floats]:
    """Mean and covariance of the variants' coefficients, given the feet."""
    effects = system.effects
    gain = effects.T @ np.linalg.inv(effects @ effects.T + system.noise)
    covariance = np.eye(effects.shape[1]) - gain @ effects
    return gain @ system.seen, (covariance + covariance.T) / 2


def _without_strays(calibration: Calibration, feet: list[Foot]) -> list[Foot]:
    """Leave out feet whose level the others contradict, worst first, and odd bulges."""
    kept = list(feet)
    while len(kept) >= LEAST_FEET:
        levels = [replace(foot, fuller_px=None) for foot in kept]
        system = _system(calibration, levels)
        mean, _ = _posterior(system)
        rest = system.seen - system.effects @ mean
        middle = np.median(rest) if len(kept) > LEAST_FEET else 0.0
        off = np.abs(rest - middle) / (MOST_STRAY * system.scale)
        worst = int(np.argmax(off))
        if off[worst] <= 1:
            break
        kept.pop(worst)
    bulges = [foot.fuller_px for foot in kept if foot.fuller_px is not None]
    most = float(np.quantile(bulges, 0.3)) + MOST_FULLER_PX if bulges else 0.0
    return [
        foot
        if foot.fuller_px is None or foot.fuller_px < most
        else replace(foot, fuller_px=None)
        for foot in kept
    ]


def _moved(calibration: Calibration, mean: Floats, covariance: Floats) -> Calibration:
    """Move the camera to the mean; turn its variants into those of the covariance.

    The symmetric root keeps each new variant as close as can be to the influence that
    it is named by.
    """
    values, vectors = np.linalg.eigh(covariance)
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    base, variants = calibration.camera, calibration.variants
    left, low, right, high = calibration.target_box_mm
    pivot = np.array([(left + right) / 2, 0.0, (low + high) / 2])
    steps = np.array([_step(base, each.camera, pivot) for each in variants])
    shifts = np.array([each.axis_plane_shift_mm for each in variants])
    edges = np.array([each.edge_shift_px for each in variants])
    settled = [
        Variant(
            source=each.source,
            label=each.label,
            camera=_stepped(base, (mean + column) @ steps, pivot),
            axis_plane_shift_mm=float(column @ shifts),
            edge_shift_px=float(column @ edges),
        )
        for each, column in zip(variants, root.T, strict=True)
    ]
    return replace(
        calibration,
        camera=_stepped(base, mean @ steps, pivot),
        edge_offset_px=calibration.edge_offset_px - float(mean @ edges),
        axis_plane_mm=calibration.axis_plane_mm + float(mean @ shifts),
        variants=tuple(settled),
    )


def _step(base: Camera, other: Camera, pivot: Floats) -> Floats:
    """Tell what turns one camera into another, in terms that barely act on each other.

    The turn, the logs of focal length and of the pivot's depth, the pivot's place in
    the picture, centre and distortion: a change of pitch then leaves the row where it
    is seen, whatever the focal length.
    """
    turn = Rotation.from_matrix(other.rotation @ base.rotation.T).as_rotvec()
    return np.concatenate([turn, _terms(other, pivot) - _terms(base, pivot)])


def _terms(camera: Camera, pivot: Floats) -> Floats:
    x, y, depth = camera.rotation @ (pivot - camera.position_mm)
    seen = camera.focal_px * np.array([x, y]) / depth + np.asarray(camera.centre_px)
    return np.concatenate(
        [
            [np.log(depth), np.log(camera.focal_px)],
            seen,
            np.asarray(camera.centre_px),
            [camera.k1, camera.k2],
        ]
    )


def _stepped(base: Camera, step: Floats, pivot: Floats) -> Camera:
    log_depth, log_focal, *rest = _terms(base, pivot) + step[3:]
    seen, centre, (k1, k2) = np.array(rest[:2]), np.array(rest[2:4]), rest[4:]
    rotation = Rotation.from_rotvec(step[:3]).as_matrix() @ base.rotation
    focal, depth = float(np.exp(log_focal)), float(np.exp(log_depth))
    ray = np.append((seen - centre) / focal, 1.0)
    return replace(
        base,
        rotation=rotation,
        position_mm=pivot - rotation.T @ (depth * ray),
        focal_px=focal,
        centre_px=centre,
        k1=float(k1),
        k2=float(k2),
    )
