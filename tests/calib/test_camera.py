"""The pinhole against published figures, and its way back."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calib.camera import (
    directions,
    expected_intrinsics,
    on_plane,
    pixels_per_mm,
    project,
)
from calib.errors import LensError
from calib.records import Camera, Exif, Floats, Lens, Photo
from tests.calib.scene import FACING, View


def level_camera(height_mm: float, distance_mm: float) -> Camera:
    """A camera that looks straight along y from a height and distance."""
    return Camera(
        size_px=(4000, 3000),
        focal_px=4000.0,
        centre_px=np.array([1999.5, 1499.5]),
        k1=0.0,
        k2=0.0,
        rotation=FACING,
        position_mm=np.array([0.0, -distance_mm, height_mm]),
    )


def silhouette_height_mm(camera: Camera, height_mm: float, radius_mm: float) -> float:
    """What box times scale reads in the axis plane of a standing cylinder."""
    turn = np.linspace(0.0, 2.0 * np.pi, 721)
    ring = np.column_stack([radius_mm * np.cos(turn), radius_mm * np.sin(turn)])
    top = np.column_stack([ring, np.full(len(ring), height_mm)])
    bottom = np.column_stack([ring, np.zeros(len(ring))])
    seen = on_plane(camera, project(camera, np.vstack([top, bottom])))[:, 1]
    return float(seen.max() - seen.min())


@pytest.mark.reference
@pytest.mark.parametrize(
    ("distance_mm", "lens_height_mm", "excess_mm"),
    [
        # X = D R / (D - R) and H + (z - H) Z / (Z + y), L0 48 mm, R 15.6 mm: by hand.
        (400.0, 0.0, 1.95),
        (400.0, 24.0, 1.95),
        (400.0, 48.0, 1.95),
        (400.0, 60.0, 2.89),
        (400.0, 100.0, 6.01),
        (400.0, 150.0, 9.92),
        (800.0, 24.0, 0.95),
        (800.0, 60.0, 1.42),
        (800.0, 150.0, 4.93),
        (1200.0, 24.0, 0.63),
        (1200.0, 100.0, 1.98),
    ],
)
def test_roundness_adds_what_the_pinhole_formula_says(
    distance_mm: float, lens_height_mm: float, excess_mm: float
) -> None:
    """A plain box times scale reads a standing cylinder too tall by a known amount."""
    camera = level_camera(lens_height_mm, distance_mm)

    seen_mm = silhouette_height_mm(camera, 48.0, 15.6)

    assert seen_mm - 48.0 == pytest.approx(excess_mm, abs=0.006)


@pytest.mark.reference
@pytest.mark.parametrize(
    ("nearer_mm", "error"),
    [(1.0, 0.0020), (3.0, 0.0060), (5.0, 0.0101), (10.0, 0.0204)],
)
def test_an_object_before_the_scale_plane_is_read_too_long(
    nearer_mm: float, error: float
) -> None:
    """At 500 mm a length dz nearer is read too long by dz / (Z - dz)."""
    camera = level_camera(20.0, 500.0)
    ends = np.array([[-20.0, -nearer_mm, 20.0], [20.0, -nearer_mm, 20.0]])

    seen = on_plane(camera, project(camera, ends))

    assert (seen[1, 0] - seen[0, 0]) / 40.0 - 1.0 == pytest.approx(error, abs=5e-5)


@pytest.mark.reference
def test_a_plane_tilted_by_ten_degrees_projects_to_the_known_corners() -> None:
    """Corners of a square +-50 mm at Z 500, f 1000, centre (640, 480): by hand."""
    angle = np.radians(10.0)
    cosine, sine = np.cos(angle), np.sin(angle)
    tilt = np.array([[1.0, 0, 0], [0, cosine, -sine], [0, sine, cosine]])
    camera = Camera(
        size_px=(1280, 960),
        focal_px=1000.0,
        centre_px=np.array([640.0, 480.0]),
        k1=0.0,
        k2=0.0,
        rotation=tilt,
        position_mm=-tilt.T @ np.array([0.0, 0.0, 500.0]),
    )
    square = np.array([[-50, -50, 0], [50, -50, 0], [50, 50, 0], [-50, 50, 0]])

    corners = project(camera, square)

    expected = [
        (538.23283, 379.77890),
        (741.76717, 379.77890),
        (738.29316, 576.79986),
        (541.70684, 576.79986),
    ]
    np.testing.assert_allclose(corners, expected, rtol=0, atol=1e-4)


@given(
    x=st.floats(0.0, 1079.0),
    y=st.floats(0.0, 799.0),
    k1=st.floats(-0.25, 0.25),
    depth_mm=st.floats(200.0, 2000.0),
)
def test_a_ray_leads_back_to_its_picture_point(
    x: float, y: float, k1: float, depth_mm: float
) -> None:
    """Projecting any point of a picture point's ray gives the picture point."""
    camera = View(k1=k1, pitch=4.0, yaw=-3.0, roll=2.0).camera

    ray = directions(camera, (x, y))[0]
    again = project(camera, camera.position_mm + depth_mm * ray)[0]

    assert np.linalg.norm(ray) == pytest.approx(1.0)
    np.testing.assert_allclose(again, (x, y), rtol=0, atol=1e-6)


