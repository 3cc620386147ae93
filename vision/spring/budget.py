"""What makes a solved spring uncertain: each influence as the change that it causes.

Every influence is one u away from its estimate in a stance of its own; the spring is
solved again there and the differences are the signed contributions (JCGM 100:2008,
5.1.3, note 2). Influences of the calibration are shared by all springs of a photo;
those named after the spring are its own.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from calib.quantity import Influence, Quantity, merged
from calib.records import Calibration
from vision.records.measured import Characteristic
from vision.spring.axis import END_WIRES
from vision.spring.rays import Stance
from vision.spring.solid import Seen, Solid, moved_solids

U_DEPTH_MM = 0.5  # a row set up by hand along a line (common practice)
U_DEPTH_SLOPE = 0.02  # lean towards the lens of springs in use, about 1.1 deg
U_EDGE_PX = 0.06  # how far shading may still move edges, see DEVELOPERS.md
MEDIAN_U = 1.25  # of a median of normal errors, in u of their mean
U_RIM_WIRES = 0.06  # how far the rim may lie from its usual radius, in wire diameters
U_FLAT_MM = 0.008  # burrs and waviness of a ground end
UNKNOWN_FOCAL = 3.0  # linear steps fall short where no cases were kept with the file

Values = dict[Characteristic, float]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shift:
    """One influence: where it comes from and the stance with it one u away."""

    source: str
    label: str
    stance: Stance
    weight: float = 1.0


def base_stance(calibration: Calibration, depth_slope: float = 0.0) -> Stance:
    """Best estimate: the calibrated camera and edges freed of their offset."""
    return Stance(
        camera=calibration.camera,
        depth_mm=calibration.axis_plane_mm,
        depth_slope=depth_slope,
        edge_shift_px=-calibration.edge_offset_px,
    )


def shared_shifts(calibration: Calibration, base: Stance) -> tuple[Shift, ...]:
    """Give one shift per variant of the calibration."""
    weight = 1.0 if calibration.focal_known else UNKNOWN_FOCAL
    return tuple(
        Shift(
            source=each.source,
            label=each.label,
            stance=replace(
                base,
                camera=each.camera,
                depth_mm=base.depth_mm + each.axis_plane_shift_mm,
                edge_shift_px=base.edge_shift_px + each.edge_shift_px,
            ),
            weight=weight,
        )
        for each in calibration.variants
    )


def values_of(solid: Solid) -> Values:
    """List the characteristics of a solved spring, in mm, degrees and coils.

    A taper's widest part is left out where it was not seen.
    """
    values = {
        Characteristic.FREE_HEIGHT: solid.height_mm,
        Characteristic.LEAN: float(np.degrees(np.arctan(solid.axis.slope))),
        Characteristic.SQUARENESS: solid.gap_mm,
        Characteristic.OUTSIDE_DIAMETER: solid.outside_mm,
        Characteristic.WIRE_DIAMETER: solid.wire_mm,
        Characteristic.TOTAL_COILS: solid.total_coils,
    }
    if not solid.tapered:
        return values
    values[Characteristic.TOP_DIAMETER] = solid.upper_mm
    if solid.shows_foot:
        values[Characteristic.BOTTOM_DIAMETER] = solid.bottom_mm
    else:
        del values[Characteristic.OUTSIDE_DIAMETER]
    return values


def own_noise(solid: Solid, name: str) -> dict[Characteristic, tuple[Influence, ...]]:
    """Give what the spring's own edge points scatter."""

    def noise(label: str, u: float) -> Influence:
        return Influence(source=f"{label}|{name}", label=label, u=u)

    axis, top = solid.axis, solid.top
    lean = float(np.degrees(axis.u_slope / (1 + axis.slope**2)))
    return {
        Characteristic.FREE_HEIGHT: (
            noise("noise of the top edge", top.u_noise_mm),
            noise("shape of the ground end", top.spread_mm),
            noise("burr and waviness of the end", U_FLAT_MM),
        ),
        Characteristic.LEAN: (noise("scatter of the coils", lean),),
        Characteristic.SQUARENESS: (
            noise("scatter of the coils", axis.u_slope * solid.coil_span_mm),
        ),
        Characteristic.WIRE_DIAMETER: (
            noise("scatter of the coils' arcs", solid.wire.u_mm),
        ),
        Characteristic.TOTAL_COILS: (noise("coils counted by halves", solid.u_coils),),
        **_width_noise(solid, noise),
    }


def _width_noise(
    solid: Solid, noise: Callable[[str, float], Influence]
) -> dict[Characteristic, tuple[Influence, ...]]:
    """Give what the coils' scatter and a taper near the ends do to the diameters."""
    axis, wire = solid.axis, solid.wire_mm

    def scatter(u_mm: float) -> Influence:
        return noise("scatter of the coils", 2 * u_mm)

    if not solid.tapered:
        return {Characteristic.OUTSIDE_DIAMETER: (scatter(MEDIAN_U * axis.u_mean_mm),)}
    unseen = noise("coils not seen at the foot", abs(solid.unseen_taper_mm) / 2)
    end_mm = END_WIRES * wire / np.sqrt(3)  # a rectangle's u: JCGM 100:2008, 4.3.7
    foot, head = (
        noise("taper within one coil", end_mm * abs(taper))
        for taper in (solid.foot_taper, solid.head_taper)
    )
    low, *_, high = (scatter(float(u)) for u in axis.u_knots_mm)
    widest = scatter(float(axis.u_knots_mm[np.argmax(axis.knot_radii_mm)]))
    return {
        Characteristic.OUTSIDE_DIAMETER: (widest, foot, unseen),
        Characteristic.BOTTOM_DIAMETER: (low, foot, unseen),
        Characteristic.TOP_DIAMETER: (high, head),
    }


def quantities(
    base: Values,
    shifted: list[tuple[Shift, Values]],
    noise: dict[Characteristic, tuple[Influence, ...]],
) -> dict[Characteristic, Quantity]:
    """Join the changes and the noise into quantities."""
    found = {}
    for characteristic, value in base.items():
        parts = [
            Influence(
                source=shift.source,
                label=shift.label,
                u=shift.weight * (values.get(characteristic, value) - value),
            )
            for shift, values in shifted
            if characteristic is not Characteristic.TOTAL_COILS
        ]
        own = noise.get(characteristic, ())
        found[characteristic] = Quantity(
            value=value,
            unit=characteristic.unit,
            influences=merged(part for part in (*own, *parts) if part.u),
        )
    return found


def resolve(
    seen: Seen, shifts: tuple[Shift, ...], base: Solid
) -> list[tuple[Shift, Solid]]:
    """Solve the spring again in every shifted stance, all choices kept."""
    stances = tuple(each.stance for each in shifts)
    return list(zip(shifts, moved_solids(stances, seen, base), strict=True))
