"""Settling a calibration on the feet of the row, in pictures of known feet."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from calib.records import Calibration, Camera, Exif, Floats, Grey, Photo
from tests.vision.spring.helix import Helix
from tests.vision.spring.outlines import make_outline
from tests.vision.spring.places import Place, make_camera, seen
from tests.vision.spring.staging import (
    calibrate_points,
    nominal_staging,
    target_points,
)
from vision.records.measured import Outline
from vision.spring.foot import RIM, find_foot, read_foot
from vision.spring.settle import settle
from vision.spring.solid import look

PLACE = Place(position_mm=(0.0, -800.0, 90.0), pitch_deg=3.0)
ROW_MM = (-130.0, -90.0, -50.0, 90.0, 130.0)  # the card's square stands at 0 to 60
RADIUS_MM = 15.6 - RIM * 2.0  # of the rim that stands on the plate
PLATE, WIRE = 0.62, 0.05  # linear light
FINER, BLUR_PX = 8, 1.0
DOUBTS_PX = np.array([2.0, 0.3, 0.8])  # of a foot's level, slope and bulge
SEEN_PX = 0.45  # the allowance for a contact shadow, which these feet do not have


def feet_photo(
    camera: Camera,
    feet_mm: tuple[tuple[float, float], ...],
    plate: float | Grey = PLATE,
    highlight: float = WIRE,
) -> Photo:
    """Paint dark feet on a plate; each is (x, height over the plate).

    A highlight runs along each foot, 1.5 to 3 mm above its edge.
    """
    width, height = camera.size_px
    light = np.empty((height, width), dtype=np.float32)
    light[:] = plate
    turn = np.linspace(np.pi, 2 * np.pi, 181)
    for x, z in feet_mm:
        edge = np.column_stack(
            [
                x + RADIUS_MM * np.cos(turn),
                RADIUS_MM * np.sin(turn),
                np.full_like(turn, z),
            ]
        )
        above = edge[[-1, 0]] + [0.0, 0.0, 9.0]
        fill(light, seen(camera, np.vstack([edge, above])), WIRE)
        rise = np.array([0.0, 0.0, 1.5])
        band = np.vstack([edge + rise, edge[::-1] + 2 * rise])
        fill(light, seen(camera, band), highlight)
    light = np.asarray(cv2.GaussianBlur(light, (0, 0), BLUR_PX), dtype=np.float32)
    encoded = np.where(
        light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055
    )  # IEC 61966-2-1
    rgb = np.repeat(np.rint(255 * encoded).astype(np.uint8)[..., None], 3, axis=2)
    return Photo(name="feet", sha256="f" * 64, rgb=rgb, exif=Exif())


def fill(light: Grey, polygon_px: Floats, value: float) -> None:
    """Fill a polygon, each pixel by the share that it covers."""
    x0, y0 = np.floor(polygon_px.min(axis=0)).astype(int) - 2
    x1, y1 = np.ceil(polygon_px.max(axis=0)).astype(int) + 3
    mask = np.zeros(((y1 - y0) * FINER, (x1 - x0) * FINER), np.uint8)
    local = (polygon_px - [x0, y0] + 0.5) * FINER - 0.5
    cv2.fillPoly(mask, [np.rint(local * 16).astype(np.int32)], 255, shift=4)
    size = (x1 - x0, y1 - y0)
    share = cv2.resize(
        mask.astype(np.float32) / 255, size, interpolation=cv2.INTER_AREA
    )
    part = light[y0:y1, x0:x1]
    part += share * (value - part)


def outlines(row_mm: tuple[float, ...]) -> tuple[Outline, ...]:
    return tuple(
        make_outline(Helix(foot_x_mm=x), PLACE, position)
        for position, x in enumerate(row_mm, start=1)
    )


@pytest.fixture(scope="module")
def calibration() -> Calibration:
    return calibrate_points(
        target_points(nominal_staging(PLACE), None), make_camera(PLACE)
    )


def plate_px(camera: Camera) -> Floats:
    """Where the row's near edge on the plate is seen, up and down (n,)."""
    x = np.linspace(-150.0, 150.0, 7)
    points = np.column_stack([x, np.full(7, -RADIUS_MM), np.zeros(7)])
    return seen(camera, points)[:, 1]


MISTAKES = {  # each some u from what is stated
    "printed askew": {"side_tilts_px": np.array([0.0, 0.0, 0.3, -0.3])},
    "card leaning": {"leaning_rad": np.radians(0.8)},
}


def mistaken(name: str) -> Calibration:
    """Calibrate on a card that is not quite what is stated."""
    staging = replace(nominal_staging(PLACE), **MISTAKES[name])
    return calibrate_points(target_points(staging, None), make_camera(PLACE))


def level_u_px(calibration: Calibration) -> float:
    """How uncertain the plate's level is at the ends of the row."""
    base = plate_px(calibration.camera)
    moves = [plate_px(each.camera) - base for each in calibration.variants]
    return float(np.sqrt(np.sum(np.array(moves) ** 2, axis=0)).max())


