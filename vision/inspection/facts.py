"""The figures of a specification that bear on one another, taken from its sheet."""

from dataclasses import dataclass

from vision.inspection.bands import Sheet
from vision.inspection.units import Dimension


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """Least and most of a new spring, as far as the file says."""

    low: float
    high: float

    @property
    def middle(self) -> float:
        """Half way between both."""
        return (self.low + self.high) / 2.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """Heights and diameters in mm, forces in N, rate in N/mm; None is not given."""

    free: Span | None
    closed: float | None
    open: float | None
    closed_force: Span | None
    open_force: Span | None
    solid: float | None
    clearance: float | None
    lift: float | None
    rate: Span | None
    outside: Span | None
    wire: Span | None


def collect_facts(sheet: Sheet) -> Facts:
    """Take the figures from one kind's sheet."""
    return Facts(
        free=span(sheet, "free_height"),
        closed=sheet.number("closed_load", "height"),
        open=sheet.number("open_load", "height"),
        closed_force=span(sheet, "closed_load"),
        open_force=span(sheet, "open_load"),
        solid=sheet.number("coil_bind", "solid_height"),
        clearance=sheet.number("coil_bind", "clearance_min"),
        lift=sheet.number("valve", "lift"),
        rate=span(sheet, "rate"),
        outside=span(sheet, "outside_diameter"),
        wire=span(sheet, "wire_diameter"),
    )


def span(sheet: Sheet, section: str) -> Span | None:
    """Find min and max, else nominal with its tolerance, else the wear limit."""
    values = sheet.values.get(section, {})
    nominal = values.get("nominal") or values.get("force")
    tolerance = values.get("tolerance")
    if nominal and tolerance:
        share = tolerance.dimension is Dimension.SHARE
        width = nominal.value * tolerance.value / 100.0 if share else tolerance.value
        return Span(low=nominal.value - width, high=nominal.value + width)
    ends = [values.get("min") or nominal, values.get("max") or nominal]
    given = [end.value for end in ends if end] or [
        worn.value for worn in (values.get("limit"),) if worn
    ]
    return Span(low=min(given), high=max(given)) if given else None
