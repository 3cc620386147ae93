"""Numbers as people read them: value, expanded uncertainty, unit.

U is shown with two significant digits when it begins with 1 or 2, otherwise with
one, and the value to the same decimals: JCGM 100:2008, 7.2.6, asks for at most two
digits and a value that agrees with them; where two end and one begins follows common
practice. U is rounded up, unless dropping the rest takes less than 2 % off it: 7.2.6
lets 28.05 become 28. Rounding happens here and nowhere else; verdicts rest on the
unrounded numbers.
"""

from dataclasses import dataclass, replace
from decimal import ROUND_DOWN, ROUND_HALF_EVEN, ROUND_UP, Decimal
from math import isfinite
from typing import Literal

from calib.quantity import Influence, Quantity
from vision.records.judged import Limit, Reading

Units = Literal["mm", "in"]

MM_PER_IN = 25.4  # exact
N_PER_LBF = 4.4482216152605  # exact
INCH_UNITS = {
    "mm": ("in", 1 / MM_PER_IN),
    "N": ("lbf", 1 / N_PER_LBF),
    "N/mm": ("lbf/in", MM_PER_IN / N_PER_LBF),
    "MPa": ("ksi", MM_PER_IN**2 / N_PER_LBF / 1000),
    "px/mm": ("px/in", MM_PER_IN),
}
"""What stands for each metric unit when inches are chosen, and the factor."""

DROPPED_SHARE = Decimal("0.02")  # of U, that rounding it down may take off
MOST_DECIMALS = 5
LIMIT_DECIMALS = {"mm": 3, "in": 4, "N": 1, "lbf": 2, "deg": 2}
MINUS = "−"
BY_HAND = "by hand"
UNKNOWN = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A rounded number; ``uncertainty`` is '' where none is stated."""

    value: str
    uncertainty: str
    unit: str
    by_hand: bool = False
    assumed: bool = False  # U is the instrument's usual one, not entered

    @property
    def text(self) -> str:
        """All of it: '48.02 ± 0.07 mm', '0.31° ± 0.08°', '221 ± 4 N by hand'."""
        return " ".join(part for part in (self._measured, self.origin) if part)

    @property
    def number(self) -> str:
        """Value and U without the unit, where the unit stands in a heading."""
        parts = (self.value, self.uncertainty)
        return " ± ".join(part for part in parts if part)

    @property
    def origin(self) -> str:
        """What must stand beside a number that no photo gave."""
        if self.by_hand:
            return f"{BY_HAND}, U assumed" if self.assumed else BY_HAND
        return "" if self.uncertainty or self.value == UNKNOWN else "U not stated"

    @property
    def value_with_unit(self) -> str:
        """The value's own line where U stands on the next."""
        return with_unit(self.value, self.unit)

    @property
    def uncertainty_with_unit(self) -> str:
        """U's own line, '± 0.07 mm'; '' where none is stated."""
        if not self.uncertainty:
            return ""
        return f"± {with_unit(self.uncertainty, self.unit)}"

    @property
    def _measured(self) -> str:
        if self.unit == "deg" and self.uncertainty:
            return f"{self.value_with_unit} {self.uncertainty_with_unit}"
        return with_unit(self.number, self.unit)


def with_unit(number: str, unit: str) -> str:
    """Set a number before its unit; degrees close up."""
    if number == UNKNOWN or not unit:
        return number
    return f"{number}°" if unit == "deg" else f"{number} {unit}"


def unit_text(unit: str, units: Units) -> str:
    """Name the unit that a metric unit is shown in."""
    shown = INCH_UNITS[unit][0] if units == "in" and unit in INCH_UNITS else unit
    return "°" if shown == "deg" else shown


def in_units(quantity: Quantity, units: Units) -> Quantity:
    """Give the quantity in the chosen units, influences and all."""
    if units == "mm" or quantity.unit not in INCH_UNITS:
        return quantity
    unit, factor = INCH_UNITS[quantity.unit]
    influences = tuple(
        Influence(source=part.source, label=part.label, u=part.u * factor)
        for part in quantity.influences
    )
    return Quantity(value=quantity.value * factor, unit=unit, influences=influences)


