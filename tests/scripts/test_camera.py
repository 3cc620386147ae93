"""The renderer's own camera: projection, its inverse and the signs of its angles."""

import cv2
import numpy as np
import pytest

from scripts.rendering.camera import centre_of, project, rotation_of, unproject
from scripts.rendering.records import Camera

CAMERA = Camera(
    x_mm=12.0,
    y_mm=-640.0,
    z_mm=75.0,
    pitch_deg=5.0,
    roll_deg=-2.0,
    yaw_deg=1.5,
    focal_px=4200.0,
    width_px=4000,
    height_px=3000,
    cx_px=1990.0,
    cy_px=1512.0,
    k1=-0.03,
    k2=0.01,
)
POINTS = np.array([[-150.0, 3.0, 0.0], [140.0, -15.0, 48.0], [20.0, 0.0, 95.0]])


@pytest.mark.reference
def test_projects_like_opencv() -> None:
    """cv2.projectPoints with the same R, t, K and distortion gives the same px."""
    rotation = rotation_of(CAMERA)
    shift = -rotation @ centre_of(CAMERA)
    matrix = np.array([[4200.0, 0.0, 1990.0], [0.0, 4200.0, 1512.0], [0.0, 0.0, 1.0]])
    bent = np.array([-0.03, 0.01, 0.0, 0.0])

    expected, _ = cv2.projectPoints(
        POINTS, cv2.Rodrigues(rotation)[0], shift, matrix, bent
    )

    np.testing.assert_allclose(
        project(CAMERA, POINTS), expected.reshape(-1, 2), rtol=0.0, atol=1e-6
    )


def test_ray_through_a_projected_point_meets_it() -> None:
    """Undistorting and back-projecting leads through the point again."""
    rays = unproject(CAMERA, project(CAMERA, POINTS))

    toward = POINTS - centre_of(CAMERA)
    miss_mm = np.linalg.norm(np.cross(rays, toward), axis=1)

    np.testing.assert_allclose(miss_mm, 0.0, rtol=0.0, atol=1e-6)


def test_level_camera_sees_the_plumb_line_upright() -> None:
    """Without angles x goes right, z up, and the axis meets the principal point."""
    level = Camera(
        x_mm=0.0,
        y_mm=-500.0,
        z_mm=40.0,
        pitch_deg=0.0,
        roll_deg=0.0,
        yaw_deg=0.0,
        focal_px=1000.0,
        width_px=640,
        height_px=480,
        cx_px=319.5,
        cy_px=239.5,
    )

    seen = project(level, np.array([[0.0, 0.0, 40.0], [50.0, 0.0, 90.0]]))

    np.testing.assert_allclose(seen, [[319.5, 239.5], [419.5, 139.5]], atol=1e-9)


@pytest.mark.parametrize(
    ("angle", "axis", "sign"), [("pitch_deg", 1, -1.0), ("yaw_deg", 0, -1.0)]
)
def test_looking_down_or_right_moves_the_picture_the_other_way(
    angle: str, axis: int, sign: float
) -> None:
    """A point straight ahead rises when the camera looks down, goes left for right."""
    facts = {
        "x_mm": 0.0,
        "y_mm": -500.0,
        "z_mm": 40.0,
        "pitch_deg": 0.0,
        "roll_deg": 0.0,
        "yaw_deg": 0.0,
    } | {angle: 2.0}
    camera = Camera(
        **facts, focal_px=1000.0, width_px=640, height_px=480, cx_px=0.0, cy_px=0.0
    )

    seen = project(camera, np.array([[0.0, 0.0, 40.0]]))[0]

    assert seen[axis] == pytest.approx(sign * 1000.0 * np.tan(np.radians(2.0)))


def test_camera_turned_clockwise_turns_the_picture_counter_clockwise() -> None:
    """With positive roll a point to the right of the axis moves up."""
    camera = Camera(
        x_mm=0.0,
        y_mm=-500.0,
        z_mm=0.0,
        pitch_deg=0.0,
        roll_deg=3.0,
        yaw_deg=0.0,
        focal_px=1000.0,
        width_px=640,
        height_px=480,
        cx_px=0.0,
        cy_px=0.0,
    )

    seen = project(camera, np.array([[100.0, 0.0, 0.0]]))[0]

    assert seen[1] == pytest.approx(-200.0 * np.sin(np.radians(3.0)))
