"""Invented springs, limits and readings for tests."""

from calib.quantity import Quantity
from tests.vision.inspection.figures import sure, unsure
from vision.records.judged import (
    Finding,
    Findings,
    Instrument,
    Limit,
    Load,
    Reading,
    Requirements,
)
from vision.records.measured import (
    Characteristic,
    Reason,
    SpringMeasurement,
    Unmeasured,
)

NOTHING = Findings(found=(Finding.NONE,))
UNSEEN = Findings()
LIMITS = Requirements(
    kind="intake",
    free_height=Limit(unit="mm", minimum=47.1),
    squareness=Limit(unit="mm", maximum=1.6),
    closed=Load(height_mm=38.9, force=Limit(unit="N", minimum=258.0, nominal=296.0)),
    open=Load(height_mm=30.1, force=Limit(unit="N", minimum=560.0, nominal=600.0)),
)
"""Invented limits."""


def measured(
    *,
    height: Quantity | None = None,
    square: Quantity | None = None,
    lean: Quantity | None = None,
    views: int = 2,
    position: int = 1,
    **others: Quantity,
) -> SpringMeasurement:
    """Make a measured spring; ``others`` by the characteristic's key."""
    values = {
        Characteristic.FREE_HEIGHT: height,
        Characteristic.SQUARENESS: square,
        Characteristic.LEAN: lean,
        **{each: others.get(each.key) for each in Characteristic if each.key in others},
    }
    still = sure(0.0, "deg")
    return SpringMeasurement(
        position=position,
        values={key: value for key, value in values.items() if value is not None},
        views=views,
        lean_parts_deg=(still, still if views > 1 else None),
        drawings=(),
        colour=(0.4, 0.4, 0.4),
    )


def good(position: int = 1, views: int = 2) -> SpringMeasurement:
    """Make a spring well inside the invented limits."""
    return measured(
        height=unsure(48.02, 0.07),
        square=unsure(0.4, 0.1),
        lean=unsure(0.5, 0.1, "deg"),
        views=views,
        position=position,
    )


def touching(position: int = 1) -> Unmeasured:
    """Make a spring that the picture could not measure."""
    return Unmeasured(
        position=position, reason=Reason.TOUCHES, detail="", box_px=(0, 0, 1, 1)
    )


def by_hand(
    instrument: Instrument,
    value: float,
    expanded: float,
    set_height_mm: float | None = None,
    *,
    assumed: bool = False,
) -> Reading:
    """Make a reading."""
    return Reading(
        instrument=instrument,
        value=value,
        unit=instrument.unit,
        expanded_uncertainty=expanded,
        set_height_mm=set_height_mm,
        assumed=assumed,
    )


def loads(closed_n: float = 291.0, open_n: float = 588.0) -> tuple[Reading, ...]:
    """Read both forces at the asked heights."""
    return (
        by_hand(Instrument.CLOSED_FORCE, closed_n, 4.0, 38.9),
        by_hand(Instrument.OPEN_FORCE, open_n, 8.0, 30.1),
    )