@given(scale=st.floats(0.3, 3.0))
def test_scale_grows_with_the_focal_length(scale: float) -> None:
    """Doubling the focal length doubles the pixels per millimetre."""
    camera = View(pitch=0.0, yaw=0.0, roll=0.0).camera
    longer = replace(camera, focal_px=scale * camera.focal_px)
    point: Floats = np.array([10.0, 0.0, 30.0])

    before, after = pixels_per_mm(camera, point), pixels_per_mm(longer, point)

    assert after == pytest.approx(scale * before)
    assert before == pytest.approx(2350.0 / 640.0)


def photo(exif: Exif) -> Photo:
    return Photo(
        name="a.jpg", sha256="0" * 64, rgb=np.zeros((3, 4, 3), np.uint8), exif=exif
    )


def lens(size_px: tuple[int, int]) -> Lens:
    return Lens(
        camera="Lumenor L1",
        size_px=size_px,
        focal_px=5.0,
        focal_u_px=0.01,
        centre_px=(1.6, 1.1),
        centre_u_px=0.2,
        k1=-0.1,
        k1_u=0.002,
        k2=0.03,
        k2_u=0.004,
        rms_px=0.1,
        views=9,
    )


def test_a_lens_file_comes_before_the_record() -> None:
    """Focal length, centre and distortion are taken from the lens file."""
    inner = expected_intrinsics(photo(Exif(focal_length_35mm=26.0)), lens((4, 3)))

    assert inner.focal_px == 5.0
    assert inner.focal_u == pytest.approx(0.002)
    assert (inner.k1, inner.k1_u) == (-0.1, 0.002)


def test_a_lens_file_of_another_size_is_refused() -> None:
    """The message names both sizes."""
    with pytest.raises(LensError, match="4x3 px, but the lens file is of 8x6 px"):
        expected_intrinsics(photo(Exif()), lens((8, 6)))


def test_the_35_mm_equivalent_counts_on_the_diagonal() -> None:
    """Focal length in px: f35 times diagonal over 43.27 mm (a 24 x 36 mm frame's)."""
    inner = expected_intrinsics(photo(Exif(focal_length_35mm=26.0)))

    assert inner.focal_px == pytest.approx(26.0 * 5.0 / 43.27)
    assert inner.focal_source != "unknown"


def test_without_any_knowledge_the_focal_length_is_wide_open() -> None:
    """One standard uncertainty reaches from a phone's main lens to a portrait lens."""
    inner = expected_intrinsics(photo(Exif()), None, 600.0)

    assert inner.focal_u > 0.4
    assert inner.focal_source == "unknown"
    assert inner.centre_u_px == pytest.approx(0.03 * 4)  # of 4 px: it may have been cut
    assert inner.distance_mm == 600.0
    assert inner.distance_u_mm == pytest.approx(np.hypot(5.0, 6.0))
