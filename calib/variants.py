"""A solved pose in, the camera with each shared influence one u away out.

Results computed once with each variant differ from the first by that influence's
signed contribution (JCGM 100:2008, 5.1.3). Priors (focal length, sizes, ...) are
shifted one by one; what the picture's noise and the single sides' own faults leave
open follows in principal directions: all variants together give the whole covariance,
larger by Birge's ratio where the target strains what is believed.
"""

from dataclasses import dataclass, replace

import numpy as np

from calib.camera import project
from calib.pose.solve import PoseFit
from calib.pose.stand import Rival
from calib.pose.unknowns import (
    CENTRE,
    FOCAL,
    K1,
    K2,
    OFFSET,
    PLACE,
    SIZES,
    STANDOUT,
    TURN,
    camera_of,
)
from calib.records import Camera, Floats, TargetKind, Variant

LEAST_EFFECT_PX = 0.004
REACH_MM, HEIGHTS_MM, DEPTHS_MM = 150.0, (0.0, 60.0), (-15.0, 15.0)
MOST_DIRECTIONS = 8
ROW_TURN_U = np.radians(2.0)  # set by eye: 2.5 mm over a stock of 70 mm
CARD_LEAN_U = np.radians(0.3)  # a card's foot is as square as scissors cut it


@dataclass(frozen=True, slots=True, kw_only=True)
class Names:
    """What the sources of influence are named by: one photo, one target."""

    photo: str
    target: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubts:
    """Standard uncertainties that no fit knows of.

    ``edges_alike`` tells whether what moves the target's edges moves the springs', too.
    """

    face_offset_u_mm: float
    edge_u_px: float
    edges_alike: bool = True
    rivals: tuple[Rival, ...] = ()

    def springs_edge_offset_px(self, fit: PoseFit) -> float:
        """Give how far springs' edges appear moved outward, as the target tells."""
        return fit.edge_offset_px if self.edges_alike else 0.0


def camera_variants(fit: PoseFit, doubts: Doubts, names: Names) -> tuple[Variant, ...]:
    """Give all variants that move anything near the row by a noticeable amount."""
    watched = _watched_points(fit)
    variants = [
        *_prior_variants(fit, names),
        *_noise_variants(fit, names, watched),
        *_rival_variants(fit, doubts.rivals, names),
        *_staging_variants(fit, names),
    ]
    if not doubts.edges_alike:
        variants = [replace(each, edge_shift_px=0.0) for each in variants]
    base = project(fit.camera, watched)
    telling = [
        variant
        for variant in variants
        if abs(variant.edge_shift_px) > LEAST_EFFECT_PX
        or float(np.max(np.abs(project(variant.camera, watched) - base)))
        > LEAST_EFFECT_PX
    ]
    telling.append(
        Variant(
            source=f"face offset|{names.target}",
            label="where the target's face stood",
            camera=fit.camera,
            axis_plane_shift_mm=doubts.face_offset_u_mm,
        )
    )
    telling.append(
        Variant(
            source=f"edge position|{names.photo}",
            label="springs' edges against the target's",
            camera=fit.camera,
            edge_shift_px=doubts.edge_u_px,
        )
    )
    return tuple(telling)


def _watched_points(fit: PoseFit) -> Floats:
    x = fit.problem.priors.pivot_mm[0] + np.array([-REACH_MM, 0.0, REACH_MM])
    grid = np.meshgrid(x, DEPTHS_MM, HEIGHTS_MM, indexing="ij")
    return np.column_stack([part.ravel() for part in grid])


def _shifted(fit: PoseFit, shift: Floats, source: str, label: str) -> Variant:
    """Move the unknowns; a larger edge offset means that edges lie farther inward."""
    return Variant(
        source=source,
        label=label,
        camera=camera_of(fit.theta + shift, fit.problem.priors),
        edge_shift_px=-float(shift[OFFSET]),
    )


def _prior_variants(fit: PoseFit, names: Names) -> list[Variant]:
    """Shift each prior by one u and let the rest follow."""
    covariance, priors = fit.birge_ratio * fit.covariance, fit.problem.priors
    variants = []
    for k in _prior_indices(fit):
        label = priors.labels[k]
        owner = names.target if SIZES <= k < fit.first_side else names.photo
        shift = covariance[:, k] / priors.u[k]
        variants.append(_shifted(fit, shift, f"{label}|{owner}", label))
    if priors.distance_mm is not None:
        slope = np.exp(fit.theta[PLACE + 2]) / priors.distance_u_mm
        shift = covariance[:, PLACE + 2] * slope
        label = "taped distance"
        variants.append(_shifted(fit, shift, f"{label}|{names.photo}", label))
    return variants


