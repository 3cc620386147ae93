"""A spring's edge points in, the same points free of the wire's shading out."""

import numpy as np
from numpy.typing import NDArray

from calib.records import EdgePoints, Floats, Grey
from calib.shade import common_blur, unshaded
from vision.outline.close import Close
from vision.outline.seek import SETTINGS

MOST_MOVED_PX = 2.0  # farther off it is another edge

Mask = NDArray[np.bool_]


def free_of_shade(
    close: Close, parts: tuple[EdgePoints, ...]
) -> tuple[EdgePoints, ...]:
    """Locate every part's edges anew, each in the grey in which it is the surest.

    Edges whose shading noise does not let tell stay where they were.
    """
    before = EdgePoints.joined(parts)
    if len(before.u_px) == 0:
        return parts
    tries = [_located(grey, before) for grey in close.greys]
    doubts = np.array([np.where(sound, edges.u_px, np.inf) for edges, sound in tries])
    best = np.where(np.isfinite(doubts.min(axis=0)), doubts.argmin(axis=0), len(tries))
    every = EdgePoints.joined([*(edges for edges, _ in tries), before])
    chosen = every.chosen(best * len(best) + np.arange(len(best)))
    ends = np.cumsum([len(each.u_px) for each in parts])[:-1]
    return tuple(
        chosen.chosen(places) for places in np.split(np.arange(len(best)), ends)
    )


def _located(grey: Grey, edges: EdgePoints) -> tuple[EdgePoints, Mask]:
    found, rms = unshaded(grey, edges, common_blur(grey, edges))
    moved = np.linalg.norm(found.points_px - edges.points_px, axis=1)
    return found, (moved < MOST_MOVED_PX) & _is_sound(found, rms)


def _is_sound(found: EdgePoints, rms: Floats) -> Mask:
    """Hold edges to what `seek_edges` asks of them."""
    contrast = np.abs(found.outside - found.inside)
    sound = contrast >= SETTINGS.least_contrast
    sound &= rms <= SETTINGS.most_residual * contrast
    return np.asarray(sound & (found.u_px < SETTINGS.most_u_px))
