"""A spring's foot in a photo in, how its near edge differs from the prediction out."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d, map_coordinates
from skimage.morphology import local_maxima

from calib.camera import project
from calib.edge import EdgeSettings, fit_edges
from calib.photo import linear_grey
from calib.records import Calibration, Camera, Floats, Grey, Photo
from vision.spring.axis import solve_axis
from vision.spring.budget import base_stance
from vision.spring.rays import Stance
from vision.spring.solid import Seen, wire_of

ACROSS = 0.75  # share of the foot's radius within which its near edge is read
COLUMNS = 61
NARROW_PX = 4.0  # around the edge, once it is roughly known
WIDEST_U, WIDEST_MM = 2.5, 3.5  # before: so many u of the calibration, at most so far
LEAST_SEEN = 0.6  # share of the columns that must show an edge
SETTINGS = EdgeSettings(
    polarity=1,
    rows=3,
    least_contrast=0.004,
    least_contrast_to_noise=3.0,
    most_residual=0.33,
)
LEAST_CONTRAST = 0.1  # of the plate's light; less is a mark on the plate, or its noise
STEP_PX, SOFT_PX = 0.5, 1.2  # of the rough search, and the blur that it looks through
BENT_U = 2.0  # how many u of the calibration the edge's slope and bulge are sought
CLEAR = 0.3  # of the clearest edge sought: what is this clear and lowest is the foot
SURE = 5.0  # noises
LEVEL_BAND_PX = 0.6  # columns this close to the lowest edge stand on the plate
LEAST_LEVEL = 0.2  # share of the columns that must do so
EVEN_BAND_PX, LEAST_BULGE = 0.35, 0.85  # share this even, for the bulge to be read
USUAL_PX = np.array([1.0, 4.0])  # u of slope and bulge, the calibration being true
# Round a ground end the plate cuts the wire anywhere from half a radius above its
# middle to its lower side: the rim lies behind the widest place. Mean, own u
# at one place, own u of the mean over the foot's near part, and that which all springs
# of a row share, as they were ground alike, in radii of the wire.
RIM, U_RIM, U_RIM_PART, U_RIM_SHARED = 0.16, 0.2, 0.1, 0.2
BACKLIT = 0.33  # light on the plate, as a share of the backdrop's
LEAST_LIGHT = 1e-3  # of the whole range
U_COLUMN_PX = 0.5  # one column; neighbouring columns err alike


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Foot:
    """Where a spring stands, and how its near edge is seen against the prediction.

    ``lower_px`` is how much lower the edge is seen, ``fuller_px`` how much more it
    bulges (None where too little of it stands on the plate): the bulge tells the lens's
    height over the plate whatever a contact shadow adds to the level. ``radius_mm`` is
    that of the rim that stands on the plate, of wire with the radius ``wire_mm``;
    ``rim_px`` is how much lower its edge is seen than one as far behind it.
    ``plate`` and ``backdrop`` are the light before the foot and behind the top, linear,
    0..1.
    """

    stance: Stance
    x_mm: float
    radius_mm: float
    wire_mm: float
    rim_px: float
    lower_px: float
    fuller_px: float | None
    plate: float
    backdrop: float

    @property
    def plate_share(self) -> float:
        """Light on the plate before the foot, as a share of the backdrop's."""
        return self.plate / max(self.backdrop, LEAST_LIGHT)

    @property
    def is_lit_from_behind(self) -> bool:
        """Whether the spring's own shadow falls towards the lens."""
        return self.plate_share < BACKLIT


def find_foot(calibration: Calibration, seen: Seen) -> Foot | None:
    """Say where a foot's near edge is expected; None where no axis was seen."""
    stance = base_stance(calibration)
    try:
        axis = solve_axis(stance, seen.left, seen.right)
    except ValueError:
        return None
    wire_mm = wire_of(stance, seen).mm / 2
    foot = Foot(
        stance=stance,
        x_mm=axis.foot_x_mm,
        radius_mm=axis.radius_at(0.0) - RIM * wire_mm,
        wire_mm=wire_mm,
        rim_px=0.0,
        lower_px=0.0,
        fuller_px=None,
        plate=1.0,
        backdrop=float(np.median(seen.outline.top.outside)),
    )
    edge, down, _ = expected_edge(foot, stance.camera)
    behind = near_edge(foot, stance.camera, wire_mm)
    return replace(foot, rim_px=float(((edge - behind) * down).sum(axis=1).mean()))


