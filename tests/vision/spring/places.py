"""Where cameras stand and how they look, for tests; and what they see."""

from dataclasses import dataclass

import numpy as np

from calib.records import Camera, Floats


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a camera stands and how it looks: pitch down, yaw right, roll clockwise."""

    position_mm: tuple[float, float, float] = (0.0, -800.0, 48.0)
    pitch_deg: float = 0.0
    yaw_deg: float = 0.0
    roll_deg: float = 0.0
    focal_px: float = 5600.0
    k1: float = 0.0


LEVEL = Place()
ASIDE = Place(position_mm=(150.0, -800.0, 48.0))
ABOVE = Place(position_mm=(0.0, -800.0, 110.0), pitch_deg=4.0)
BELOW = Place(position_mm=(0.0, -800.0, 20.0), pitch_deg=-1.5)
NEAR = Place(
    position_mm=(-100.0, -500.0, 20.0), pitch_deg=-2.0, yaw_deg=5.0, roll_deg=2.0
)
FAR = Place(position_mm=(60.0, -1600.0, 60.0), focal_px=11200.0, k1=-0.02)
PLACES = (LEVEL, ASIDE, ABOVE, BELOW, NEAR, FAR)


def make_camera(place: Place = LEVEL) -> Camera:
    """Look along +y from a place, turned as it says."""
    pitch, yaw, roll = np.radians([place.pitch_deg, place.yaw_deg, place.roll_deg])
    facing = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    rotation = about_z(roll) @ about_x(pitch) @ about_y(-yaw) @ facing
    return Camera(
        size_px=(4000, 3000),
        focal_px=place.focal_px,
        centre_px=np.array([1999.5, 1499.5]),
        k1=place.k1,
        k2=0.0,
        rotation=rotation,
        position_mm=np.array(place.position_mm),
    )


def about_x(angle: float) -> Floats:
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.array([[1, 0, 0], [0, cosine, -sine], [0, sine, cosine]])


def about_y(angle: float) -> Floats:
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.array([[cosine, 0, sine], [0, 1, 0], [-sine, 0, cosine]])


def about_z(angle: float) -> Floats:
    cosine, sine = np.cos(angle), np.sin(angle)
    return np.array([[cosine, -sine, 0], [sine, cosine, 0], [0, 0, 1]])


def seen(camera: Camera, points_mm: Floats) -> Floats:
    """Project (n, 3) to px (n, 2); the tests' own, from the records' definition."""
    at = (points_mm - camera.position_mm) @ camera.rotation.T
    flat = at[:, :2] / at[:, 2:]
    square = (flat**2).sum(axis=1, keepdims=True)
    return np.asarray(
        camera.focal_px * flat * (1 + camera.k1 * square) + camera.centre_px
    )
