"""The camera's record and the focal length in pixels that follows from it."""

from datetime import datetime
from math import hypot, sqrt
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from PIL.TiffImagePlugin import IFDRational

from calib.photo import (
    cut_away_px,
    focal_px_from_exif,
    has_usual_shape,
    read_photo,
)
from calib.photo.exif import exif_from_tags
from calib.records import Exif, Photo
from tests.calib.photo_files import corner_pixels, encoded, exif_record

SENSOR = {"focal_length_mm": 70.0, "focal_plane_px_per_mm": 230.0}
FILM = {"focal_length_mm": 5.7, "focal_length_35mm": 26.0}


def photo_of(size_px: tuple[int, int], **exif: Any) -> Photo:
    """Give a photo that holds nothing but a size and a record."""
    rgb = np.broadcast_to(np.uint8(0), (size_px[1], size_px[0], 3))
    return Photo(name="a.jpg", sha256="", rgb=rgb, exif=Exif(**exif))


def focal_of(size_px: tuple[int, int], **exif: Any) -> tuple[float, float, str]:
    found = focal_px_from_exif(photo_of(size_px, **exif))
    assert found is not None
    return found


def test_a_whole_record_is_read(tmp_path: Path) -> None:
    """Tags by number as in Exif 2.32, tables 4 to 8; unit 2 is the inch of 25.4 mm."""
    camera = {
        0x920A: IFDRational(285, 50),
        0xA405: 26,
        0xA20E: 2540.0,
        0xA210: 2,
        0xA404: 0.0,
        0x9003: "2024:05:06 07:08:09",
        0xA002: 4000,
        0xA003: 3000,
    }
    record = exif_record({0x010F: "Invented \0", 0x0110: "No. 1"}, camera)
    for kind in ("JPEG", "PNG", "TIFF"):
        path = tmp_path / f"a.{kind}"
        path.write_bytes(encoded(Image.fromarray(corner_pixels()), kind, exif=record))

        exif = read_photo(path).exif

        assert exif == Exif(
            make="Invented",
            model="No. 1",
            focal_length_mm=5.7,
            focal_length_35mm=26.0,
            focal_plane_px_per_mm=100.0,
            digital_zoom=1.0,
            taken_at=datetime(2024, 5, 6, 7, 8, 9),  # noqa: DTZ001 the camera's clock
            recorded_size_px=(4000, 3000),
        )


@pytest.mark.parametrize(
    ("unit", "px_per_mm"), [(None, 10.0), (2, 10.0), (3, 25.4), (4, 254.0), (1, None)]
)
def test_focal_plane_units(unit: int | None, px_per_mm: float | None) -> None:
    """Inch is the default; a unit of 1 (none) says nothing (Exif 2.32, 4.6.5 G)."""
    camera = {0xA20E: 254.0} | ({0xA210: unit} if unit else {})

    assert exif_from_tags({}, camera).focal_plane_px_per_mm == px_per_mm


@pytest.mark.parametrize(
    ("camera", "field"),
    [
        ({0x920A: 0.0}, "focal_length_mm"),
        ({0x920A: float("nan")}, "focal_length_mm"),
        ({0x920A: ()}, "focal_length_mm"),
        ({0xA405: 0}, "focal_length_35mm"),
        ({0xA405: "26 mm"}, "focal_length_35mm"),
        ({0xA20E: -3.0, 0xA210: 2}, "focal_plane_px_per_mm"),
        ({0xA404: b"\0"}, "digital_zoom"),
        ({0x9003: "0000:00:00 00:00:00"}, "taken_at"),
        ({0x9003: b"\xff\xfe"}, "taken_at"),
        ({0xA002: 4000}, "recorded_size_px"),
        ({0xA002: 0, 0xA003: 0}, "recorded_size_px"),
    ],
)
def test_a_broken_tag_is_a_missing_tag(camera: dict[int, Any], field: str) -> None:
    """Cameras and editors write zeros, blanks and nonsense."""
    assert getattr(exif_from_tags({}, camera), field) is None


