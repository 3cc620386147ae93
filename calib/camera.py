"""World points to picture points and back: a pinhole with radial distortion."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike

from calib.errors import LensError
from calib.photo import cut_away_px, focal_px_from_exif, has_usual_shape
from calib.records import Camera, Floats, Lens, Photo

DIAGONAL_35MM = 43.27  # mm, the frame to which a 35 mm equivalent focal length refers
USUAL_FOCAL_35MM = 45.0  # between a phone's main lens and a portrait lens
USUAL_FOCAL_U = 0.45  # relative: 28 to 72 mm lie within one u
CENTRE_U = 0.005  # of the picture's width; stabilised lenses wander by about as much
CUT_CENTRE_U = 0.03  # without a record: a margin of 6 % may have been cut off one side
# How likely a picture was cut out of a larger one that no record tells of, if it has
# the shape of a camera's and no record at all, and if its shape is no camera's.
CUT_SHARE, ODD_CUT_SHARE = 0.2, 0.9
# Residual barrel or cushion after the camera's own correction: k1 of a wide lens, and
# what it moves a picture's corner, as a share of its distance from the middle.
K1_U, CORNER_U = 0.02, 0.008
K2_U = 0.01
NEWTON_STEPS = 6
LEAST_CENTRE_U_PX = 1.0  # a stabilised lens moves from photo to photo
UNKNOWN = "unknown"
TAPE_U_MM, TAPE_U = 5.0, 0.01  # where in the lens the tape should have ended


@dataclass(frozen=True, slots=True, kw_only=True)
class Intrinsics:
    """What is believed of a camera's inner geometry before the target is seen.

    ``focal_u`` is relative; ``centre_u_px`` holds for either axis; ``cut_share`` is how
    likely the picture is part of a larger one to which the focal length belongs, and
    ``seems_cut`` that its shape or its record say so; a tape's ``distance_mm`` from the
    lens to the target's face stands beside that.
    """

    size_px: tuple[int, int]
    focal_px: float
    focal_u: float
    focal_source: str
    centre_px: tuple[float, float]
    centre_u_px: float
    k1: float
    k1_u: float
    k2: float
    k2_u: float
    cut_share: float = 0.0
    seems_cut: bool = False
    distance_mm: float | None = None
    distance_u_mm: float = 10.0

    @property
    def knows_focal(self) -> bool:
        """Tell whether anything but a guess gives this picture's focal length."""
        recorded = self.focal_source != UNKNOWN and not self.seems_cut
        return recorded or self.distance_mm is not None