@pytest.mark.parametrize("name", MISTAKES)
def test_feet_bring_a_mistaken_camera_back(name: str) -> None:
    """The plate comes to where the feet show it, all along the row."""
    truth = make_camera(PLACE)
    photo = feet_photo(truth, tuple((x, 0.0) for x in ROW_MM))
    believed = mistaken(name)
    before = np.abs(plate_px(believed.camera) - plate_px(truth)).max()

    settled = settle(photo, believed, outlines(ROW_MM))

    after = np.abs(plate_px(settled.camera) - plate_px(truth)).max()
    assert before > 2 * SEEN_PX
    assert after < SEEN_PX


def test_a_settled_plate_is_surer(calibration: Calibration) -> None:
    """What the row has told no longer stands in the budget."""
    photo = feet_photo(make_camera(PLACE), tuple((x, 0.0) for x in ROW_MM))

    settled = settle(photo, calibration, outlines(ROW_MM))

    assert level_u_px(settled) < 0.5 * level_u_px(calibration)
    assert {each.source for each in settled.variants} == {
        each.source for each in calibration.variants
    }


def test_a_right_camera_stays(calibration: Calibration) -> None:
    """Feet where they are expected move the plate by no more than their shadow."""
    truth = make_camera(PLACE)
    photo = feet_photo(truth, tuple((x, 0.0) for x in ROW_MM))

    settled = settle(photo, calibration, outlines(ROW_MM))

    assert np.abs(plate_px(settled.camera) - plate_px(truth)).max() < SEEN_PX


def test_a_foot_on_a_chip_is_left_out(calibration: Calibration) -> None:
    """One spring raised by 1.5 mm does not lift the plate."""
    truth = make_camera(PLACE)
    feet = tuple((x, 1.5 if x == -50.0 else 0.0) for x in ROW_MM)

    settled = settle(feet_photo(truth, feet), calibration, outlines(ROW_MM))

    assert np.abs(plate_px(settled.camera) - plate_px(truth)).max() < SEEN_PX


def test_no_springs_change_nothing(calibration: Calibration) -> None:
    """Where no spring was found there is nothing to settle on."""
    photo = feet_photo(make_camera(PLACE), ())

    assert settle(photo, calibration, ()) is calibration


@pytest.mark.parametrize("lower_mm", [-0.5, 0.0, 0.4])
def test_a_foot_is_read_to_a_fifth_of_a_pixel(
    calibration: Calibration, lower_mm: float
) -> None:
    """A foot drawn lower by some tenths of a mm is read as that much lower."""
    camera = make_camera(PLACE)
    photo = feet_photo(camera, ((-50.0, -lower_mm),))
    points = np.array([[-50.0, -RADIUS_MM, 0.0], [-50.0, -RADIUS_MM, -lower_mm]])
    expected = np.diff(seen(camera, points)[:, 1])[0]

    seen_spring = look(outlines((-50.0,))[0], camera)
    awaited = find_foot(calibration, seen_spring)
    assert awaited is not None
    foot = read_foot(photo, awaited, DOUBTS_PX)

    assert foot is not None
    assert foot.x_mm == pytest.approx(-50.0, abs=0.05)
    assert foot.radius_mm == pytest.approx(RADIUS_MM, abs=0.05)
    assert foot.lower_px == pytest.approx(expected, abs=0.2)


def test_a_dim_foot_is_read_below_its_highlight(calibration: Calibration) -> None:
    """On a dark plate the wire's highlight is far clearer than the foot's own edge."""
    camera = make_camera(PLACE)
    photo = feet_photo(camera, ((-50.0, 0.0),), plate=0.08, highlight=0.8)
    awaited = find_foot(calibration, look(outlines((-50.0,))[0], camera))
    assert awaited is not None

    foot = read_foot(photo, awaited, 2 * DOUBTS_PX)

    assert foot is not None
    assert foot.lower_px == pytest.approx(0.0, abs=0.2)


def test_a_foot_is_read_where_a_shadow_leaves_it(calibration: Calibration) -> None:
    """Columns in which the plate is as dark as the wire are left out."""
    camera = make_camera(PLACE)
    edge = np.array([[-50.0 - RADIUS_MM, 0.0, 0.0], [-50.0 + RADIUS_MM, 0.0, 0.0]])
    left, right = seen(camera, edge)[:, 0]
    lit = np.clip((np.arange(camera.size_px[0]) - left) / (right - left), 0.0, 1.0)
    plate = (0.05 + 0.02 * lit).astype(np.float32)
    awaited = find_foot(calibration, look(outlines((-50.0,))[0], camera))
    assert awaited is not None

    foot = read_foot(feet_photo(camera, ((-50.0, 0.0),), plate), awaited, DOUBTS_PX)

    assert foot is not None
    assert foot.lower_px == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize("doubt", [1.0, 4.0])
def test_a_bright_foot_on_a_dark_plate_is_not_read(
    calibration: Calibration, doubt: float
) -> None:
    """Where it is dark again below bright wire, the upper edge is a highlight's."""
    camera = make_camera(PLACE)
    photo = feet_photo(camera, ((-50.0, 0.0),), plate=0.02, highlight=0.8)
    awaited = find_foot(calibration, look(outlines((-50.0,))[0], camera))
    assert awaited is not None

    assert read_foot(photo, awaited, doubt * DOUBTS_PX) is None
