"""A strip of picture along an expected side in, the straight edges inside it out."""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import correlate1d

from calib.records import Floats, Grey

DERIVATIVE_PX = 1.0
LEAST_STEP = 0.004  # of the root of linear light, per px
NOISES = 4.5
MOST_TILTS = 61
NEAR_PX = 1.5  # how far a profile's edge may lie beside its line
LEAST_SUPPORT = 0.22  # share of the profiles that show a line
MOST_LINES = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Strip:
    """The expected side: points (n, 2) along it, normals, place -1..1, reach in px."""

    points_px: Floats
    normals: Floats
    along: Floats
    inward_px: float
    outward_px: float
    tilt_px: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """An edge at ``offset_px`` + ``tilt_px`` * along from the expected side.

    ``channel`` is that of R, G, B in which it was seen, None for luminance.
    """

    offset_px: float
    tilt_px: float
    support: float
    brightens: int  # +1 outward, -1 when it darkens
    channel: int | None = None


def straight_edges(grey: Grey, strip: Strip) -> tuple[Line, ...]:
    """Give the straight edges in a strip of linear light, best supported first."""
    profile, away, place, sign = _steps(grey, strip)
    lines: list[Line] = []
    for _ in range(MOST_LINES):
        line, mine = _best_line(profile, away, place, sign, strip)
        if line is None:
            break
        if all(abs(line.offset_px - other.offset_px) > NEAR_PX for other in lines):
            lines.append(line)
        profile, away, place, sign = (
            profile[~mine],
            away[~mine],
            place[~mine],
            sign[~mine],
        )
    return tuple(lines)


def _steps(
    grey: Grey, strip: Strip
) -> tuple[NDArray[np.int64], Floats, Floats, Floats]:
    """Find where each profile is steepest: its index, distance, place and sign."""
    reach = np.arange(-np.ceil(strip.inward_px), np.ceil(strip.outward_px) + 1.0)
    spots = strip.points_px[:, None] + reach[None, :, None] * strip.normals[:, None]
    seen = cv2.remap(
        grey,
        spots[:, :, 0].astype(np.float32),
        spots[:, :, 1].astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    even = np.sqrt(np.maximum(seen.astype(np.float64), 0.0))
    arm = np.arange(-3.0, 4.0)
    kernel = arm * np.exp(-0.5 * (arm / DERIVATIVE_PX) ** 2)
    kernel /= np.sum(kernel * arm)
    slope = correlate1d(even, kernel, axis=1, mode="nearest")
    steep = np.abs(slope)
    least = max(LEAST_STEP, NOISES * float(np.median(steep)) / 0.6745)
    least = min(least, 0.5 * float(np.quantile(steep.max(axis=1), 0.75)))
    top = (steep[:, 1:-1] >= steep[:, :-2]) & (steep[:, 1:-1] > steep[:, 2:])
    profile, column = np.nonzero(top & (steep[:, 1:-1] > max(least, LEAST_STEP)))
    left, middle, right = (steep[profile, column + k] for k in range(3))
    shift = 0.5 * (left - right) / np.minimum(left - 2.0 * middle + right, -1e-12)
    away = reach[column + 1] + np.clip(shift, -0.5, 0.5)
    sign = np.sign(slope[profile, column + 1])
    return profile, away, strip.along[profile], sign


def _best_line(
    profile: NDArray[np.int64],
    away: Floats,
    place: Floats,
    sign: Floats,
    strip: Strip,
) -> tuple[Line | None, NDArray[np.bool_]]:
    """Vote for offset and tilt in bins of about 1 px, then fit the winner's own."""
    nothing = np.zeros(len(away), dtype=np.bool_)
    count = len(strip.points_px)
    if len(away) < LEAST_SUPPORT * count:
        return None, nothing
    steps = min(2 * int(np.ceil(strip.tilt_px)) + 1, MOST_TILTS)
    tilts = np.linspace(-strip.tilt_px, strip.tilt_px, steps)
    moved = away[None, :] - tilts[:, None] * place[None, :] + strip.inward_px
    spread = strip.tilt_px + 2.0
    bins = np.rint(moved + spread).astype(np.int64)
    wide = int(strip.inward_px + strip.outward_px + 2.0 * spread) + 3
    bins = np.clip(bins, 0, wide - 1) + wide * np.arange(steps)[:, None]
    counts = np.bincount(bins.ravel(), minlength=wide * steps)
    votes = counts.reshape(steps, wide).astype(np.float64)
    votes[:, 1:-1] = votes[:, 1:-1] + 0.5 * (votes[:, :-2] + votes[:, 2:])
    row, column = np.unravel_index(int(np.argmax(votes)), votes.shape)
    offset, tilt = float(column) - spread - strip.inward_px, float(tilts[row])
    mine = nothing
    for _ in range(4):
        mine = np.abs(away - offset - tilt * place) < NEAR_PX
        if mine.sum() < 3:  # noqa: PLR2004 a line and one to spare
            return None, nothing
        tilt, offset = (float(part) for part in np.polyfit(place[mine], away[mine], 1))
    support = len(np.unique(profile[mine])) / count
    if support < LEAST_SUPPORT or abs(tilt) > strip.tilt_px * 1.2:
        return None, nothing
    brightens = 1 if np.sum(sign[mine]) > 0 else -1
    line = Line(offset_px=offset, tilt_px=tilt, support=support, brightens=brightens)
    return line, mine