def picture_centre(size_px: tuple[int, int]) -> tuple[float, float]:
    """Give the middle of a picture, (0, 0) being the centre of its first pixel."""
    return (size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0


def expected_intrinsics(
    photo: Photo, lens: Lens | None = None, distance_mm: float | None = None
) -> Intrinsics:
    """Give what is believed of the photo's camera: lens file, its record, a tape.

    A taped distance counts beside the others; without lens file and record the focal
    length is a guess so wide that every result shows it.
    """
    inner = _without_lens_file(photo) if lens is None else _from_lens(lens, photo)
    if distance_mm is None:
        return inner
    return replace(
        inner,
        distance_mm=distance_mm,
        distance_u_mm=float(np.hypot(TAPE_U_MM, TAPE_U * distance_mm)),
    )


def _without_lens_file(photo: Photo) -> Intrinsics:
    diagonal = float(np.hypot(*photo.size_px))
    focal_px, source = USUAL_FOCAL_35MM / DIAGONAL_35MM * diagonal, UNKNOWN
    u_px, centre_u = USUAL_FOCAL_U * focal_px, CUT_CENTRE_U
    cut_share, away_px = CUT_SHARE, cut_away_px(photo)
    if (recorded := focal_px_from_exif(photo)) is not None:
        focal_px, u_px, source = recorded
        centre_u, cut_share = CENTRE_U, 0.0
    odd_shape = not away_px and not has_usual_shape(photo.size_px)
    if odd_shape:
        cut_share = ODD_CUT_SHARE
    centre_u_px = np.hypot(centre_u * max(photo.size_px), away_px / np.sqrt(12.0))
    return Intrinsics(
        size_px=photo.size_px,
        focal_px=focal_px,
        focal_u=u_px / focal_px,
        focal_source=source,
        centre_px=picture_centre(photo.size_px),
        centre_u_px=float(centre_u_px),
        k1=0.0,
        k1_u=usual_k1_u(focal_px, photo.size_px),
        k2=0.0,
        k2_u=K2_U,
        cut_share=cut_share,
        seems_cut=odd_shape or away_px > 0,
    )


def usual_k1_u(focal_px: float, size_px: tuple[int, int]) -> float:
    """Give what is believed of the bend left by a lens of that focal length."""
    return max(K1_U, CORNER_U * (2.0 * focal_px / float(np.hypot(*size_px))) ** 2)


def _from_lens(lens: Lens, photo: Photo) -> Intrinsics:
    if lens.size_px != photo.size_px:
        raise LensError(
            photo.name,
            f"measures {photo.size_px[0]}x{photo.size_px[1]} px, but the lens file is "
            f"of {lens.size_px[0]}x{lens.size_px[1]} px",
            "Take both with the same settings, or leave the lens file out",
        )
    return Intrinsics(
        size_px=lens.size_px,
        focal_px=lens.focal_px,
        focal_u=lens.focal_u_px / lens.focal_px,
        focal_source="lens file",
        centre_px=lens.centre_px,
        centre_u_px=max(lens.centre_u_px, LEAST_CENTRE_U_PX),
        k1=lens.k1,
        k1_u=lens.k1_u,
        k2=lens.k2,
        k2_u=lens.k2_u,
    )


def project(camera: Camera, points_mm: ArrayLike) -> Floats:
    """Give the picture points (n, 2) of world points (n, 3) before the camera."""
    points = np.asarray(points_mm, dtype=np.float64).reshape(-1, 3)
    seen = (points - camera.position_mm) @ camera.rotation.T
    flat = seen[:, :2] / seen[:, 2:]
    square = np.sum(flat**2, axis=1, keepdims=True)
    bent = flat * (1.0 + camera.k1 * square + camera.k2 * square**2)
    pixels: Floats = camera.focal_px * bent + camera.centre_px
    return pixels


def undistorted(bent: Floats, k1: float, k2: float) -> Floats:
    """Take the radial distortion off normalised points (n, 2) by Newton's method."""
    far = np.sqrt(np.sum(bent**2, axis=1))
    radius = far.copy()
    for _ in range(NEWTON_STEPS):
        square = radius**2
        excess = radius * (1.0 + k1 * square + k2 * square**2) - far
        slope = 1.0 + 3.0 * k1 * square + 5.0 * k2 * square**2
        radius = radius - excess / np.maximum(slope, 0.1)
    straight: Floats = bent * (radius / np.maximum(far, 1e-12))[:, None]
    return straight


def directions(camera: Camera, points_px: ArrayLike) -> Floats:
    """Give the unit world rays (n, 3) that the camera sees at picture points (n, 2)."""
    points = np.asarray(points_px, dtype=np.float64).reshape(-1, 2)
    bent = (points - camera.centre_px) / camera.focal_px
    flat = undistorted(bent, camera.k1, camera.k2)
    rays = np.column_stack([flat, np.ones(len(flat))]) @ camera.rotation
    unit: Floats = rays / np.linalg.norm(rays, axis=1, keepdims=True)
    return unit


def on_plane(camera: Camera, points_px: ArrayLike, y_mm: float = 0.0) -> Floats:
    """Give the world (x, z) (n, 2) in mm of picture points in an upright plane."""
    rays = directions(camera, points_px)
    reach = (y_mm - camera.position_mm[1]) / rays[:, 1]
    met = camera.position_mm + reach[:, None] * rays
    flat: Floats = met[:, [0, 2]]
    return flat


def pixels_per_mm(camera: Camera, point_mm: ArrayLike) -> float:
    """Give the local scale in an upright plane y = const: root of the area ratio."""
    at = np.asarray(point_mm, dtype=np.float64)
    steps = np.array([[0.5, 0, 0], [-0.5, 0, 0], [0, 0, 0.5], [0, 0, -0.5]])
    right, left, up, down = project(camera, at + steps)
    across, along = right - left, up - down
    return float(np.sqrt(abs(across[0] * along[1] - across[1] * along[0])))