def show_quantity(quantity: Quantity, units: Units = "mm") -> Shown:
    """Show a measured quantity.

    >>> part = Influence(source="fit", label="fit of the edges", u=0.0331)
    >>> show_quantity(Quantity(value=48.0163, unit="mm", influences=(part,))).text
    '48.02 ± 0.07 mm'
    """
    chosen = in_units(quantity, units)
    return show_number(chosen.value, chosen.expanded, chosen.unit)


def show_reading(reading: Reading, units: Units = "mm") -> Shown:
    """Show a hand-entered reading, and say that it is one."""
    unit, factor = reading.unit, 1.0
    if units == "in" and unit in INCH_UNITS:
        unit, factor = INCH_UNITS[unit]
    expanded = reading.expanded_uncertainty * factor
    shown = show_number(reading.value * factor, expanded, unit)
    return replace(shown, by_hand=True, assumed=reading.assumed)


def show_number(value: float, expanded: float, unit: str) -> Shown:
    """Round a value and its U; U of 0 means that none is stated."""
    if not (isfinite(value) and isfinite(expanded)):
        return Shown(value=UNKNOWN, uncertainty="", unit=unit)
    if expanded <= 0:
        return Shown(value=exact_text(value, unit), uncertainty="", unit=unit)
    rounded = round_uncertainty(expanded)
    step = Decimal(1).scaleb(_exponent(rounded))
    nearest = Decimal(repr(float(value))).quantize(step, ROUND_HALF_EVEN)
    return Shown(value=_signed(nearest), uncertainty=f"{rounded:f}", unit=unit)


def round_uncertainty(expanded: float) -> Decimal:
    """Round U to one or two digits; the result's exponent is the last place.

    >>> [f"{round_uncertainty(u):f}" for u in (0.0662, 0.0104, 28.05, 0.0961, 3.2)]
    ['0.07', '0.011', '28', '0.10', '4']
    """
    exact = Decimal(repr(float(expanded)))
    digits = 2 if exact.scaleb(-exact.adjusted()) < 3 else 1  # noqa: PLR2004
    place = max(exact.adjusted() - digits + 1, -MOST_DECIMALS)
    step = Decimal(1).scaleb(place)
    down = exact.quantize(step, ROUND_DOWN)
    if exact - down < DROPPED_SHARE * exact:
        return down
    return exact.quantize(step, ROUND_UP)


def show_signed(shown: Shown) -> Shown:
    """Put the plus before a value that has a direction."""
    plain = shown.value in {UNKNOWN, ""} or shown.value.startswith(MINUS)
    zero = not shown.value.strip("0.")
    return shown if plain or zero else replace(shown, value=f"+{shown.value}")


def show_limit(limit: Limit, units: Units = "mm") -> str:
    """Say what a limit asks: '47.1 to 48.5 mm', 'at most 2°', '' when it is open."""
    unit, factor = limit.unit, 1.0
    if units == "in" and unit in INCH_UNITS:
        unit, factor = INCH_UNITS[unit]
    low, high = (
        None if bound is None else exact_text(bound * factor, unit)
        for bound in (limit.minimum, limit.maximum)
    )
    if low is not None and high is not None:
        return with_unit(f"{low} to {high}", unit)
    if low is not None:
        return f"at least {with_unit(low, unit)}"
    return "" if high is None else f"at most {with_unit(high, unit)}"


def show_given(value: float, unit: str, units: Units = "mm") -> str:
    """Show a number that was asked for, not measured: a limit, a group's width."""
    if units == "in" and unit in INCH_UNITS:
        unit, factor = INCH_UNITS[unit]
        value *= factor
    return with_unit(exact_text(value, unit), unit)


def exact_text(value: float, unit: str) -> str:
    """Write a number that has no uncertainty, without trailing zeros."""
    decimals = LIMIT_DECIMALS.get(unit, 3)
    step = Decimal(1).scaleb(-decimals)
    text = _signed(Decimal(repr(float(value))).quantize(step, ROUND_HALF_EVEN))
    return text.rstrip("0").rstrip(".")


def _exponent(number: Decimal) -> int:
    exponent = number.as_tuple().exponent
    return exponent if isinstance(exponent, int) else 0


def _signed(number: Decimal) -> str:
    """Write with a real minus, and never a minus before zero."""
    text = f"{abs(number):f}"
    return f"{MINUS}{text}" if number < 0 else text
