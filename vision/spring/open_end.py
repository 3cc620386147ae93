"""A solved spring in; the same with its wire ending in the open out, where it does.

A spring that broke near its upper end lacks the closed, ground coil there: its wire
rises to a tip as steeply as between the coils. Its outline falls from the tip all
round, so it is told by the uppermost edges over the whole width, not by those of a
level top alone.
"""

from dataclasses import replace

import numpy as np

from vision.spring.axis import solve_axis
from vision.spring.ground_end import open_shapes, shapes
from vision.spring.rays import Stance
from vision.spring.rim import ROUNDS, End, Top, fit_shapes, solve_top
from vision.spring.skyline import view_top
from vision.spring.solid import Seen, Solid, solid_of, wire_of
from vision.spring.turns import last_gap, usual_pitch

PLAIN_MISFIT = 10.0  # rim.Top.misfit_px below which a ground end explains an outline
# Times the misfit of the likeliest open end, whose drop counts half, by how far the
# last coils lie apart, in pitches. Of 1100 sound springs one comes to over 3.2, and
# none whose last coils do not close up to 1.6; closed ones lie 0.4 to 0.78 apart.
BETTER, USUAL_MISFIT = ((0.85, 2.0), (0.75, 4.0)), 2.0
REACH_PITCHES = 1.3  # how far below its tip the outline of an open end runs
LEAST_POINTS = 12
TIP_WIRES = 0.75  # below its highest point, within which an end that shows is its tip


def with_open_end(
    stance: Stance, seen: Seen, solid: Solid
) -> tuple[Seen, Solid] | None:
    """Solve a spring's upper end as an open one, or give None where it is closed.

    What is seen of it then holds the uppermost edges as those of its top.

    Raises
    ------
    ValueError
        When too few coils are left without its tip.
    """
    rise_mm = usual_pitch(solid.axis)
    end = _crown(stance, seen, solid, rise_mm)
    closed = replace(end, is_open=False)
    if len(end.edges.u_px) < LEAST_POINTS or _is_plain(closed, solid.top):
        return None
    start_mm = solid.height_mm
    ground = solve_top(closed, start_mm, shapes())
    opened = solve_top(end, start_mm, open_shapes(rise_mm))
    better = (ground.misfit_px + USUAL_MISFIT) / (opened.misfit_px + USUAL_MISFIT)
    gap = last_gap(solid.axis)
    needed = next((times for least, times in BETTER if gap > least), np.inf)
    if better < needed or not opened.is_open:
        return None
    looked = replace(seen, outline=replace(seen.outline, top=end.edges))
    return _without_tip(stance, looked, replace(solid, top=opened), end)


def _without_tip(
    stance: Stance, seen: Seen, solid: Solid, end: End
) -> tuple[Seen, Solid]:
    """Solve an open end without its tip, which is no widest point of a coil."""
    top, rise_mm = solid.top, solid.top.shape[2]
    below = top.height_mm - solid.axis.heights_mm > TIP_WIRES * solid.wire_mm
    left, right = (below[side * solid.axis.sides > 0] for side in (-1, 1))
    others = replace(seen, left=seen.left.chosen(left), right=seen.right.chosen(right))
    axis = solve_axis(stance, others.left, others.right)
    wire = wire_of(stance, others)
    end = replace(end, axis=axis, wire_mm=wire.mm)
    if not below.all():
        top = solve_top(end, top.height_mm, open_shapes(rise_mm))
    spread_mm = float(np.hypot(top.spread_mm, _u_tip(end, top, rise_mm)))
    return others, solid_of(axis, wire, replace(top, spread_mm=spread_mm))


def _crown(stance: Stance, seen: Seen, solid: Solid, rise_mm: float) -> End:
    """Gather the uppermost edges that may be those of the end."""
    edges, height = seen.outline.crown, np.array([solid.height_mm])
    end = End(
        stance=stance,
        axis=solid.axis,
        edges=edges,
        wire_mm=solid.wire_mm,
        is_open=True,
    )
    view = view_top(stance, solid.axis, height, edges, end.inner)
    reach_px = REACH_PITCHES * rise_mm * view.px_per_mm[0]
    near = view.there[0] & (np.abs(view.up[0]) < reach_px)
    return replace(end, edges=edges.chosen(view.places[0, near]))


def _is_plain(end: End, top: Top) -> bool:
    """Tell whether the ground end that was found explains all uppermost edges."""
    fits = fit_shapes(end, top.height_mm, (top.shape,), ROUNDS)
    return not fits or fits[0].misfit_px < PLAIN_MISFIT


def _u_tip(end: End, top: Top, rise_mm: float) -> float:
    """Half of what the wire rises over its own thickness: no break is square."""
    around_mm = 2 * np.pi * (end.axis.radius_at(top.height_mm) - end.wire_mm / 2)
    return float(rise_mm * end.wire_mm / around_mm / 2)
