"""An outline and a calibration in; a measured spring, or the reason for none, out."""

from dataclasses import dataclass, replace

import numpy as np

from calib.camera import project
from calib.quantity import Quantity
from calib.records import Calibration, Floats
from vision.records.measured import (
    OPEN_END,
    Characteristic,
    Drawing,
    Outline,
    Reason,
    SpringMeasurement,
    Unmeasured,
)
from vision.spring.budget import (
    U_DEPTH_MM,
    U_DEPTH_SLOPE,
    U_EDGE_PX,
    U_RIM_WIRES,
    Shift,
    base_stance,
    own_noise,
    quantities,
    resolve,
    shared_shifts,
    values_of,
)
from vision.spring.open_end import with_open_end
from vision.spring.rays import Stance
from vision.spring.skyline import rough_height
from vision.spring.solid import Seen, Solid, look, solve_solid
from vision.spring.turns import out_of_turn, usual_pitch

MOST_SCATTER_MM = 0.25  # coils that stray more do not stand about one straight axis
MOST_U_WIRE = 0.1  # one wire: coils that read thicker and thinner were not seen well
MOST_MISFIT = 30.0  # rim.Top.misfit_px beyond which the top is no ground end; sound 26
MOST_OUT_OF_TURN = 0.1  # of the pitch; 99 % of springs stay below 0.045
# A coil's widest point comes every half turn, so one lies within three quarters of a
# wire below a ground top: coils were not seen, or a higher edge is another thing's.
MOST_ABOVE_WIRES = 1.0
UNSEEN = (Reason.GLARE, Reason.TOP_COILS)  # coils in part may show what whole do not
SIZES_MM = (8.0, 160.0)  # free heights that a valve spring can have


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solved:
    """One view of a spring, solved: what was seen, assumed and found."""

    seen: Seen
    stance: Stance
    solid: Solid
    name: str  # of the spring in its photo; names its own influences


def solve_view(
    seen: Seen, calibration: Calibration, name: str, depth_slope: float = 0.0
) -> Solved | Unmeasured:
    """Solve a spring as far as one view can."""
    outline = seen.outline
    stance = base_stance(calibration, depth_slope)
    try:
        solid = solve_solid(stance, seen, rough_height(stance, outline))
        seen, solid = with_open_end(stance, seen, solid) or (seen, solid)
    except ValueError as fault:
        return _refused(outline, Reason.GLARE, str(fault))
    if out_of_turn(solid.axis, solid.wire_mm, solid.height_mm) > MOST_OUT_OF_TURN:
        detail = "its left and right coils are not those of one wire"
        return _refused(outline, Reason.TWO_SPRINGS, detail)
    if contradiction := _contradiction(solid):
        return _refused(outline, Reason.CONTRADICTS, contradiction)
    if unseen := _unseen_below_top(solid):
        return _refused(outline, Reason.TOP_COILS, unseen)
    return Solved(seen=seen, stance=stance, solid=solid, name=name)


def _contradiction(solid: Solid) -> str:
    """Say what of a solved spring cannot be, or nothing."""
    scatter = solid.axis.scatter_mm
    if scatter > MOST_SCATTER_MM:
        return f"its coils stray {scatter:.2f} mm, {MOST_SCATTER_MM} mm allowed"
    wire = solid.wire
    if wire.scatter_mm > MOST_U_WIRE * wire.mm:
        return f"its wire reads {wire.mm:.1f} ± {2 * wire.scatter_mm:.1f} mm"
    if not SIZES_MM[0] < solid.height_mm < SIZES_MM[1]:
        return f"it would be {solid.height_mm:.0f} mm high"
    if solid.top.misfit_px > MOST_MISFIT:
        return "its top edge is not that of a ground end"
    return ""


def _unseen_below_top(solid: Solid) -> str:
    """Say how far below the top edge no coil shows, or nothing where one does."""
    above = solid.height_mm - float(solid.axis.heights_mm.max())
    allowed = MOST_ABOVE_WIRES * solid.wire_mm
    if solid.top.is_open:
        allowed += usual_pitch(solid.axis) / 2
    if above <= allowed:
        return ""
    return (
        f"its top edge is seen {above:.1f} mm above its highest coil, "
        f"{allowed:.1f} mm allowed"
    )


def _refused(outline: Outline, reason: Reason, detail: str) -> Unmeasured:
    return Unmeasured(
        position=outline.position, reason=reason, detail=detail, box_px=outline.box_px
    )


