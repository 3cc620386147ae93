"""Whether a second photo was taken by the same, unmoved camera.

The record (size, make, model, focal length) is compared first, then what stands still
in both: edges of plate, bench and backdrop. Springs and the target may come and go.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from calib.errors import PhotoError
from calib.records import Calibration, Exif, Floats, Grey, Photo

STILL_PX = 640  # long side of the kept picture
FOCAL_SLACK = 0.002  # relative; a zoom lens reports no finer
LEAST_GRADIENT = 4.0  # grey levels per px
LEAST_PIXELS = 250
ALIKE_COSINE = 0.94
ALIKE_RATIO = 2.0
STILL_SHARE = 0.5  # of the kept picture's edges that must stand where they stood
MOVED_GAIN = 0.25
MOST_SHIFT_PX = 24
MOVED_PX = 0.35  # of the kept picture
ALIGN_ROUNDS = 8
ALIGN_LEVELS = 12.0  # grey levels at which a pixel counts half
LEAST_BEND = 0.05
REMEDY = "Take the reference photo again, and leave the camera alone after it"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Edges:
    """Gradient (h, w) right and down, and where it is strong."""

    right: Grey
    down: Grey
    strong: NDArray[np.bool_]


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
    if moved_px > MOVED_PX:
        shrink = max(photo.size_px) / STILL_PX
        raise PhotoError(
            photo.name,
            f"is displaced against {calibration.photo_name}: what stands still moved "
            f"by {moved_px * shrink:.0f} px",
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
    free = _without_target(calibration, kept.shape)
    before, after = _edges(kept), _edges(picture)
    watched = before.strong & free
    if int(watched.sum()) < LEAST_PIXELS:
        return None
    shares = _shares(before, after, watched)
    middle = MOST_SHIFT_PX
    at_rest = float(shares[middle - 1 : middle + 2, middle - 1 : middle + 2].max())
    row, column = np.unravel_index(int(np.argmax(shares)), shares.shape)
    far = float(np.hypot(int(row) - middle, int(column) - middle))
    best = float(shares[row, column])
    if best >= STILL_SHARE and best > at_rest + MOVED_GAIN:
        return far
    if at_rest < STILL_SHARE:
        return None
    return _fine_shift(kept, picture, watched & _alike(before, after))


def _without_target(
    calibration: Calibration, shape: tuple[int, ...]
) -> NDArray[np.bool_]:
    """Mark what lies clear of the target."""
    shrink = shape[1] / calibration.camera.size_px[0]
    outline = np.rint(calibration.target_outline_px * shrink).astype(np.int32)
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [outline.reshape(-1, 1, 2)], 1)
    reach = max(round(0.03 * max(shape)), 3)
    grown = cv2.dilate(mask, np.ones((2 * reach + 1, 2 * reach + 1), np.uint8))
    return np.asarray(grown == 0)


def _edges(picture: NDArray[np.uint8]) -> Edges:
    soft = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 1.0)
    right = cv2.Sobel(soft, cv2.CV_32F, 1, 0, ksize=3, scale=0.125)
    down = cv2.Sobel(soft, cv2.CV_32F, 0, 1, ksize=3, scale=0.125)
    strong = np.hypot(right, down) > LEAST_GRADIENT
    edge = 3
    strong[:edge], strong[-edge:] = False, False
    strong[:, :edge], strong[:, -edge:] = False, False
    return Edges(
        right=np.asarray(right), down=np.asarray(down), strong=np.asarray(strong)
    )


def _alike(before: Edges, after: Edges) -> NDArray[np.bool_]:
    """Mark pixels whose gradients agree in direction and about in size."""
    product = before.right * after.right + before.down * after.down
    one = np.hypot(before.right, before.down)
    other = np.hypot(after.right, after.down)
    same = product > ALIKE_COSINE * one * other
    same &= (other < ALIKE_RATIO * one) & (one < ALIKE_RATIO * other)
    return np.asarray(same & (other > 0))


def _shares(before: Edges, after: Edges, watched: NDArray[np.bool_]) -> Floats:
    """Give the share of watched edges that is found again at each whole-px shift."""
    rows, columns = np.nonzero(watched)
    height, width = watched.shape
    right, down = before.right[rows, columns], before.down[rows, columns]
    size = np.hypot(right, down)
    span = range(-MOST_SHIFT_PX, MOST_SHIFT_PX + 1)
    shares = np.zeros((len(span), len(span)))
    for y, dy in enumerate(span):
        for x, dx in enumerate(span):
            r = np.clip(rows + dy, 0, height - 1)
            c = np.clip(columns + dx, 0, width - 1)
            there_right, there_down = after.right[r, c], after.down[r, c]
            there = np.hypot(there_right, there_down)
            same = right * there_right + down * there_down > ALIKE_COSINE * size * there
            same &= (there < ALIKE_RATIO * size) & (size < ALIKE_RATIO * there)
            shares[y, x] = float(np.mean(same))
    return shares


def _fine_shift(
    kept: NDArray[np.uint8], picture: NDArray[np.uint8], watched: NDArray[np.bool_]
) -> float | None:
    """Align watched pixels to a part of a px; judge only directions that show edges."""
    rows, columns = np.nonzero(watched)
    before = cv2.GaussianBlur(kept.astype(np.float32), (0, 0), 1.0)
    after = cv2.GaussianBlur(picture.astype(np.float32), (0, 0), 1.0)
    right = cv2.Sobel(before, cv2.CV_32F, 1, 0, ksize=3, scale=0.125)[rows, columns]
    down = cv2.Sobel(before, cv2.CV_32F, 0, 1, ksize=3, scale=0.125)[rows, columns]
    slopes = np.column_stack([right, down, np.ones_like(right)]).astype(np.float64)
    change = (after - before)[rows, columns].astype(np.float64)
    shift: Floats = np.zeros(3)
    normal = slopes.T @ slopes
    for _ in range(ALIGN_ROUNDS):
        left = change + slopes @ shift
        weight = 1.0 / (1.0 + (left / ALIGN_LEVELS) ** 2)
        normal = (slopes.T * weight) @ slopes
        shift = -np.linalg.pinv(normal, rcond=1e-9) @ (slopes.T * weight) @ change
    values, vectors = np.linalg.eigh(normal[:2, :2])
    if values[1] <= 0.0:
        return None
    telling = vectors[:, values > LEAST_BEND * values[1]]
    return float(np.linalg.norm(telling.T @ shift[:2]))
