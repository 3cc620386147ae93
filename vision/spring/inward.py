"""Light beside a flank in; how far inside the true outline its edges lie, with u, out.

A smooth round wire mirrors what is behind it where it is seen at a grazing angle, so
its outermost strip is as bright as the backdrop and is lost; the more so, the nearer
the wire's light comes to the backdrop's at its edge. A picture's tone curve presses
bright light together, and clips the brightest, which moves the half level to the
darker side.
"""

from dataclasses import dataclass

import numpy as np

from calib.records import EdgePoints

MIRRORED_PX = 0.9  # times the square of the likeness of wire and backdrop
PRESSED_PX, PRESSED_FROM = 0.25, 0.4  # per linear light of the backdrop above so much
# In blurs, where all of the backdrop's light is clipped: if it is 1.2 to 3 times as
# bright as it shows, half of it is reached 0.2 to 0.97 of a blur farther in.
BLOWN, U_BLOWN = 0.6, 0.25
U_PX, U_MIRRORED_PX = 0.04, 0.25  # the latter per likeness


@dataclass(frozen=True, slots=True, kw_only=True)
class Inward:
    """How far inside the true outline a flank's edges lie, with u, in px.

    ``likeness`` of wire and backdrop is the share that the darker has of the brighter's
    light at the edge: 0 to 1.
    """

    px: float
    u_px: float
    likeness: float


UNMOVED = Inward(px=0.0, u_px=U_PX, likeness=0.0)


def inward_of(edges: EdgePoints, blown: float) -> Inward:
    """Tell how far inside the true outline edges lie by the light on both sides.

    ``blown`` is the share of the backdrop's light that is clipped, 0 to 1.
    """
    if len(edges.u_px) == 0:
        return UNMOVED
    light = np.median(np.column_stack([edges.inside, edges.outside]), axis=0)
    dark, bright = float(light.min()), float(light.max())
    likeness = max(dark, 0.0) / max(bright, 1e-6)
    pressed = PRESSED_PX * max(float(light[1]) - PRESSED_FROM, 0.0)
    clipped_px = blown * float(np.median(edges.blur_px))
    doubts = [U_PX, U_MIRRORED_PX * likeness, U_BLOWN * clipped_px]
    return Inward(
        px=MIRRORED_PX * likeness**2 + max(pressed, BLOWN * clipped_px),
        u_px=float(np.linalg.norm(doubts)),
        likeness=likeness,
    )