def _prior_indices(fit: PoseFit) -> list[int]:
    shared = [FOCAL, CENTRE, CENTRE + 1, K1, K2, OFFSET, STANDOUT]
    return [*shared, *range(SIZES, fit.first_side)]


def _noise_variants(fit: PoseFit, names: Names, watched: Floats) -> list[Variant]:
    """Give the principal directions of what data, sides and view leave open."""
    local = fit.data_information.copy()
    priors = fit.problem.priors
    kept = [*range(TURN, TURN + 3), *range(fit.first_side, len(fit.theta))]
    local[kept, kept] += priors.u[kept] ** -2.0
    unit = np.sqrt(np.maximum(np.diag(local), 1e-12))
    values, vectors = np.linalg.eigh(local / np.outer(unit, unit))
    part = unit[:, None] * vectors * np.sqrt(np.maximum(values, 0.0))
    root = fit.birge_ratio * fit.covariance @ part
    effect = _effects(fit, watched) @ root
    _, sizes, rows = np.linalg.svd(effect, full_matrices=False)
    variants = []
    for number, (size, row) in enumerate(zip(sizes, rows, strict=True), start=1):
        if number > MOST_DIRECTIONS or size < LEAST_EFFECT_PX:
            break
        source = f"pose {number}|{names.photo}"
        variants.append(_shifted(fit, root @ row, source, "pose from the target"))
    return variants


def _rival_variants(
    fit: PoseFit, rivals: tuple[Rival, ...], names: Names
) -> list[Variant]:
    """Go towards poses that might be meant instead: rms error of keeping the likelier.

    With probability p of the rival that is sqrt(p) times the way to it.
    """
    return [
        _shifted(
            fit,
            np.sqrt(rival.likelihood) * (rival.theta - fit.theta),
            f"stance {number}|{names.photo}",
            "whether the stock stands out",
        )
        for number, rival in enumerate(rivals, start=1)
    ]


def _effects(fit: PoseFit, watched: Floats) -> Floats:
    """Differentiate the watched points' pictures, and the edge offset, by unknowns."""
    base = project(fit.camera, watched)
    effects = np.zeros((base.size + 1, len(fit.theta)))
    for k in range(SIZES):
        step = 1e-6 * max(1.0, abs(fit.theta[k]))
        moved = fit.theta.copy()
        moved[k] += step
        after = project(camera_of(moved, fit.problem.priors), watched)
        effects[:-1, k] = ((after - base) / step).ravel()
    effects[-1, OFFSET] = 1.0
    return effects


def _staging_variants(fit: PoseFit, names: Names) -> list[Variant]:
    """Turn the row against the target, and lean a card that stands on its edge."""
    pivot = fit.problem.priors.pivot_mm
    foot = np.array([pivot[0], pivot[1], 0.0])
    cosine, sine = np.cos(ROW_TURN_U), np.sin(ROW_TURN_U)
    turn = np.array([[cosine, -sine, 0.0], [sine, cosine, 0.0], [0.0, 0.0, 1.0]])
    variants = [
        Variant(
            source=f"row turned|{names.photo}",
            label="row not parallel to the target's face",
            camera=_turned(fit.camera, turn, foot),
        )
    ]
    if fit.problem.model.kind is TargetKind.SQUARE_CARD:
        cosine, sine = np.cos(CARD_LEAN_U), np.sin(CARD_LEAN_U)
        lean = np.array([[1.0, 0.0, 0.0], [0.0, cosine, -sine], [0.0, sine, cosine]])
        variants.append(
            Variant(
                source=f"card leaning|{names.photo}",
                label="card not upright on the plate",
                camera=_turned(fit.camera, lean, foot),
            )
        )
    return variants


def _turned(camera: Camera, turn: Floats, about_mm: Floats) -> Camera:
    """See the world turned about a point, by moving the camera the other way."""
    return Camera(
        size_px=camera.size_px,
        focal_px=camera.focal_px,
        centre_px=camera.centre_px,
        k1=camera.k1,
        k2=camera.k2,
        rotation=camera.rotation @ turn,
        position_mm=turn.T @ (camera.position_mm - about_mm) + about_mm,
    )
