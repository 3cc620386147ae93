"""A calibration and what became known of its variants in; the moved calibration out.

The variants' coefficients are the unknowns: before anything is known of them each has
mean 0 and u 1, all independent.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from calib.records import Calibration, Camera, Floats, Variant


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Belief:
    """Mean (n,) and covariance (n, n) of the coefficients of n variants."""

    mean: Floats
    covariance: Floats

    def narrowed(self, effect: Floats, mean: float, u: float) -> "Belief":
        """Take over what became known of one combination ``effect`` (n,) of them.

        The rest follows as far as it was correlated with it (JCGM 102:2011, conditional
        normal distributions).
        """
        along = self.covariance @ effect
        was = float(effect @ along)
        gain = along / was
        covariance = self.covariance + np.outer(gain, gain) * (u**2 - was)
        return Belief(
            mean=self.mean + gain * (mean - float(effect @ self.mean)),
            covariance=(covariance + covariance.T) / 2,
        )


def nothing_known(calibration: Calibration) -> Belief:
    """Believe what the calibration says."""
    count = len(calibration.variants)
    return Belief(mean=np.zeros(count), covariance=np.eye(count))


def moved_calibration(calibration: Calibration, belief: Belief) -> Calibration:
    """Move the camera to the mean; turn its variants into those of the covariance.

    The symmetric root keeps each new variant as close as can be to the influence that
    it is named by.
    """
    values, vectors = np.linalg.eigh(belief.covariance)
    root = (vectors * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    mean = belief.mean
    centre, *others = shifted_calibrations(
        calibration, np.vstack([mean, mean + root.T])
    )
    variants = tuple(
        Variant(
            source=each.source,
            label=each.label,
            camera=other.camera,
            axis_plane_shift_mm=other.axis_plane_mm - centre.axis_plane_mm,
            edge_shift_px=centre.edge_offset_px - other.edge_offset_px,
        )
        for each, other in zip(calibration.variants, others, strict=True)
    )
    return replace(centre, variants=variants)


def shifted_calibrations(
    calibration: Calibration, coefficients: Floats
) -> list[Calibration]:
    """Move each variant by so many u, for each row of coefficients (m, n).

    The variants themselves are left as they are.
    """
    base, variants = calibration.camera, calibration.variants
    left, low, right, high = calibration.target_box_mm
    pivot = np.array([(left + right) / 2, 0.0, (low + high) / 2])
    steps = np.array([_step(base, each.camera, pivot) for each in variants])
    shifts = np.array([each.axis_plane_shift_mm for each in variants])
    edges = np.array([each.edge_shift_px for each in variants])
    return [
        replace(
            calibration,
            camera=_stepped(base, each @ steps, pivot),
            axis_plane_mm=calibration.axis_plane_mm + float(each @ shifts),
            edge_offset_px=calibration.edge_offset_px - float(each @ edges),
        )
        for each in coefficients
    ]


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
