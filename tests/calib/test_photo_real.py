"""One photo stored twice: upright, and turned with an Exif orientation of 6.

A butterfly beside a millimetre ruler. The folder is named by the environment variable
FREESTAND_REAL_PHOTOS; without it these tests are skipped.
"""

import os
from pathlib import Path

import numpy as np
import pytest

from calib.photo import focal_px_from_exif, linear_grey, read_photo
from calib.records import Photo

FOLDER = os.environ.get("FREESTAND_REAL_PHOTOS")
pytestmark = [
    pytest.mark.reference,
    pytest.mark.skipif(not FOLDER, reason="FREESTAND_REAL_PHOTOS is not set"),
]


@pytest.fixture(scope="module")
def pair() -> tuple[Photo, Photo]:
    folder = Path(str(FOLDER), "mothra_ruler")
    first, second = sorted(folder.glob("*.JPG"))
    return read_photo(first), read_photo(second)


def test_the_turned_one_is_the_same_picture_turned(pair: tuple[Photo, Photo]) -> None:
    """Same stored pixels; orientation 6 asks for a quarter turn clockwise."""
    plain, turned = pair

    assert (plain.exif.orientation, turned.exif.orientation) == (1, 6)
    assert turned.size_px == plain.size_px[::-1]
    assert np.array_equal(turned.rgb, np.rot90(plain.rgb, -1))
    assert np.array_equal(linear_grey(turned), np.rot90(linear_grey(plain), -1))
    assert plain.sha256 != turned.sha256


def test_the_focal_length_does_not_turn(pair: tuple[Photo, Photo]) -> None:
    """70 mm on 5798.66 px per inch, recorded 5184 px wide, reduced to 518 px.

    5798.66 / 25.4 x 70 x 518 / 5184 = 1596.8 px.
    """
    plain, turned = (focal_px_from_exif(photo) for photo in pair)

    assert plain is not None
    assert plain == turned
    assert plain[0] == pytest.approx(1596.8, abs=0.1)
    assert "taken as resized" in plain[2]