ANYTHING = st.one_of(
    st.none(),
    st.integers(),
    st.floats(),
    st.text(max_size=25),
    st.binary(max_size=25),
    st.tuples(st.floats()),
    st.fractions(),
    st.tuples(st.integers(), st.integers()),
)
MAIN_TAGS = (0x010F, 0x0110, 0x0112, 0x0132)
CAMERA_TAGS = (0x9003, 0x9004, 0x920A, 0xA405, 0xA404, 0xA002, 0xA003, 0xA20E, 0xA210)
TAGS = st.dictionaries(
    st.sampled_from([*MAIN_TAGS, *CAMERA_TAGS]),
    ANYTHING,
)


@given(main=TAGS, camera=TAGS)
def test_no_tag_value_stops_the_reading(
    main: dict[int, Any], camera: dict[int, Any]
) -> None:
    """Whatever stands in the tags, there is a record, and a focal length or none."""
    exif = exif_from_tags(main, camera)

    photo = photo_of((4000, 3000))
    found = focal_px_from_exif(
        Photo(name=photo.name, sha256="", rgb=photo.rgb, exif=exif)
    )
    assert exif.orientation in range(1, 9)
    assert found is None or (found[0] > 0 and found[1] >= 0)


def test_a_broken_record_is_left_out(tmp_path: Path) -> None:
    """The picture can still be measured in; the reader is told."""
    noise = b"Exif\0\0XX*\0\0\0\0\x08" + bytes(range(40))
    data = encoded(Image.fromarray(corner_pixels()), "JPEG", exif=noise)
    path = tmp_path / "a.jpg"
    path.write_bytes(data)

    photo = read_photo(path)

    assert photo.exif == Exif()
    assert photo.remarks == ("its Exif record is broken and was left out",)


def test_focal_plane_resolution_comes_first() -> None:
    """f_px = focal length times pixels per mm (Exif 2.32): 70 x 230 = 16100 px."""
    focal_px, u_px, text = focal_of((5184, 3456), **SENSOR, focal_length_35mm=112.0)

    assert focal_px == pytest.approx(16100.0)
    assert "focal plane resolution" in text
    # focused at 0.6 m a lens of 70 mm draws up to 70/530 larger: rectangular
    assert u_px == pytest.approx(16100 * 70 / 530 / sqrt(3), rel=0.01)


def test_film_equivalent_on_the_diagonal() -> None:
    """A 36 x 24 mm frame of 3:2 has 43.27 mm: 50 mm on 6000 px is 50/36 x 6000."""
    focal_px, u_px, text = focal_of((6000, 4000), focal_length_35mm=50.0)

    assert focal_px == pytest.approx(50 / 36 * 6000, rel=2e-4)
    assert u_px / focal_px == pytest.approx(hypot(0.5 / 50 / sqrt(3), 0.02), rel=0.01)
    assert "35 mm equivalent 50 mm" in text


def test_four_to_three_carries_the_width_definition() -> None:
    """By the width it is 26/36 x 4000 = 2889 px, 3.9 % less: inside 2 u of 3004 px."""
    focal_px, u_px, _ = focal_of((4000, 3000), **FILM)

    assert focal_px == pytest.approx(26 * 5000 / 43.27)
    assert focal_px - 2 * u_px < 26 / 36 * 4000 < focal_px


def test_nothing_recorded_is_none() -> None:
    """A focal length in mm alone says nothing about pixels."""
    assert focal_px_from_exif(photo_of((4000, 3000))) is None
    assert focal_px_from_exif(photo_of((4000, 3000), focal_length_mm=5.7)) is None


@pytest.mark.parametrize("record", [SENSOR, FILM])
@pytest.mark.parametrize("stored_swapped", [False, True])
def test_turning_leaves_the_focal_length_alone(
    record: dict[str, float], *, stored_swapped: bool
) -> None:
    """Pixels are square; the record may be of the lying or the standing picture."""
    recorded = (3000, 4000) if stored_swapped else (4000, 3000)
    lying = focal_of((4000, 3000), recorded_size_px=recorded, **record)
    standing = focal_of((3000, 4000), recorded_size_px=recorded, **record)

    assert lying == standing


