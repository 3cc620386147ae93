"""Measured springs in, plain words on what limits them and what would help out.

Advice comes from the uncertainty budget itself: influences are gathered by the remedy
that shrinks them, and the U that would remain is what the rest of the budget leaves.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np

from calib.quantity import COVERAGE_FACTOR, merged
from calib.records import Calibration
from vision.records.measured import (
    Characteristic,
    Reason,
    SpringMeasurement,
    Unmeasured,
)

Springs = tuple[SpringMeasurement | Unmeasured, ...]

WORTH_SAYING = 0.15  # share by which U would fall
LEVEL_ENOUGH_MM = 15.0  # lens this close to the tops' level needs no advice
FAR_SIDES = 2.0  # a target farther than so many of its own sides tells less
COARSE_PX_PER_MM = 6.0
STEEP_DEG = 6.0
CLOSE_MM = 500.0
ONE_ROW = "photograph one row at a time, with no spring behind another"
AGAIN = {  # what another photo would need, for each reason that one did not do
    Reason.TOUCHES: "leave 10 mm or more between neighbours",
    Reason.CUT_OFF: "take in the whole row, with a spring's width to spare beside it",
    Reason.FALLEN: "stand every spring up on its ground end",
    Reason.HIDDEN: "clear away what stands before or beside",
    Reason.TOO_SMALL: "go nearer or zoom in, until the row fills the picture",
    Reason.BLURRED: "focus on the springs, rest the camera and use its timer",
    Reason.GLARE: (
        "lay paper behind and under the row that is clearly lighter or darker than "
        "the wire, and light it evenly"
    ),
    Reason.TOP_COILS: (
        "lay paper behind the row that is clearly lighter or darker than the wire, "
        "even in light, and higher than the springs"
    ),
    Reason.TWO_SPRINGS: ONE_ROW,
    Reason.BEFORE_OTHERS: ONE_ROW,
    Reason.CONTRADICTS: (
        "look for a sound stand on the ground end and for nothing behind the top, "
        "then take the photo from a little lower"
    ),
    Reason.MOVED: "keep the springs' order, and turn each where it stands",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """What to do, and by their labels the influences that it takes away."""

    text: str
    labels: tuple[str, ...]
    left: float = 0.3  # share of those influences that remains all the same


def warn(springs: Springs, calibration: Calibration) -> tuple[str, ...]:
    """Say what about the staging makes results less sure than they look."""
    warnings = []
    reach = _farthest_sides(springs, calibration)
    if reach > FAR_SIDES:
        warnings.append(
            f"the farthest spring stands {reach:.1f} target sides from the target; "
            f"beyond {FAR_SIDES:.0f} the target says little, and U has grown"
        )
    pitch = _pitch_deg(calibration)
    if abs(pitch) > STEEP_DEG:
        way = "down" if pitch > 0 else "up"
        warnings.append(f"the camera looks {abs(pitch):.0f}° {way} at the row")
    return tuple(warnings)


def advise(springs: Springs, calibration: Calibration) -> tuple[str, ...]:
    """Say what would get all springs measured, and U of the free height down.

    The latter with both figures.
    """
    said = _photograph_again(springs)
    measured = [each for each in springs if isinstance(each, SpringMeasurement)]
    if not measured:
        return tuple(said)
    for remedy in _remedies(measured, calibration):
        now, then = _median_u(measured, ()), _median_u(measured, remedy)
        if then < (1 - WORTH_SAYING) * now:
            said.append(f"{remedy.text} and U falls from {now:.2f} to {then:.2f} mm")
    return tuple(said)


def _photograph_again(springs: Springs) -> list[str]:
    """Say for each reason, and the springs that it holds for, what to do about it."""
    unmeasured = [each for each in springs if isinstance(each, Unmeasured)]
    said = []
    for reason in dict.fromkeys(each.reason for each in unmeasured):
        numbers = [str(each.position) for each in unmeasured if each.reason is reason]
        *others, last = numbers
        text = f"springs {', '.join(others)} and {last}" if others else f"spring {last}"
        said.append(f"{text}: {AGAIN[reason]}")
    return said


def _remedies(
    measured: list[SpringMeasurement], calibration: Calibration
) -> list[Remedy]:
    """Give the remedies that this staging calls for, and those that always may help."""
    camera = calibration.camera
    heights = [each.values[Characteristic.FREE_HEIGHT].value for each in measured]
    above = float(camera.position_mm[2] - np.median(heights))
    away = -float(camera.position_mm[1])
    remedies = []
    if abs(above) > LEVEL_ENOUGH_MM:
        remedies.append(_level_the_lens(above))
    if away < CLOSE_MM:
        remedies.append(_step_back(away))
    if calibration.px_per_mm.value < COARSE_PX_PER_MM:
        remedies.append(_fill_the_picture(calibration.px_per_mm.value))
    return [*remedies, *ALWAYS]


def _level_the_lens(above_mm: float) -> Remedy:
    where, move = ("above", "lower") if above_mm > 0 else ("below", "raise")
    return Remedy(
        text=f"the lens is {abs(above_mm):.0f} mm {where} the spring tops: {move} it",
        labels=(
            "place of the spring in depth",
            "lean in depth",
            "rim of the ground end",
            "shape of the ground end",
            "row not parallel to the target's face",
            "where the target's face stood",
            "focal length",
        ),
    )


def _step_back(away_mm: float) -> Remedy:
    return Remedy(
        text=f"the lens is {away_mm:.0f} mm away: step back to 800 mm and zoom in",
        labels=(
            "pose from the target",
            "place of the spring in depth",
            "lean in depth",
            "where the target's face stood",
            "row not parallel to the target's face",
        ),
        left=0.6,
    )


def _fill_the_picture(px_per_mm: float) -> Remedy:
    return Remedy(
        text=f"there are {px_per_mm:.1f} px per mm: fill the picture with the row",
        labels=(
            "edge of the round wire",
            "light at the wire's edge",
            "springs' edges against the target's",
            "edge offset",
            "noise of the top edge",
            "pose from the target",
        ),
        left=0.5,
    )


ALWAYS = (
    Remedy(
        text=(
            "the target leaves the camera's tilt open: use a larger square, about "
            "as long as the row is high, in the middle of the row"
        ),
        labels=("pose from the target", "principal point y", "principal point x"),
        left=0.5,
    ),
    Remedy(
        text="the row may run askew to the target: set both along one straightedge",
        labels=("row not parallel to the target's face",),
    ),
    Remedy(
        text=(
            "the camera is known from its own record only: make a lens file from "
            "chessboard photos (freestand lens)"
        ),
        labels=("focal length", "principal point x", "principal point y", "k1", "k2"),
        left=0.2,
    ),
    Remedy(
        text="measure the target with a finer instrument and state its U",
        labels=(
            "blade length",
            "stock length",
            "blade width",
            "stock width",
            "square width",
            "square height",
            "bottom margin",
            "card not upright on the plate",
        ),
        left=0.4,
    ),
)


def _median_u(measured: list[SpringMeasurement], remedy: Remedy | tuple[()]) -> float:
    """Median U of the free heights, with a remedy taken or none."""
    expanded = []
    for spring in measured:
        square = 0.0
        for part in merged(spring.values[Characteristic.FREE_HEIGHT].influences):
            taken = isinstance(remedy, Remedy) and part.label in remedy.labels
            share = remedy.left if taken and isinstance(remedy, Remedy) else 1.0
            square += (share * part.u) ** 2
        expanded.append(COVERAGE_FACTOR * sqrt(square))
    return float(np.median(expanded))


def _farthest_sides(springs: Springs, calibration: Calibration) -> float:
    """Distance from target to the farthest spring, in sides of the target's outline."""
    outline = calibration.target_outline_px
    if len(outline) == 0 or not springs:
        return 0.0
    low, high = outline.min(axis=0), outline.max(axis=0)
    side = float(max(high - low))
    middles = []
    for spring in springs:
        box = (
            spring.drawings[0].box_px
            if isinstance(spring, SpringMeasurement)
            else spring.box_px
        )
        middles.append((box[0] + box[2]) / 2)
    gaps = [max(low[0] - x, x - high[0], 0.0) for x in middles]
    return float(max(gaps)) / max(side, 1.0)


def _pitch_deg(calibration: Calibration) -> float:
    """How far the optical axis looks below level."""
    ahead = calibration.camera.rotation[2]
    return float(np.degrees(np.arcsin(np.clip(-ahead[2], -1.0, 1.0))))