def view_quantities(
    solved: Solved, calibration: Calibration, u_depth_slope: float = U_DEPTH_SLOPE
) -> dict[Characteristic, Quantity]:
    """Every characteristic of one view with its influences."""
    own = own_shifts(solved, u_depth_slope)
    shifts = shared_shifts(calibration, solved.stance) + own
    changed = [
        (shift, values_of(solid))
        for shift, solid in resolve(solved.seen, shifts, solved.solid)
    ]
    noise = own_noise(solved.solid, solved.name)
    return quantities(values_of(solved.solid), changed, noise)


def own_shifts(solved: Solved, u_depth_slope: float) -> tuple[Shift, ...]:
    """Shift what one view cannot show of a spring, each one u away."""
    base, name = solved.stance, solved.name
    solid = solved.solid
    rim = float(np.hypot(U_RIM_WIRES * solid.wire_mm, solid.axis.u_knots_mm[-1]))
    changed = {
        "place of the spring in depth": replace(
            base, depth_mm=base.depth_mm + U_DEPTH_MM
        ),
        "lean in depth": replace(base, depth_slope=base.depth_slope + u_depth_slope),
        "edge of the round wire": replace(
            base, edge_shift_px=base.edge_shift_px + U_EDGE_PX
        ),
        "rim of the ground end": replace(base, rim_shift_mm=base.rim_shift_mm + rim),
    }
    own = tuple(
        Shift(source=f"{label}|{name}", label=label, stance=stance)
        for label, stance in changed.items()
    )
    light = "light at the wire's edge"  # falls alike on all springs of a photo
    moved = replace(base, edge_shift_px=base.edge_shift_px + solved.seen.u_edge_px)
    photo = name.partition("/")[0]
    return (*own, Shift(source=f"{light}|{photo}", label=light, stance=moved))


def measure_spring(
    outline: Outline, calibration: Calibration, photo_sha256: str
) -> SpringMeasurement | Unmeasured:
    """Measure a spring from one view; lean and squareness are the view's part."""
    name = f"{photo_sha256[:12]}/{outline.position}"
    solved = solve_view(look(outline, calibration.camera), calibration, name)
    if isinstance(solved, Unmeasured) and solved.reason in UNSEEN:
        parts = look(outline, calibration.camera, parts=True)
        again = solve_view(parts, calibration, name)
        solved = solved if isinstance(again, Unmeasured) else again
    if isinstance(solved, Unmeasured):
        return solved
    values = view_quantities(solved, calibration)
    return SpringMeasurement(
        position=outline.position,
        values=values,
        views=1,
        lean_parts_deg=(values[Characteristic.LEAN], None),
        drawings=(draw(solved, view=0),),
        colour=outline.colour,
        remarks=remarks_of(solved),
    )


def remarks_of(solved: Solved) -> tuple[str, ...]:
    """Say what was noticed about a spring."""
    open_end = (OPEN_END,) if solved.solid.top.is_open else ()
    return (*solved.seen.outline.remarks, *open_end)


def draw(solved: Solved, *, view: int) -> Drawing:
    """Lay out what belongs to the spring in the photo."""
    solid, stance, outline = solved.solid, solved.stance, solved.seen.outline
    axis, height = solid.axis, solid.height_mm

    def at(x: float, z: float, y: float = 0.0) -> Floats:
        depth = stance.depth_mm + stance.depth_slope * z + y
        return np.asarray(project(stance.camera, np.array([[x, depth, z]]))[0])

    def circle(z: float, radius: float) -> Floats:
        turn = np.linspace(0, 2 * np.pi, 73)
        depth = stance.depth_mm + stance.depth_slope * z
        ring = np.column_stack(
            [
                axis.x_at(z) + radius * np.cos(turn),
                depth + radius * np.sin(turn),
                np.full_like(turn, z),
            ]
        )
        return project(stance.camera, ring)

    foot, top = axis.x_at(0.0), axis.x_at(height)
    beside = axis.x_at(0.0) + solid.outside_mm / 2 + 2.5
    return Drawing(
        view=view,
        outline_px=outline.contour_px,
        axis_px=np.array([at(foot, 0.0), at(top, height)]),
        square_px=np.array([at(foot, 0.0), at(foot, height)]),
        foot_px=circle(0.0, axis.radius_at(0.0)),
        top_px=circle(height, axis.radius_at(height)),
        height_px=np.array([at(beside, 0.0), at(beside, height)]),
        gap_px=np.array([at(foot, height), at(top, height)]),
        box_px=outline.box_px,
    )