@given(share=st.floats(0.2, 1.0))
def test_a_resized_picture_scales_the_focal_length(share: float) -> None:
    """Same shape and smaller; whole pixels move the scale by half a pixel at most."""
    full = focal_of((4000, 3000), recorded_size_px=(4000, 3000), **FILM)
    size_px = (round(4000 * share), round(3000 * share))

    focal_px, _, text = focal_of(size_px, recorded_size_px=(4000, 3000), **FILM)

    assert focal_px == pytest.approx(full[0] * share, rel=0.5 / size_px[0] + 1e-9)
    assert ("resized" in text) == (size_px != (4000, 3000))


def test_a_cropped_picture_keeps_the_focal_length() -> None:
    """Another shape with a side whole was cropped; with none, the scale is doubted."""
    full = focal_of((4000, 3000), recorded_size_px=(4000, 3000), **FILM)
    strip = focal_of((4000, 2250), recorded_size_px=(4000, 3000), **FILM)
    both = focal_of((2000, 1000), recorded_size_px=(4000, 3000), **FILM)

    assert strip[:2] == full[:2]
    assert "cropped" in strip[2]
    assert both[0] == full[0]
    assert both[0] - 2 * both[1] < full[0] / 2  # it may have been halved as well


@pytest.mark.parametrize(
    ("size_px", "most_px"),
    [((4000, 3000), 0), ((2000, 1500), 0), ((4000, 2250), 750), ((3000, 1000), 2000)],
)
def test_what_was_cut_away_is_read_from_the_record(
    size_px: tuple[int, int], most_px: int
) -> None:
    """The larger loss of the two sides; a smaller picture of its shape lost none."""
    photo = photo_of(size_px, recorded_size_px=(4000, 3000), **FILM)

    assert cut_away_px(photo) == most_px


@pytest.mark.parametrize(
    ("size_px", "usual"),
    [
        ((4032, 3024), True),
        ((3024, 4032), True),
        ((6000, 4000), True),
        ((1920, 1080), True),
        ((4000, 1500), False),
        ((2889, 1052), False),
    ],
)
def test_the_shapes_of_whole_pictures_are_known(
    size_px: tuple[int, int], usual: bool
) -> None:
    """Sensors of phones and cameras are 4:3 and 3:2, films of 16:9: common practice."""
    assert has_usual_shape(size_px) is usual


def test_a_size_that_contradicts_the_record_gives_nothing() -> None:
    """A panorama is wider than anything that the camera recorded."""
    photo = photo_of((9000, 3000), recorded_size_px=(4000, 3000), **FILM)

    assert focal_px_from_exif(photo) is None


def test_digital_zoom_is_doubtful_both_ways() -> None:
    """The film equivalent is taken with it, the sensor's resolution without.

    Makers differ, so the other reading stays inside 2 u.
    """
    film = focal_of((4000, 3000), **FILM, digital_zoom=2.0)
    plain = focal_of((4000, 3000), **FILM)
    sensor = focal_of((5184, 3456), **SENSOR, digital_zoom=2.0)

    assert film[0] == plain[0]
    assert film[0] - 2 * film[1] < plain[0] / 2
    assert sensor[0] == pytest.approx(2 * 16100)
    assert sensor[0] - 2 * sensor[1] < 16100
    assert "digital zoom 2: doubtful" in film[2]


def test_two_sources_that_disagree_widen_the_doubt() -> None:
    """A focal plane resolution twice too large is a known fault of some cameras."""
    focal_px, u_px, text = focal_of(
        (4000, 3000), **FILM, focal_plane_px_per_mm=2 * 3004.4 / 5.7
    )

    assert focal_px == pytest.approx(2 * 3004.4)
    assert focal_px - 2 * u_px < 3004.4
    assert "35 mm equivalent says 3004 px" in text


def test_a_senseless_focal_length_is_left_out() -> None:
    """A resolution in the wrong unit gives a focal length of metres."""
    focal_px, _, text = focal_of((4000, 3000), **FILM, focal_plane_px_per_mm=1e6)

    assert focal_px == pytest.approx(26 * 5000 / 43.27)
    assert text == "Exif 35 mm equivalent 26 mm"
