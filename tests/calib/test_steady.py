"""Telling a later photo by the same, unmoved camera from any other."""

from dataclasses import replace
from functools import cache

import cv2
import numpy as np
import pytest

from calib.calibrate import calibrate, check_same_camera
from calib.errors import PhotoError
from calib.records import Calibration, Exif, Photo
from tests.calib.scene import SQUARE, Look, Scene, reference, take_photo

SPRINGS = tuple(
    (x, z, x + 24.0, z + 4.0, 0.0, 0.1)
    for x in (-70.0, -30.0, 20.0)
    for z in range(0, 46, 8)
)
EMPTY = Look(grain=0.02)


@cache
def calibration() -> Calibration:
    """A calibration from the square alone before a backdrop with some texture."""
    photo = take_photo(Scene(look=EMPTY), "square.jpg")
    return calibrate(photo, reference(SQUARE))


def row_photo() -> Photo:
    """The same stage later: springs instead of the square, other noise."""
    look = replace(EMPTY, seed=7)
    return take_photo(Scene(shape=None, others=SPRINGS, look=look), "row.jpg")


def moved(photo: Photo, matrix: list[list[float]]) -> Photo:
    """The photo as a moved camera would have taken it, about."""
    height, width = photo.rgb.shape[:2]
    map_px = np.array(matrix, dtype=np.float64)
    rgb = cv2.warpAffine(
        photo.rgb, map_px, (width, height), borderMode=cv2.BORDER_REPLICATE
    )
    return replace(photo, rgb=np.asarray(rgb, np.uint8), sha256="f" * 64)


def test_the_same_camera_passes_without_a_word() -> None:
    """Springs where the square stood, and other noise, are no movement."""
    assert check_same_camera(calibration(), row_photo()) == ()


def test_other_light_is_no_movement() -> None:
    """A darker photo of the same stage passes."""
    photo = row_photo()
    dark = (0.7 * photo.rgb.astype(np.float64)).astype(np.uint8)

    assert check_same_camera(calibration(), replace(photo, rgb=dark)) == ()


@pytest.mark.parametrize(
    "matrix",
    [
        [[1.0, 0.0, 0.0], [0.0, 1.0, 2.0]],
        [[1.0, 0.0, 3.0], [0.0, 1.0, 0.0]],
        [[1.0, 0.0, 0.0], [0.0, 1.0, 30.0]],
        [[1.01, 0.0, -5.4], [0.0, 1.01, -4.0]],
        [[1.0, 0.005, -2.0], [-0.005, 1.0, 2.7]],
    ],
    ids=["down 2 px", "aside 3 px", "down 30 px", "zoomed 1 %", "turned 0.3 deg"],
)
def test_a_moved_camera_is_refused(matrix: list[list[float]]) -> None:
    """Shift, zoom and turn of a few px of a small photo are noticed and told in px."""
    with pytest.raises(PhotoError, match=r"what stands still moved by \d+ px or more"):
        check_same_camera(calibration(), moved(row_photo(), matrix))


def test_quite_another_view_is_refused() -> None:
    """Where nothing of the background is found again the camera must have moved."""
    photo = row_photo()
    turned = np.ascontiguousarray(photo.rgb[::-1, ::-1])

    with pytest.raises(PhotoError, match="shows nothing of what stood still"):
        check_same_camera(calibration(), replace(photo, rgb=turned))


def test_an_even_background_is_said_to_tell_nothing() -> None:
    """Without anything that stands still, the doubt is a remark, no refusal."""
    bare = np.full((800, 1080, 3), 170, np.uint8)
    reference_photo = replace(
        calibration(), thumbnail=np.full((474, 640), 170, np.uint8)
    )

    remarks = check_same_camera(reference_photo, replace(row_photo(), rgb=bare))

    assert "cannot be told from the background" in remarks[0]


def test_the_reference_photo_itself_needs_no_check() -> None:
    """The square standing in the row photo is the usual case."""
    photo = replace(row_photo(), sha256=calibration().photo_sha256)

    assert check_same_camera(calibration(), photo) == ()


@pytest.mark.parametrize(
    ("change", "fault"),
    [
        ({"model": "L2"}, "camera model L2, square.jpg of L1"),
        ({"make": "Obscura"}, "camera make Obscura"),
        ({"focal_length_mm": 9.0}, "focal length of 9 mm, square.jpg of 6.8 mm"),
        ({"digital_zoom": 2.0}, "digital zoom of 2, square.jpg of 1"),
    ],
)
def test_another_camera_or_zoom_is_refused(
    change: dict[str, str | float], fault: str
) -> None:
    """What the cameras wrote is compared, and both values are told."""
    photo = row_photo()
    values = {
        "make": photo.exif.make,
        "model": photo.exif.model,
        "focal_length_mm": photo.exif.focal_length_mm,
        "focal_length_35mm": photo.exif.focal_length_35mm,
    }
    other = Exif(**{**values, **change})  # type: ignore[arg-type]

    with pytest.raises(PhotoError, match=fault):
        check_same_camera(calibration(), replace(photo, exif=other))


def test_another_size_is_refused() -> None:
    """A photo of another size cannot be of the same settings."""
    photo = row_photo()
    small = replace(photo, rgb=np.ascontiguousarray(photo.rgb[::2, ::2]))

    with pytest.raises(PhotoError, match=r"measures 540x400 px, square\.jpg 1080x800"):
        check_same_camera(calibration(), small)


def test_a_missing_record_is_remarked() -> None:
    """Without make and model the check rests on the background alone, and says so."""
    remarks = check_same_camera(calibration(), replace(row_photo(), exif=Exif()))

    assert remarks == ("row.jpg: no record tells that the camera is the same",)
