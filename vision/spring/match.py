"""Edge points held against predicted rims in; what each rim is off out."""

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from calib.records import Floats, Rows
from vision.spring.medians import row_median

Mask = NDArray[np.bool_]

GAP_TRUST = 0.3  # how far down the wire lies before the flat begins is not standard
USUAL_DROP = 0.3  # u of that drop, as a share of it
MELTED_TRUST = 0.35  # glare hides the outermost edge; nothing shows one farther out
SETTLED_MM = 1e-4
LEVEL_PX = 0.35  # usual scatter of located edges about a sound model
EFFECTIVE_POINTS = 12  # neighbouring edge points err alike
MOST_SLOPE = 0.002  # usual out-of-parallel of the end, mm per mm


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Match(Rows):
    """Edge points held against n predicted rims, all (n, m) but for the scale (n, 1).

    ``places`` tells which they are, as far as ``there`` says so.
    """

    places: NDArray[np.intp]
    there: Mask
    residual_px: Floats
    across_mm: Floats
    drop_mm: Floats
    px_per_mm: Floats

    @property
    def count(self) -> NDArray[np.intp]:
        """How many edge points are held against each rim (n,)."""
        return np.asarray(np.count_nonzero(self.there, axis=1))

    def level_mm(self, weights: Floats) -> Floats:
        """Weighted mean (n,) of what is left over."""
        counted = np.where(self.there, weights, 0.0)
        level_mm = counted * self.residual_px / self.px_per_mm
        return np.asarray(level_mm.sum(axis=1) / counted.sum(axis=1))

    def replaced(self, which: Mask, other: "Match") -> "Match":
        """Take some of the rims (n,) from another match."""
        return Match(
            **{
                each.name: np.where(
                    which[:, None], getattr(other, each.name), getattr(self, each.name)
                )
                for each in fields(self)
            }
        )


def robust_level(match: Match) -> tuple[Floats, Floats]:
    """Level, slope and share of drop that are left (n, 3), bad points weighted down.

    Tukey's biweight; slope and drop are held near what is usual.
    """
    across, drop, there = match.across_mm, match.drop_mm, match.there
    up_mm = match.residual_px / match.px_per_mm
    design = np.stack([np.ones_like(across), across, drop], axis=1)
    firm = there & (drop >= 0)
    firm = np.where(firm.any(axis=1, keepdims=True), firm, there)
    move = np.zeros((len(up_mm), 3))
    move[:, 0] = row_median(up_mm, firm)[:, 0]
    prior = np.diag([0.0, 1.0 / MOST_SLOPE**2, 1.0 / USUAL_DROP**2])
    trust = np.where(drop < 0, GAP_TRUST, 1.0) * there
    usual = LEVEL_PX / match.px_per_mm
    sigma = usual * np.sqrt(np.maximum(match.count / EFFECTIVE_POINTS, 1))[:, None]
    weight, going = trust, np.ones((len(up_mm), 1), dtype=bool)
    for _ in range(6):
        rest = up_mm - (move[:, None] @ design)[:, 0]
        limit = 4.7 * np.maximum(1.4826 * row_median(np.abs(rest), there), usual)
        now = trust * np.maximum(0.0, 1 - (rest / limit) ** 2) ** 2
        now = np.where(rest < -usual, MELTED_TRUST, 1.0) * now
        weighted = design * (now / sigma**2)[:, None]
        normal = weighted @ design.swapaxes(1, 2) + prior
        last, pull = move, weighted @ up_mm[:, :, None]
        move = np.where(going, np.linalg.solve(normal, pull)[:, :, 0], last)
        weight = np.where(going, now, weight)
        going = going & (np.abs(move - last).max(axis=1, keepdims=True) >= SETTLED_MM)
        if not going.any():
            break
    return move, weight
