"""A spring's foot in a photo in, how its near edge differs from the prediction out."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from calib.camera import project
from calib.edge import EdgeSettings, fit_edges
from calib.photo import linear_grey
from calib.records import Calibration, Camera, Floats, Photo
from vision.spring.axis import Stance, solve_axis
from vision.spring.budget import base_stance
from vision.spring.solid import Seen

ACROSS = 0.75  # share of the foot's radius within which its near edge is read
COLUMNS = 61
NARROW_PX = 4.0  # around the edge, once it is roughly known
WIDEST_U, WIDEST_MM = 2.5, 3.5  # before: so many u of the calibration, at most so far
LEAST_SEEN = 0.6  # share of the columns that must show an edge
LEAST_CONTRAST = 0.06  # linear light; a foot on a dark plate shows no edge of its own
LEVEL_BAND_PX = 0.6  # columns this close to the lowest edge stand on the plate
LEAST_LEVEL = 0.2  # share of the columns that must do so
EVEN_BAND_PX, LEAST_BULGE = 0.35, 0.85  # share this even, for the bulge to be read
USUAL_SLOPE_PX, USUAL_BULGE_PX = 1.0, 4.0  # u of slope and bulge before they are read
BACKLIT = 0.33  # light on the plate, as a share of the backdrop's
U_COLUMN_PX = 0.5  # one column; neighbouring columns err alike


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Foot:
    """Where a spring stands, and how its near edge is seen against the prediction.

    ``lower_px`` is how much lower the edge is seen, ``fuller_px`` how much more it
    bulges (None where too little of it stands on the plate): the bulge tells the lens's
    height over the plate whatever a contact shadow adds to the level. ``plate`` and
    ``backdrop`` are the light before the foot and behind the top, linear, 0..1.
    """

    stance: Stance
    x_mm: float
    radius_mm: float
    lower_px: float
    fuller_px: float | None
    plate: float
    backdrop: float

    @property
    def is_lit_from_behind(self) -> bool:
        """Whether the spring's own shadow falls towards the lens."""
        return self.plate < BACKLIT * self.backdrop


def find_foot(calibration: Calibration, seen: Seen) -> Foot | None:
    """Say where a foot's near edge is expected; None where no axis was seen."""
    stance = base_stance(calibration)
    try:
        axis = solve_axis(stance, seen.left, seen.right)
    except ValueError:
        return None
    return Foot(
        stance=stance,
        x_mm=axis.foot_x_mm,
        radius_mm=axis.radius_at(0.0),
        lower_px=0.0,
        fuller_px=None,
        plate=1.0,
        backdrop=float(np.median(seen.outline.top.outside)),
    )


def read_foot(photo: Photo, foot: Foot, doubt_px: float) -> Foot | None:
    """Read a foot's near edge, sought as far as u of the calibration there allows.

    None where it gives no clear level.
    """
    edge = _read_edge(photo, foot, doubt_px)
    if edge is None:
        return None
    lower, columns, plate = edge
    shape, standing = _standing_shape(lower, columns)
    if standing.sum() < LEAST_LEVEL * COLUMNS:
        return None
    even = np.abs(lower - basis()[columns] @ shape) < EVEN_BAND_PX
    whole = even.sum() >= LEAST_BULGE * COLUMNS
    return replace(
        foot,
        lower_px=float(shape[0]),
        fuller_px=float(shape[2]) if whole else None,
        plate=plate,
    )


def _read_edge(
    photo: Photo, foot: Foot, doubt_px: float
) -> tuple[Floats, NDArray[np.bool_], float] | None:
    """How much lower each column's edge is seen, in which columns (n,), and the light.

    Sought widely first; where most columns agree, again close to there.
    """
    expected, down, scale = expected_edge(foot, foot.stance.camera)
    wide = min(WIDEST_U * doubt_px + NARROW_PX, WIDEST_MM * scale)
    corner = np.floor(expected.min(axis=0) - wide - 8).astype(int)
    corner = np.maximum(corner, 0)
    end = np.ceil(expected.max(axis=0) + wide + 8).astype(int)
    end = np.minimum(end, photo.size_px)
    if (end - corner < 8).any():  # noqa: PLR2004 - the foot lies outside the photo
        return None
    grey = linear_grey(
        photo, (int(corner[0]), int(corner[1]), int(end[0]), int(end[1]))
    )
    settings = EdgeSettings(
        polarity=1, least_contrast=LEAST_CONTRAST, most_residual=0.3
    )
    start, plate = 0.0, 0.0
    lower, seen = np.zeros(0), np.zeros(0, dtype=bool)
    for around in (wide, NARROW_PX):
        places = expected - corner + start * down
        edges, seen = fit_edges(grey, places, down, around, settings)
        if seen.mean() < LEAST_SEEN:
            return None
        offset = edges.points_px + corner - expected[seen]
        lower = (offset * down[seen]).sum(axis=1)
        start, plate = _densest(lower), float(np.median(edges.outside))
    return lower, seen, plate


def _densest(lower: Floats) -> float:
    """Middle of the band that holds most columns."""
    within = np.abs(lower[:, None] - lower[None]) < LEVEL_BAND_PX
    return float(lower[int(within.sum(axis=1).argmax())])


def basis() -> Floats:
    """Level, slope and bulge of a foot's near edge over the columns (n, 3)."""
    across = np.linspace(-ACROSS, ACROSS, COLUMNS)
    bulge = np.sqrt(1 - across**2)
    return np.column_stack([np.ones(COLUMNS), across, bulge - bulge.mean()])


def _standing_shape(
    lower: Floats, seen: NDArray[np.bool_]
) -> tuple[Floats, NDArray[np.bool_]]:
    """Level, slope and bulge of what stands on the plate, and which points do.

    Where the end's gap faces the lens the wire is seen higher, never lower.
    """
    curves = basis()[seen]
    held = np.diag([0.0, 1.0 / USUAL_SLOPE_PX, 1.0 / USUAL_BULGE_PX]) ** 2
    shape = np.array([float(np.quantile(lower, 0.9)), 0.0, 0.0])
    standing = np.ones(len(lower), dtype=bool)
    for _ in range(6):
        standing = np.abs(lower - curves @ shape) < LEVEL_BAND_PX
        if standing.sum() < LEAST_LEVEL * COLUMNS:
            break
        own = curves[standing] / U_COLUMN_PX
        normal = own.T @ own + held
        shape = np.linalg.solve(normal, own.T @ (lower[standing] / U_COLUMN_PX))
    return shape, standing


def expected_edge(foot: Foot, camera: Camera) -> tuple[Floats, Floats, float]:
    """Give the near edge (n, 2), the way down there (n, 2), and its px per mm."""
    edge = near_edge(foot, camera, 0.0)
    fall = edge - near_edge(foot, camera, 0.0, lift_mm=1.0)
    length = np.linalg.norm(fall, axis=1, keepdims=True)
    return edge, fall / length, float(length.mean())


def near_edge(
    foot: Foot, camera: Camera, shift_mm: float, lift_mm: float = 0.0
) -> Floats:
    """Project the foot's near edge (n, 2), the axis moved by ``shift_mm`` in depth."""
    across = np.linspace(-ACROSS, ACROSS, COLUMNS)
    points = np.column_stack(
        [
            foot.x_mm + foot.radius_mm * across,
            foot.stance.depth_mm + shift_mm - foot.radius_mm * np.sqrt(1 - across**2),
            np.full_like(across, lift_mm),
        ]
    )
    return project(camera, points)
