"""Places seen and places known in; which belongs to which out."""

from collections.abc import Sequence

import numpy as np

from scripts.benching.records import TrueScene
from scripts.benching.truth import half_widths_px, middles_px


def match_places(scene: TrueScene, places_px: Sequence[float]) -> list[int | None]:
    """Give each place (x in px) the index of the true spring there, or None.

    Nearest pairs go first; a spring is given once, and only within its own width.
    """
    middles, halves = middles_px(scene)[:, 0], half_widths_px(scene)
    found: list[int | None] = [None] * len(places_px)
    far = np.abs(np.asarray(places_px, dtype=float)[:, None] - middles[None])
    far = np.where(far < halves[None], far, np.inf)
    while far.size and np.isfinite(far).any():
        place, spring = np.unravel_index(int(np.argmin(far)), far.shape)
        found[int(place)] = int(spring)
        far[place, :], far[:, spring] = np.inf, np.inf
    return found


def in_middle_third(scene: TrueScene, spring: int) -> bool:
    """Tell whether a spring stands in the middle third of the picture's width."""
    width = scene.camera.size_px[0]
    x = float(middles_px(scene)[spring, 0])
    return width / 3 <= x <= 2 * width / 3
