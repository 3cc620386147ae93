"""Whether a second photo was taken by the same, unmoved camera.

The record (size, make, model, focal length) is compared first, then what stands still
in both: edges of plate, bench and backdrop. Springs and the target may come and go.
"""

from math import isfinite

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.camera import project
from calib.errors import PhotoError
from calib.records import Calibration, Exif, Floats, Grey, Photo

STILL_PX = 640  # long side of the kept picture
FOCAL_SLACK = 0.002  # relative; a zoom lens reports no finer
SLOW_PX, FAST_PX = 6.0, 0.7
TILE_PX = 16
LEAST_CONTRAST = 0.9  # grey levels; below it a tile shows only noise
LEAST_TILES = 6
ALIKE = 0.75  # correlation
TELLING_PX = 3  # by which a tile is moved to see whether that shows
STILL_SHARE = 0.2  # springs and target come and go, the rest should stand
MOVED_SHARE = 0.35
LOST_SHARE, MANY_TILES = 0.06, 16
MOST_SHIFT_PX = 24
MOVED_PX = 0.14  # of the kept picture: three quarters of a px of a usual photo
ALIGN_ROUNDS = 10
LEAST_BEND = 0.02  # of the clearest direction's information
LEAST_MISS_PX = 0.02
LEAST_GAIN = 0.2  # of contrast, which light and exposure change
REMEDY = "Take the reference photo again, and leave the camera alone after it"


