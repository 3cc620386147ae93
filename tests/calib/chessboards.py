"""Chessboards seen by a known lens: exact corners, and drawn pictures."""

from dataclasses import dataclass

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from calib.errors import LensError
from calib.lens.views import Board, View
from calib.photo.light import encode_srgb
from calib.records import Exif, Floats, Photo

BOARD = Board(columns=8, rows=5, pitch_mm=20.0)
CAMERA = Exif(make="Invented", model="Invented No. 1", focal_length_mm=5.7)
STEEPNESS = 20.0  # of a step between squares: a blur of about 1 px
BLACK, WHITE, GREY = 0.03, 0.8, 0.25  # linear light


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueLens:
    """What the solver has to find again."""

    size_px: tuple[int, int] = (960, 720)
    focal_px: float = 900.0
    centre_px: tuple[float, float] = (487.3, 352.6)
    k1: float = -0.12
    k2: float = 0.05


def poses(count: int, seed: int = 1, tilt_deg: float = 35.0) -> list[Floats]:
    """Give (3, 4) board-to-camera transforms, tilted and spread over the picture."""
    random = np.random.default_rng(seed)
    found = []
    for at in range(count):
        angle = 2.4 * at  # the golden angle: neighbours tilt in unlike directions
        tilt = np.radians(random.uniform(0.5, 1.0) * tilt_deg)
        axis = np.array((np.cos(angle), np.sin(angle), 0.0))
        turn = cv2.Rodrigues(axis * tilt)[0]
        centre = np.array(((BOARD.columns - 1) / 2, (BOARD.rows - 1) / 2, 0.0))
        away = np.array((45 * np.cos(angle + 1), 35 * np.sin(angle + 1), 230.0))
        found.append(np.c_[turn, away - turn @ (centre * BOARD.pitch_mm)])
    return found


def project(lens: TrueLens, pose: Floats, points_mm: Floats) -> Floats:
    """Project by the model written out: x (1 + k1 r^2 + k2 r^4)."""
    seen = points_mm @ pose[:, :3].T + pose[:, 3]
    flat = seen[:, :2] / seen[:, 2:]
    r2 = np.sum(flat**2, axis=1, keepdims=True)
    bent = flat * (1 + lens.k1 * r2 + lens.k2 * r2**2)
    projected: Floats = bent * lens.focal_px + lens.centre_px
    return projected


def corners_mm(board: Board = BOARD) -> Floats:
    """List the inner corners row by row, (n, 3)."""
    steps = [(x, y, 0.0) for y in range(board.rows) for x in range(board.columns)]
    return np.array(steps) * board.pitch_mm


def noisy_views(
    lens: TrueLens, places: list[Floats], noise_px: float, seed: int
) -> list[View]:
    """See the corners with independent noise."""
    random = np.random.default_rng(seed)
    return [
        View(
            name=f"board{at}.jpg",
            sha256=f"{seed}-{at}",
            size_px=lens.size_px,
            exif=CAMERA,
            corners_px=project(lens, pose, corners_mm())
            + noise_px * random.standard_normal((BOARD.columns * BOARD.rows, 2)),
        )
        for at, pose in enumerate(places)
    ]


def draw_board(lens: TrueLens, pose: Floats, name: str, exif: Exif = CAMERA) -> Photo:
    """Draw a board with a white border, slightly blurred, in linear light, then coded.

    The blur is symmetric about each corner, so that the saddle stays where it is.
    """
    width, height = lens.size_px
    x, y = np.meshgrid(np.arange(width), np.arange(height))
    bent = (np.stack((x, y), axis=-1) - np.array(lens.centre_px)) / lens.focal_px
    rays = np.dstack((_straightened(lens, bent), np.ones((height, width))))
    rays = rays @ pose[:, :3]
    eye = -pose[:, :3].T @ pose[:, 3]
    place = (eye - rays * (eye[2] / rays[:, :, 2:]))[:, :, :2] / BOARD.pitch_mm
    coded = np.rint(encode_srgb(_board_light(place)) * 255).astype(np.uint8)
    return Photo(name=name, sha256=name, rgb=np.dstack([coded] * 3), exif=exif)


def _straightened(lens: TrueLens, bent: Floats) -> Floats:
    """Undo the distortion by a table of radii."""
    straight = np.linspace(0, 1.2, 20_000)
    table = straight * (1 + lens.k1 * straight**2 + lens.k2 * straight**4)
    radius = np.hypot(bent[:, :, 0], bent[:, :, 1]) + 1e-12
    ratio = np.interp(radius, table, straight) / radius
    straightened: Floats = bent * ratio[:, :, None]
    return straightened


def _board_light(place: Floats) -> Floats:
    """Give black and white squares, a white border one square wide, and grey."""
    column, row = place[:, :, 0], place[:, :, 1]
    wave = np.tanh(STEEPNESS * np.sin(np.pi * column))
    wave *= np.tanh(STEEPNESS * np.sin(np.pi * row))
    squares = BLACK + (WHITE - BLACK) * (1 - wave) / 2
    light = np.where(_within(column, row, 1), squares, WHITE)
    framed: Floats = np.where(_within(column, row, 2), light, GREY)
    return framed


def _within(column: Floats, row: Floats, margin: float) -> NDArray[np.bool_]:
    """Tell what lies not farther out than ``margin`` squares from the inner corners."""
    last_column, last_row = BOARD.columns - 1 + margin, BOARD.rows - 1 + margin
    across = (column >= -margin) & (column < last_column)
    within: NDArray[np.bool_] = across & (row >= -margin) & (row < last_row)
    return within


def refusal(call: object, *arguments: object) -> str:
    """Give the one sentence of a LensError, which ends in a full stop."""
    with pytest.raises(LensError) as caught:
        call(*arguments)  # type: ignore[operator]
    message = str(caught.value)
    assert message.endswith(".")
    assert "\n" not in message
    return message