def read_foot(photo: Photo, foot: Foot, doubts_px: Floats) -> Foot | None:
    """Read a foot's near edge, sought as far as u of the calibration there allows.

    ``doubts_px`` (3,) is that u for its level, slope and bulge. None where the edge
    gives no clear level.
    """
    edge = _read_edge(photo, foot, doubts_px)
    if edge is None:
        return None
    lower, columns, plate = edge
    band = LEVEL_BAND_PX + U_RIM * abs(foot.rim_px)
    usual = np.hypot(USUAL_PX, doubts_px[1:])
    shape, standing = _standing_shape(lower, columns, usual, band)
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
    photo: Photo, foot: Foot, doubts_px: Floats
) -> tuple[Floats, NDArray[np.bool_], float] | None:
    """How much lower each column's edge is seen, in which columns (n,), and the light.

    Sought widely first; where most columns agree, again close to there.
    """
    expected, down, scale = expected_edge(foot, foot.stance.camera)
    wide = reach_px(doubts_px[0], scale)
    bent = BENT_U * doubts_px[1:]
    around = wide + float(bent.sum()) + 8
    corner = np.floor(expected.min(axis=0) - around).astype(int)
    corner = np.maximum(corner, 0)
    end = np.ceil(expected.max(axis=0) + around).astype(int)
    end = np.minimum(end, photo.size_px)
    if (end - corner < 8).any():  # noqa: PLR2004 - the foot lies outside the photo
        return None
    grey = linear_grey(
        photo, (int(corner[0]), int(corner[1]), int(end[0]), int(end[1]))
    )
    start = _lowest_edge(grey, expected - corner, down, wide, bent)
    if start is None:
        return None
    places = expected - corner + start[:, None] * down
    edges, seen = fit_edges(grey, places, down, NARROW_PX, SETTINGS)
    clear = edges.outside - edges.inside > LEAST_CONTRAST * edges.outside
    edges, seen[seen] = edges.chosen(clear), clear
    if seen.mean() < LEAST_SEEN:
        return None
    offset = edges.points_px + corner - expected[seen]
    lower = (offset * down[seen]).sum(axis=1)
    return lower, seen, float(np.median(edges.outside))


def reach_px(u_px: float, px_per_mm: float) -> float:
    """How far to either side an edge is sought whose place has that u."""
    return min(WIDEST_U * u_px + NARROW_PX, WIDEST_MM * px_per_mm)


def _lowest_edge(
    grey: Grey, expected: Floats, down: Floats, wide_px: float, bent_px: Floats
) -> Floats | None:
    """How much lower (n,) the foot's edge lies, roughly: the lowest that is clear.

    Below a foot there is nothing but the plate and soft shadows; above its edge there
    are highlights and gaps between coils, often clearer than the edge itself. An edge
    counts by the columns that show it along the expected curve, bent a little. None
    where it grows dark again below: that is bright wire above a dark plate.
    """
    beyond = wide_px + float(bent_px.sum())
    ways = np.arange(-beyond, beyond + STEP_PX, STEP_PX)
    where = expected[:, None] + ways[None, :, None] * down[:, None]
    light = map_coordinates(
        grey, [where[..., 1], where[..., 0]], order=1, mode="nearest"
    )
    rise = gaussian_filter1d(light, SOFT_PX / STEP_PX, axis=1, order=1)
    margin = int(bent_px.sum() / STEP_PX) + 1
    levels = np.arange(margin, len(ways) - margin)
    bends = [
        basis() @ np.array([0.0, slope, bulge])
        for slope in _to_both_sides(bent_px[0])
        for bulge in _to_both_sides(bent_px[1])
    ]
    column = np.arange(COLUMNS)[:, None]
    rises = np.array(
        [
            rise[column, np.rint(bend / STEP_PX).astype(int)[:, None] + levels]
            for bend in bends
        ]
    )
    shown = np.quantile(rises, 1 - LEAST_SEEN, axis=1)
    clear, dark = shown.max(axis=0), -np.quantile(rises, LEAST_SEEN, axis=1).min(axis=0)
    noise = float(np.median(np.abs(rise))) / 0.6745 / np.sqrt(COLUMNS)
    peak = local_maxima(clear, allow_borders=False)
    peak &= clear >= max(CLEAR * clear.max(), SURE * noise)
    if not peak.any():
        return None
    lowest = int(np.flatnonzero(peak)[-1])
    if dark[lowest:].max() >= max(CLEAR * clear[lowest], SURE * noise):
        return None
    bend = bends[int(np.argmax(shown[:, lowest]))]
    return np.asarray(ways[levels[lowest]] + bend)


def _to_both_sides(most_px: float) -> Floats:
    steps = int(np.ceil(most_px))
    return np.linspace(-most_px, most_px, 2 * steps + 1)


def basis() -> Floats:
    """Level, slope and bulge of a foot's near edge over the columns (n, 3)."""
    across = np.linspace(-ACROSS, ACROSS, COLUMNS)
    bulge = np.sqrt(1 - across**2)
    return np.column_stack([np.ones(COLUMNS), across, bulge - bulge.mean()])


def _standing_shape(
    lower: Floats, seen: NDArray[np.bool_], usual_px: Floats, band_px: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """Level, slope and bulge of what stands on the plate, and which points do.

    Where the end's gap faces the lens the wire is seen higher, never lower.
    """
    curves = basis()[seen]
    held = np.diag([0.0, *(1.0 / usual_px)]) ** 2
    shape = np.array([float(np.quantile(lower, 0.9)), 0.0, 0.0])
    standing = np.ones(len(lower), dtype=bool)
    for _ in range(6):
        standing = np.abs(lower - curves @ shape) < band_px
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
    foot: Foot,
    camera: Camera,
    shift_mm: float,
    lift_mm: float = 0.0,
    inset_mm: float = 0.0,
) -> Floats:
    """Project the foot's near edge (n, 2), the axis moved by ``shift_mm`` in depth.

    A rim of a radius smaller by ``inset_mm`` shows in the same columns.
    """
    across = foot.radius_mm * np.linspace(-ACROSS, ACROSS, COLUMNS)
    nearer = np.sqrt((foot.radius_mm - inset_mm) ** 2 - across**2)
    points = np.column_stack(
        [
            foot.x_mm + across,
            foot.stance.depth_mm + shift_mm - nearer,
            np.full_like(across, lift_mm),
        ]
    )
    return project(camera, points)