def still_picture(photo: Photo) -> NDArray[np.uint8]:
    """Give the small grey copy by which a later photo is compared."""
    width, height = photo.size_px
    shrink = min(STILL_PX / max(width, height), 1.0)
    size = (max(round(width * shrink), 1), max(round(height * shrink), 1))
    small = cv2.resize(photo.rgb, size, interpolation=cv2.INTER_AREA)
    if small.dtype == np.uint16:
        small = (small // 257).astype(np.uint8)
    return np.asarray(cv2.cvtColor(small, cv2.COLOR_RGB2GRAY), np.uint8)


def check_same_camera(calibration: Calibration, photo: Photo) -> tuple[str, ...]:
    """Refuse a photo that another or a moved camera took; say what cannot be told.

    Raises
    ------
    PhotoError
        Size, camera or focal length differ, or what stood still has moved.
    """
    if photo.sha256 == calibration.photo_sha256:
        return ()
    _check_size(calibration, photo)
    remarks = _check_record(calibration, photo)
    if calibration.thumbnail is None:
        return (*remarks, _cannot_tell(calibration, photo))
    moved_px = _moved_px(calibration, still_picture(photo))
    if moved_px is None:
        return (*remarks, _cannot_tell(calibration, photo))
    if not isfinite(moved_px):
        raise PhotoError(
            photo.name,
            f"shows nothing of what stood still in {calibration.photo_name}",
            REMEDY,
        )
    if moved_px > MOVED_PX:
        shrink = max(photo.size_px) / STILL_PX
        raise PhotoError(
            photo.name,
            f"is displaced against {calibration.photo_name}: what stands still moved "
            f"by {max(moved_px * shrink, 1.0):.0f} px or more",
            REMEDY,
        )
    return remarks


def _cannot_tell(calibration: Calibration, photo: Photo) -> str:
    return (
        f"{photo.name}: whether the camera stood still since {calibration.photo_name} "
        "cannot be told from the background"
    )


def _check_size(calibration: Calibration, photo: Photo) -> None:
    expected = calibration.camera.size_px
    if photo.size_px != expected:
        raise PhotoError(
            photo.name,
            f"measures {photo.size_px[0]}x{photo.size_px[1]} px, "
            f"{calibration.photo_name} {expected[0]}x{expected[1]} px",
            "Take both with the same camera and settings",
        )


def _check_record(calibration: Calibration, photo: Photo) -> tuple[str, ...]:
    """Compare what the camera wrote into both files."""
    was, now = calibration.exif, photo.exif
    for word, before, after in (
        ("make", was.make, now.make),
        ("model", was.model, now.model),
    ):
        if before and after and before != after:
            raise PhotoError(
                photo.name,
                f"is of camera {word} {after}, {calibration.photo_name} of {before}",
                "Take both with the same camera",
            )
    for word, unit, before_value, after_value in _lengths(was, now):
        if not before_value or not after_value:
            continue
        if abs(after_value / before_value - 1.0) > FOCAL_SLACK:
            raise PhotoError(
                photo.name,
                f"has a {word} of {after_value:g}{unit}, "
                f"{calibration.photo_name} of {before_value:g}{unit}",
                "Take both without touching the zoom",
            )
    if not (was.model and now.model):
        return (f"{photo.name}: no record tells that the camera is the same",)
    return ()


def _lengths(
    was: Exif, now: Exif
) -> tuple[tuple[str, str, float | None, float | None], ...]:
    return (
        ("focal length", " mm", was.focal_length_mm, now.focal_length_mm),
        (
            "35 mm equivalent focal length",
            " mm",
            was.focal_length_35mm,
            now.focal_length_35mm,
        ),
        ("digital zoom", "", was.digital_zoom or 1.0, now.digital_zoom or 1.0),
    )


def _moved_px(calibration: Calibration, picture: NDArray[np.uint8]) -> float | None:
    """Give how far still things moved, in px of the kept picture; None: cannot tell."""
    kept = calibration.thumbnail
    if kept is None or kept.shape != picture.shape:
        return None
    before, after = _even(kept), _even(picture)
    tiles = _tiles(before, _without_target(calibration, kept.shape))
    if len(tiles) < LEAST_TILES:
        return None
    surfaces = np.array([_surface(before, after, tile) for tile in tiles])
    middle = MOST_SHIFT_PX
    rest = surfaces[:, middle - 1 : middle + 2, middle - 1 : middle + 2]
    still = rest.max(axis=(1, 2)) > ALIKE
    if int(still.sum()) >= max(LEAST_TILES, STILL_SHARE * len(tiles)):
        return _fine_shift(before, after, [tiles[k] for k in np.flatnonzero(still)])
    shares = np.mean(surfaces > ALIKE, axis=0)
    row, column = np.unravel_index(int(np.argmax(shares)), shares.shape)
    if float(shares[row, column]) < MOVED_SHARE:
        lost = int(still.sum()) <= LOST_SHARE * len(tiles) and len(tiles) > MANY_TILES
        return float("inf") if lost else None
    return float(np.hypot(int(row) - middle, int(column) - middle))


def _without_target(
    calibration: Calibration, shape: tuple[int, ...]
) -> NDArray[np.bool_]:
    """Mark what lies clear of the target, and of the paper about a card."""
    shrink = shape[1] / calibration.camera.size_px[0]
    mask = np.zeros(shape, np.uint8)
    for outline_px in (calibration.target_outline_px, _covered_px(calibration)):
        outline = np.rint(outline_px * shrink).astype(np.int32)
        cv2.fillPoly(mask, [outline.reshape(-1, 1, 2)], 1)
    reach = max(round(0.03 * max(shape)), 3)
    grown = cv2.dilate(mask, np.ones((2 * reach + 1, 2 * reach + 1), np.uint8))
    return np.asarray(grown == 0)


def _covered_px(calibration: Calibration) -> Floats:
    """Give the corners (4, 2) of all that the target covers, in px of the photo."""
    left, low, right, high = calibration.target_box_mm
    face = -calibration.reference.face_offset_mm
    corners = [[left, low], [right, low], [right, high], [left, high]]
    return project(calibration.camera, [[x, face, z] for x, z in corners])


def _even(picture: NDArray[np.uint8]) -> Grey:
    """Take off slow changes of brightness, which light and exposure bring."""
    grey = picture.astype(np.float32)
    slow = cv2.GaussianBlur(grey, (0, 0), SLOW_PX)
    return np.asarray(cv2.GaussianBlur(grey, (0, 0), FAST_PX) - slow, np.float32)


def _tiles(even: Grey, free: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Give the corners (row, column) of tiles that show something, off the target."""
    height, width = even.shape
    tiles = []
    for row in range(MOST_SHIFT_PX, height - TILE_PX - MOST_SHIFT_PX + 1, TILE_PX):
        for column in range(
            MOST_SHIFT_PX, width - TILE_PX - MOST_SHIFT_PX + 1, TILE_PX
        ):
            spot = np.s_[row : row + TILE_PX, column : column + TILE_PX]
            shows = bool(np.all(free[spot])) and np.std(even[spot]) > LEAST_CONTRAST
            if shows and _would_tell(even, (row, column)):
                tiles.append((row, column))
    return tiles


def _would_tell(even: Grey, tile: tuple[int, int]) -> bool:
    """Tell whether a tile would look unlike itself if it moved; slopes would not."""
    return float(_surface(even, even, tile, TELLING_PX).min()) < ALIKE


def _surface(
    before: Grey, after: Grey, tile: tuple[int, int], most_px: int = MOST_SHIFT_PX
) -> Grey:
    """Correlate a tile with the later picture at every whole-px shift."""
    row, column = tile
    template = before[row : row + TILE_PX, column : column + TILE_PX]
    reach = TILE_PX + most_px
    around = after[row - most_px : row + reach, column - most_px : column + reach]
    surface = cv2.matchTemplate(around, template, cv2.TM_CCOEFF_NORMED)
    return np.asarray(surface, np.float32)


def _fine_shift(before: Grey, after: Grey, tiles: list[tuple[int, int]]) -> float:
    """Align still tiles to a part of a px by shift, turn and zoom.

    Each tile tells only of motion across its own edges, and only that is judged.
    """
    normals, pulls = _tile_motions(before, after, tiles)
    half = 0.5 * max(before.shape)
    middle = np.array(before.shape) / 2.0 - TILE_PX / 2.0
    down, right = ((np.array(tiles) - middle) / half).T
    moves = np.zeros((len(tiles), 2, 4))  # px at the middle, and at the far edge
    moves[:, 0] = np.column_stack([right**0, 0 * right, right, -down])
    moves[:, 1] = np.column_stack([0 * right, right**0, down, right])
    weight, motion = np.ones(len(tiles)), np.zeros((len(tiles), 2))
    for _ in range(ALIGN_ROUNDS):
        weighed = weight[:, None, None] * np.swapaxes(moves, 1, 2)
        normal = np.sum(weighed @ normals @ moves, axis=0)
        pull = np.sum(weighed @ pulls[:, :, None], axis=0)[:, 0]
        motion = moves @ (np.linalg.pinv(normal, rcond=LEAST_BEND) @ pull)
        miss = np.linalg.norm(pulls - np.einsum("kij,kj->ki", normals, motion), axis=1)
        spread = max(float(np.median(miss)), LEAST_MISS_PX)
        weight = 1.0 / (1.0 + (miss / (2.0 * spread)) ** 2)
    across = np.einsum("ki,kij,kj->k", motion, normals, motion)
    return float(np.sqrt(weight @ across / weight.sum()))


def _tile_motions(
    before: Grey, after: Grey, tiles: list[tuple[int, int]]
) -> tuple[Floats, Floats]:
    """Give each tile's normal equations (2, 2), (2,) for its shift, of unit trace."""
    right = cv2.Sobel(before, cv2.CV_32F, 1, 0, ksize=3, scale=0.125)
    down = cv2.Sobel(before, cv2.CV_32F, 0, 1, ksize=3, scale=0.125)
    normals, pulls = np.zeros((len(tiles), 2, 2)), np.zeros((len(tiles), 2))
    for k, (row, column) in enumerate(tiles):
        spot = np.s_[row : row + TILE_PX, column : column + TILE_PX]
        shown = before[spot].ravel().astype(np.float64)
        shown -= np.mean(shown)
        later = after[spot].ravel().astype(np.float64)
        later /= max(float(later @ shown) / float(shown @ shown), LEAST_GAIN)
        slopes = np.column_stack([right[spot].ravel(), down[spot].ravel()])
        size = float(np.sum(slopes**2))
        normals[k] = slopes.T @ slopes / size
        pulls[k] = -slopes.T @ (later - np.mean(later) - shown) / size
    return normals, pulls
