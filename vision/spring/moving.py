"""A calibration and what became known of its variants in; the moved calibration out.

The variants' coefficients are the unknowns: before anything is known of them each has
mean 0 and u 1, all independent.
"""

from dataclasses import dataclass, replace

import numpy as np
from scipy.spatial.transform import Rotation

from calib.records import Calibration, Floats, Variant


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Belief:
    """Mean (n,) and covariance (n, n) of the coefficients of n variants.

    ``log_evidence`` tells how likely the calibration makes what was learnt so far.
    """

    mean: Floats
    covariance: Floats
    log_evidence: float = 0.0

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
            log_evidence=self.log_evidence,
        )


def nothing_known(calibration: Calibration) -> Belief:
    """Believe what the calibration says."""
    count = len(calibration.variants)
    return Belief(mean=np.zeros(count), covariance=np.eye(count))


def joined(logs: Floats, means: Floats, covariances: Floats) -> Belief:
    """Mean and covariance of a mixture of n beliefs (n, m), (n, m, m).

    ``logs`` (n,) are the logarithms of how likely each is.
    """
    total = np.logaddexp.reduce(logs)
    shares = np.exp(logs - total)
    mean = shares @ means
    apart = means - mean
    covariance = np.tensordot(shares, covariances, 1) + (apart.T * shares) @ apart
    return Belief(mean=mean, covariance=covariance, log_evidence=float(total))


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
        variant_of(centre, other, each.source, each.label)
        for each, other in zip(calibration.variants, others, strict=True)
    )
    return replace(centre, variants=variants)


def shifted_calibrations(
    calibration: Calibration, coefficients: Floats
) -> list[Calibration]:
    """Move each variant by so many u, for each row of coefficients (m, n).

    The variants themselves are left as they are.
    """
    pivot = pivot_of(calibration)
    steps = np.array(
        [
            step_between(calibration, varied(calibration, each), pivot)
            for each in calibration.variants
        ]
    )
    return [stepped(calibration, each @ steps, pivot) for each in coefficients]


def pivot_of(calibration: Calibration) -> Floats:
    """Give the middle (3,) of the target's face, in mm."""
    left, low, right, high = calibration.target_box_mm
    return np.array([(left + right) / 2, 0.0, (low + high) / 2])


def varied(calibration: Calibration, variant: Variant) -> Calibration:
    """Take over a variant; the variants themselves are left as they are."""
    return replace(
        calibration,
        camera=variant.camera,
        axis_plane_mm=calibration.axis_plane_mm + variant.axis_plane_shift_mm,
        edge_offset_px=calibration.edge_offset_px - variant.edge_shift_px,
    )


def variant_of(
    base: Calibration, other: Calibration, source: str, label: str
) -> Variant:
    """Write what differs between two calibrations as an influence."""
    return Variant(
        source=source,
        label=label,
        camera=other.camera,
        axis_plane_shift_mm=other.axis_plane_mm - base.axis_plane_mm,
        edge_shift_px=base.edge_offset_px - other.edge_offset_px,
    )


def step_between(base: Calibration, other: Calibration, pivot: Floats) -> Floats:
    """Tell what turns one calibration into another (13,).

    In terms that barely act on each other: the camera's turn, the logs of the pivot's
    depth and of the focal length, the pivot's place in the picture, centre and
    distortion; then the axis plane and the edge offset. A change of pitch so leaves
    the row where it is seen, whatever the focal length.
    """
    turn = Rotation.from_matrix(other.camera.rotation @ base.camera.rotation.T)
    terms = _terms(other, pivot) - _terms(base, pivot)
    return np.concatenate([turn.as_rotvec(), terms])


def _terms(calibration: Calibration, pivot: Floats) -> Floats:
    camera = calibration.camera
    x, y, depth = camera.rotation @ (pivot - camera.position_mm)
    seen = camera.focal_px * np.array([x, y]) / depth + np.asarray(camera.centre_px)
    return np.concatenate(
        [
            [np.log(depth), np.log(camera.focal_px)],
            seen,
            np.asarray(camera.centre_px),
            [camera.k1, camera.k2],
            [calibration.axis_plane_mm, calibration.edge_offset_px],
        ]
    )


def stepped(base: Calibration, step: Floats, pivot: Floats) -> Calibration:
    """Turn a calibration into another by such a step; its variants stay."""
    log_depth, log_focal, *rest = _terms(base, pivot) + step[3:]
    seen, centre, (k1, k2, plane, offset) = (
        np.array(rest[:2]),
        np.array(rest[2:4]),
        rest[4:],
    )
    rotation = Rotation.from_rotvec(step[:3]).as_matrix() @ base.camera.rotation
    focal, depth = float(np.exp(log_focal)), float(np.exp(log_depth))
    ray = np.append((seen - centre) / focal, 1.0)
    camera = replace(
        base.camera,
        rotation=rotation,
        position_mm=pivot - rotation.T @ (depth * ray),
        focal_px=focal,
        centre_px=centre,
        k1=float(k1),
        k2=float(k2),
    )
    return replace(
        base, camera=camera, axis_plane_mm=float(plane), edge_offset_px=float(offset)
    )
