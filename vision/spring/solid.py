"""One spring's edges under one assumption in, the spring as a solid out."""

from dataclasses import dataclass, replace

import numpy as np

from calib.camera import directions
from calib.records import Camera, Floats
from vision.records.measured import Outline
from vision.spring.axis import MANY_COILS, Axis, solve_axes, solve_axis
from vision.spring.facing import face
from vision.spring.flank import Coils, Sight, find_coils
from vision.spring.ground_end import Shape, shapes
from vision.spring.inward import inward_of
from vision.spring.parts import find_parts
from vision.spring.rays import Stance
from vision.spring.rim import End, Top, moved_height, solve_top
from vision.spring.turns import count_coils

TAPER_MM = 0.3  # a radius that changes by less along the spring counts as straight
TAPER_SCATTERS = 4.0
USUAL_SPREAD = 0.1  # of single ends, as a share of the wire: few do not show their own
# Shading bends an arc: shares of the wire's diameter, the second per likeness of wire
# and backdrop.
U_ARC, U_ARC_MIRRORED = 0.005, 0.06
U_ARC_ABOVE, MOST_U_ARC = 0.1, 0.03  # per slope of sight: seen from above, no arc
MOST_UNSEEN = 0.4  # of the height; beyond it a taper's wide end would be a guess


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What a picture shows of a spring, independent of any assumption."""

    outline: Outline
    left: Coils
    right: Coils

    @property
    def u_edge_px(self) -> float:
        """How far inside or outside of where they are believed edges may lie."""
        return (self.left.inward.u_px + self.right.inward.u_px) / 2

    @property
    def likeness(self) -> float:
        """Usual likeness of wire and backdrop, see `Inward`."""
        return (self.left.inward.likeness + self.right.inward.likeness) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Wire:
    """The wire's diameter, how far coils and height of sight leave it open, and its u.

    The latter knows besides how light bends arcs.
    """

    mm: float
    scatter_mm: float
    u_mm: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solid:
    """A spring solved: lengths in mm, ``slope`` the lean's tangent in the view."""

    axis: Axis
    top: Top
    wire: Wire
    total_coils: float
    u_coils: float
    tapered: bool

    @property
    def wire_mm(self) -> float:
        """Wire diameter d."""
        return self.wire.mm

    @property
    def height_mm(self) -> float:
        """Free height L0: the highest point of the ground end."""
        return self.top.height_mm

    @property
    def gap_mm(self) -> float:
        """Squareness seen in this view: offset of the end coils' widest points."""
        return abs(self.axis.slope) * self.coil_span_mm

    @property
    def coil_span_mm(self) -> float:
        """Height between the end coils' widest points."""
        return self.height_mm - self.wire_mm

    @property
    def bottom_mm(self) -> float:
        """Outside diameter at the foot: the largest within one wire of the end.

        So a caliper reads it that is laid across the last coil (common practice).
        """
        middle, inner = self.wire_mm / 2, self.wire_mm
        return self._widest_mm(middle, inner) + self.unseen_taper_mm

    @property
    def upper_mm(self) -> float:
        """Outside diameter at the top, as at the foot."""
        middle, inner = self.height_mm - self.wire_mm / 2, self.height_mm - self.wire_mm
        return self._widest_mm(middle, inner)

    def _widest_mm(self, *heights_mm: float) -> float:
        return 2 * max(self.axis.radius_at(each) for each in heights_mm)

    @property
    def outside_mm(self) -> float:
        """Outside diameter De; of a tapered spring the largest."""
        if self.tapered:
            half = self.wire_mm / 2
            wire = np.clip(self.axis.knots_mm, half, self.height_mm - half)
            return self._widest_mm(*wire) + max(self.unseen_taper_mm, 0.0)
        return 2 * float(np.median(self.axis.radii_mm))

    @property
    def shows_foot(self) -> bool:
        """Tell whether both flanks show coils far enough down to tell of the foot."""
        axis, least = self.axis, MOST_UNSEEN * self.height_mm
        lowest = (axis.heights_mm[axis.sides == side].min() for side in (-1.0, 1.0))
        return all(float(each) < least for each in lowest)

    @property
    def unseen_taper_mm(self) -> float:
        """Growth of the diameter down to the lowest coil where that is not seen."""
        room = float(self.axis.heights_mm.min()) - self.wire_mm
        return max(room, 0.0) * self.foot_taper

    @property
    def foot_taper(self) -> float:
        """Growth of the diameter per mm down, at the foot."""
        return self._tapers[0]

    @property
    def head_taper(self) -> float:
        """Growth of the diameter per mm down, at the top."""
        return self._tapers[-1]

    @property
    def _tapers(self) -> list[float]:
        axis = self.axis
        tapers = -2 * np.diff(axis.knot_radii_mm) / np.diff(axis.knots_mm)
        return [float(each) for each in tapers]


