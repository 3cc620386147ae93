"""Edge points along a bumpy edge in, the runs between its notches out."""

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import uniform_filter1d
from skimage.morphology import h_maxima

from calib.records import Floats

NOTCH_PX = 1.2  # how far an edge steps back between two bumps
SMOOTH_POINTS = 5
LEAST_GAP_PX, GAP_STEPS = 3.0, 4  # what parts two runs: px, and usual steps plus 2


def split_runs(out_px: Floats, along_px: Floats, least: int) -> list[NDArray[np.intp]]:
    """Split points at gaps, and where the edge lies lowest between two bumps.

    ``out_px`` (n,) is how far out each point lies, ``along_px`` (n,) its place along
    the edge, rising. Gives the places of each run; none below ``least`` points in all.
    """
    if len(out_px) < least:
        return []
    step = np.diff(along_px)
    widest = max(LEAST_GAP_PX, GAP_STEPS * float(np.median(step)) + 2)
    gaps = np.flatnonzero(step > widest) + 1
    smooth = uniform_filter1d(out_px, SMOOTH_POINTS)
    cuts = np.unique(np.concatenate([gaps, peaks(-smooth, NOTCH_PX)]))
    return [np.asarray(run) for run in np.split(np.arange(len(out_px)), cuts)]


def peaks(values: Floats, least: float) -> NDArray[np.intp]:
    """Find where values (n,) stand by ``least`` or more above what parts them.

    Walls stand at both ends, so that a rise towards an end is no peak.
    """
    walled = np.pad(values, 1, constant_values=np.max(values) + 2 * least)
    return np.flatnonzero(h_maxima(walled, least)[1:-1])
