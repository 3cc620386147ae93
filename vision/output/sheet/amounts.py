"""Bare numbers in the chosen units, for placing, and limits in full, for reading."""

from vision.output.show import INCH_UNITS, Units, show_limit, show_quantity
from vision.records.judged import Limit
from vision.records.measured import Characteristic, SpringMeasurement


def in_unit(value: float, unit: str, units: Units) -> float:
    """Bring a bare number to the unit that is shown."""
    return (
        value * INCH_UNITS[unit][1] if units == "in" and unit in INCH_UNITS else value
    )


def ask(limit: Limit | None, units: Units) -> str:
    """Say what is asked, with the maker's own wording beside it."""
    if limit is None:
        return ""
    asked = show_limit(limit, units) or "no limit"
    return f"{asked}, given as {limit.as_given}" if limit.as_given else asked


def value_text(
    spring: SpringMeasurement, characteristic: Characteristic, units: Units
) -> str:
    """Show one measured value without its unit; a dash where it was not read."""
    quantity = spring.values.get(characteristic)
    return show_quantity(quantity, units).number if quantity else "–"