def look(outline: Outline, camera: Camera, *, parts: bool = False) -> Seen:
    """Find the coils on both flanks, wound the way that fits their outlines better.

    With ``parts`` ends count that are seen to one side of their widest point only.
    """
    facing = face(camera, outline.axis_px)
    axis_px = facing.seen(outline.axis_px)
    left, right = (
        Sight(
            side=side,
            lens_up_px=float(axis_px[0, 1]) + facing.lens_up_px,
            distance_px=facing.focal_px,
        )
        for side in (-1, 1)
    )
    flanks = facing.seen_edges(outline.left), facing.seen_edges(outline.right)
    find = find_parts if parts else find_coils
    seen_left, seen_right = (
        replace(
            coils,
            points_px=facing.in_photo(coils.points_px),
            outward=facing.in_photo_way(coils.outward),
            inward=inward_of(flank, outline.blown),
        )
        for coils, flank in zip(
            find(flanks, axis_px, (left, right)), flanks, strict=True
        )
    )
    return Seen(outline=outline, left=seen_left, right=seen_right)


def solve_solid(
    stance: Stance, seen: Seen, start_mm: float, tried: tuple[Shape, ...] = shapes()
) -> Solid:
    """Solve axis, wire and top end, in this order.

    Raises
    ------
    ValueError
        When the picture shows too little; the text completes "spring 3: ...".
    """
    axis = solve_axis(stance, seen.left, seen.right)
    wire = wire_of(stance, seen)
    end = End(stance=stance, axis=axis, edges=seen.outline.top, wire_mm=wire.mm)
    top = solve_top(end, start_mm, tried)
    return solid_of(axis, wire, top)


def solid_of(axis: Axis, wire: Wire, top: Top) -> Solid:
    """Put a solid together, its coils counted from tip to tip."""
    coils, u_coils = count_coils(axis, wire.mm, top.height_mm, is_open=top.is_open)
    spread = float(np.ptp(axis.knot_radii_mm))
    return Solid(
        axis=axis,
        top=top,
        wire=wire,
        total_coils=coils,
        u_coils=u_coils,
        tapered=spread > max(TAPER_MM, TAPER_SCATTERS * axis.scatter_mm),
    )


def moved_solids(
    stances: tuple[Stance, ...], seen: Seen, base: Solid
) -> tuple[Solid, ...]:
    """Solve again under stances close to the base, all choices kept.

    Raises
    ------
    ValueError
        As `solve_solid`.
    """
    axes = solve_axes(stances, seen.left, seen.right)
    return tuple(
        _moved_solid(stance, axis, seen, base)
        for stance, axis in zip(stances, axes, strict=True)
    )


def _moved_solid(stance: Stance, axis: Axis, seen: Seen, base: Solid) -> Solid:
    wire = wire_of(stance, seen)
    end = End(
        stance=stance,
        axis=axis,
        edges=seen.outline.top,
        wire_mm=wire.mm,
        is_open=base.top.is_open,
    )
    return replace(
        base,
        axis=axis,
        top=replace(base.top, height_mm=moved_height(base.top, end)),
        wire=wire,
    )


def wire_of(stance: Stance, seen: Seen) -> Wire:
    """Give the wire's diameter at the spring's own distance.

    What draws a flank's edges inward moves its arcs and makes them no smaller.
    """
    ray = directions(stance.camera, seen.outline.axis_px.mean(axis=0, keepdims=True))[0]
    mm_per_px = stance.mm_per_px * float(stance.camera.rotation[2] @ ray / ray[1])
    flanks = [
        2 * (each.radius_px + stance.edge_shift_px) * mm_per_px
        for each in (seen.left, seen.right)
    ]
    wires = np.concatenate(flanks)
    middle = float(np.median(wires))
    spread = 1.4826 * float(np.median(np.abs(wires - middle)))
    if len(wires) < MANY_COILS:
        spread = max(spread, USUAL_SPREAD * middle)
    noise = spread / float(np.sqrt(max(len(wires) - 1, 1)))
    if np.isfinite(seen.left.u_wire_px):
        noise = 2 * seen.left.u_wire_px * mm_per_px
    above = min(U_ARC_ABOVE * abs(float(ray[2] / ray[1])), MOST_U_ARC)
    scatter = float(np.hypot(noise, above * middle))
    light = float(np.hypot(U_ARC, U_ARC_MIRRORED * seen.likeness)) * middle
    u = float(np.linalg.norm([scatter, light, _unlike(flanks)]))
    return Wire(mm=middle, scatter_mm=scatter, u_mm=u)


def _unlike(flanks: list[Floats]) -> float:
    """Give u of the mean of two flanks, one wire, each lit in its own way."""
    one, two = (float(np.median(each)) if len(each) else np.nan for each in flanks)
    return float(np.nan_to_num(abs(one - two) / 2))
