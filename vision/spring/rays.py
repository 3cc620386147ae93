"""Widest points in a photo in, their rays in space under one or more stances out."""

from dataclasses import dataclass

import numpy as np

from calib.camera import directions
from calib.records import Camera, Floats
from vision.spring.flank import Coils


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stance:
    """One assumption under which a spring is solved: what its view cannot show.

    ``depth_mm`` is the y of the foot, ``depth_slope`` dy/dz of the axis,
    ``edge_shift_px`` how far edges really lie outside of where they were located,
    ``rim_shift_mm`` how much wider than usual the ground end's rim is.
    """

    camera: Camera
    depth_mm: float = 0.0
    depth_slope: float = 0.0
    edge_shift_px: float = 0.0
    rim_shift_mm: float = 0.0

    @property
    def distance_mm(self) -> float:
        """From the lens to the spring, away from the camera."""
        return self.depth_mm - float(self.camera.position_mm[1])

    @property
    def mm_per_px(self) -> float:
        """Scale at the spring's own distance."""
        return self.distance_mm / self.camera.focal_px


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Rays:
    """Rays (v, n, 3) through n widest points under v stances; flanks, weights (n,).

    ``camera_mm`` (v, 3) and the axes' ``depth_mm`` (v, 1), ``depth_slope`` (v, 1).
    """

    rays: Floats
    sides: Floats
    weights: Floats
    camera_mm: Floats
    depth_mm: Floats
    depth_slope: Floats

    def heights(self, state: Floats) -> Floats:
        """Where each ray passes the axis (v, n), seen from above: its height there."""
        x0, y0, z0 = self.camera_mm.T[:, :, None]
        right, away, up = np.moveaxis(self.rays, -1, 0)
        flat = right**2 + away**2
        height = np.zeros_like(flat)
        for _ in range(3):
            x = state[:, :1] + state[:, 1:2] * height - x0
            y = self.depth_mm + self.depth_slope * height - y0
            height = z0 + (x * right + y * away) / flat * up
        return np.asarray(height)

    def passing(self, heights: Floats) -> tuple[Floats, Floats]:
        """How far outside x = 0 each ray passes (v, n), and what an x takes off it."""
        across = self.rays[..., :2] / np.linalg.norm(
            self.rays[..., :2], axis=2, keepdims=True
        )
        y = self.depth_mm + self.depth_slope * heights - self.camera_mm[:, 1:2]
        offset = across[..., 0] * y + across[..., 1] * self.camera_mm[:, :1]
        return self.sides * offset, self.sides * across[..., 1]


def look_along(stances: tuple[Stance, ...], left: Coils, right: Coils) -> Rays:
    """Follow the rays of all widest points of both flanks under each stance."""
    points = np.vstack([left.points_px, right.points_px])
    flanks = (left, right)
    outward = np.vstack([np.tile(each.outward, (len(each.u_px), 1)) for each in flanks])
    inward_px = np.concatenate(
        [np.full((len(each.u_px), 1), each.inward.px) for each in flanks]
    )
    sides = np.concatenate([np.full(len(each.u_px), each.side) for each in flanks])
    u_px = np.concatenate([left.u_px, right.u_px])
    rays = [
        directions(each.camera, points + (each.edge_shift_px + inward_px) * outward)
        for each in stances
    ]
    return Rays(
        rays=np.array(rays),
        sides=sides.astype(np.float64),
        weights=np.minimum(1.0, np.median(u_px) / u_px),
        camera_mm=np.array([each.camera.position_mm for each in stances]),
        depth_mm=np.array([[each.depth_mm] for each in stances]),
        depth_slope=np.array([[each.depth_slope] for each in stances]),
    )
