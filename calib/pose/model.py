"""The target as straight edges in its own plane, and points seen on them."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from calib.records import Floats, Rows, TargetKind


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SideModel:
    """One edge of the target; its ends and outward direction in (x, z).

    ``start``, ``end`` (2, n) give coordinates from the n sizes; ``forward`` is 1 where
    the edge lies on the stock's front, which may stand out from the blade's face.
    A target of some thickness shows the back edge instead of the front one where the
    face between them is seen: ``depth_mm``, ``depth_u_mm`` say how far back that is.
    ``own_u_px``, ``tilt_u_px`` and ``bow_u_px`` (at its end) are what shading, lens and
    make do to an edge: sound pictures show 0.03 of the first and 0.05 of the second, a
    machined edge errs by 0.01 mm.
    """

    name: str
    start: Floats
    end: Floats
    outward: Floats
    forward: float = 0.0
    depth_mm: float = 0.0
    depth_u_mm: float = 0.0
    own_u_px: float = 0.06
    tilt_u_px: float = 0.08
    bow_u_px: float = 0.06

    @property
    def ends(self) -> tuple[Floats, Floats]:
        """Both ends' matrices."""
        return self.start, self.end


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TargetModel:
    """A target's edges as functions of its sizes; the face lies at y = face_y_mm.

    ``inner_mm`` are boxes (x0, z0, x1, z1) of plain face; ``brighter_outside`` is 1
    where all edges brighten outward, 0 where they may do either; ``outline`` goes once
    round: each corner is a side's start (0) or end (1). ``spare_sides`` may be hidden.
    ``standouts_mm`` are the ways in which a stock may stand out, as estimate and u,
    likeliest first; where the stock does, its ``joint`` with the blade shows.
    """

    kind: TargetKind
    size_names: tuple[str, ...]
    sizes_mm: Floats
    sizes_u_mm: Floats
    sides: tuple[SideModel, ...]
    face_y_mm: float
    direction: int
    standouts_mm: tuple[tuple[float, float], ...]
    inner_mm: tuple[tuple[float, float, float, float], ...]
    brighter_outside: int
    spare_sides: int
    outline: tuple[tuple[str, int], ...]
    joint: SideModel | None = None

    starts: Floats = field(init=False)
    ends: Floats = field(init=False)
    outward: Floats = field(init=False)
    forward: Floats = field(init=False)

    def __post_init__(self) -> None:
        """Stack the sides, as solving asks for all of them thousands of times."""
        for name, stack in (
            ("starts", [side.start for side in self.sides]),
            ("ends", [side.end for side in self.sides]),
            ("outward", [side.outward for side in self.sides]),
            ("forward", [side.forward for side in self.sides]),
        ):
            object.__setattr__(self, name, np.array(stack, dtype=np.float64))

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the sides."""
        return tuple(side.name for side in self.sides)

    def corners(self, first: Floats, last: Floats) -> Floats:
        """Put the sides' starts and ends (s, d) in the order of the outline."""
        ends = (first, last)
        return np.array(
            [ends[end][self.names.index(name)] for name, end in self.outline]
        )

    @property
    def extent_mm(self) -> Floats:
        """Width and height."""
        ends = [end @ self.sizes_mm for side in self.sides for end in side.ends]
        extent: Floats = np.ptp(np.array(ends), axis=0)
        return extent


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Observed(Rows):
    """Points (n, 2) of the model's sides: which side, where on it (-1..1), u in px."""

    points_px: Floats
    side: NDArray[np.int64]
    along: Floats
    u_px: Floats
