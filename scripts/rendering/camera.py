"""Camera and points in the world in, pixels out; and rays back."""

import math

import numpy as np

from scripts.rendering.records import Camera, Floats

UNDISTORT_STEPS = 12  # fixed point; error below 1e-6 px for |k1| <= 0.05


def rotation_of(camera: Camera) -> Floats:
    """Return R (3, 3): camera = R (world - centre); x right, y down, z ahead."""
    pitch, roll, yaw = (
        math.radians(a) for a in (camera.pitch_deg, camera.roll_deg, camera.yaw_deg)
    )
    level = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    cos, sin = math.cos(yaw), math.sin(yaw)
    look_right = np.array([[cos, 0.0, -sin], [0.0, 1.0, 0.0], [sin, 0.0, cos]])
    cos, sin = math.cos(pitch), math.sin(pitch)
    look_down = np.array([[1.0, 0.0, 0.0], [0.0, cos, -sin], [0.0, sin, cos]])
    cos, sin = math.cos(roll), math.sin(roll)
    turn = np.array([[cos, sin, 0.0], [-sin, cos, 0.0], [0.0, 0.0, 1.0]])
    rotation: Floats = turn @ look_down @ look_right @ level
    return rotation


def centre_of(camera: Camera) -> Floats:
    """Return the lens centre in the world, mm."""
    return np.array([camera.x_mm, camera.y_mm, camera.z_mm])


def project(camera: Camera, points: Floats) -> Floats:
    """Project points (n, 3) in mm to pixels (n, 2) as (x, y)."""
    seen = (np.atleast_2d(points) - centre_of(camera)) @ rotation_of(camera).T
    plain = seen[:, :2] / seen[:, 2:]
    squared = np.sum(plain * plain, axis=1, keepdims=True)
    bent = plain * (1.0 + camera.k1 * squared + camera.k2 * squared * squared)
    pixels: Floats = bent * camera.focal_px + np.array([camera.cx_px, camera.cy_px])
    return pixels


def unproject(camera: Camera, pixels: Floats) -> Floats:
    """Return unit rays (n, 3) in the world through pixels (n, 2)."""
    bent = (pixels - np.array([camera.cx_px, camera.cy_px])) / camera.focal_px
    plain = bent.copy()
    for _ in range(UNDISTORT_STEPS):
        squared = np.sum(plain * plain, axis=1, keepdims=True)
        plain = bent / (1.0 + camera.k1 * squared + camera.k2 * squared * squared)
    rays = np.column_stack((plain, np.ones(len(plain)))) @ rotation_of(camera)
    unit: Floats = rays / np.linalg.norm(rays, axis=1, keepdims=True)
    return unit
