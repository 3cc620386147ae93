"""Figures in sentences: value, U and unit, in mm and N with in and lbf beside them.

A sentence is kept with both; what is shown puts the chosen units first
(vision.output.leading).
"""

from math import ceil, floor, log10

from calib.quantity import Quantity

BESIDE = {
    "mm": ("in", 1.0 / 25.4),  # exact
    "N": ("lbf", 1.0 / 4.4482216152605),  # exact
    "N/mm": ("lbf/in", 25.4 / 4.4482216152605),
}
DECIMALS = {"mm": 2, "in": 4, "N": 1, "lbf": 1, "deg": 2, "N/mm": 1, "lbf/in": 0}
MOST_DECIMALS = 5
MINUS = "−"
FIRST_DIGIT_WITH_SECOND = 3.0  # U of 0.012 and 0.028 keeps two digits, 0.07 one
DROPPED_SHARE = 0.98  # 0.0702 may become 0.07; else U is rounded up


def _unit(number: str, unit: str) -> str:
    """Set a number before its unit; degrees close up."""
    return f"{number}°" if unit == "deg" else f"{number} {unit}"


def say(quantity: Quantity) -> str:
    """Say a quantity with its expanded uncertainty in both units."""
    metric = _with_uncertainty(quantity.value, quantity.expanded, quantity.unit)
    if quantity.unit not in BESIDE:
        return metric
    unit, factor = BESIDE[quantity.unit]
    other = _with_uncertainty(quantity.value * factor, quantity.expanded * factor, unit)
    return f"{metric} ({other})"


def say_number(value: float, unit: str) -> str:
    """Say a limit or a setting in both units."""
    metric = _unit(_plain(value, unit), unit)
    if unit not in BESIDE:
        return metric
    other, factor = BESIDE[unit]
    return f"{metric} ({_plain(value * factor, other)} {other})"


def say_range(low: float, high: float, unit: str) -> str:
    """Say two limits in both units: '47.10 to 48.30 mm (1.8543 to 1.9016 in)'."""
    metric = _unit(f"{_plain(low, unit)} to {_plain(high, unit)}", unit)
    if unit not in BESIDE:
        return metric
    other, factor = BESIDE[unit]
    ends = [_plain(bound * factor, other) for bound in (low, high)]
    return f"{metric} ({' to '.join(ends)} {other})"


def join_words(words: list[str]) -> str:
    """Join as in a sentence: 'a, b and c'."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if words[1:] else words)


def _plain(value: float, unit: str) -> str:
    """Write with the unit's usual decimals and a real minus, never before zero."""
    text = f"{abs(value):.{DECIMALS[unit]}f}"
    return f"{MINUS}{text}" if value < 0.0 and text.strip("0.") else text


def _with_uncertainty(value: float, expanded: float, unit: str) -> str:
    decimals = _decimals(expanded, unit)
    if expanded <= 0.0:
        return _unit(f"{value:.{decimals}f}", unit)
    doubt = f"± {_up(expanded, decimals):.{decimals}f}"
    if unit == "deg":
        return f"{value:.{decimals}f}° {doubt}°"
    return f"{value:.{decimals}f} {doubt} {unit}"


def _decimals(expanded: float, unit: str) -> int:
    """Choose decimals by U: two digits when it begins with 1 or 2, else one."""
    if expanded <= 0.0:
        return DECIMALS.get(unit, 2)
    exponent = floor(log10(expanded))
    two = expanded / 10.0**exponent < FIRST_DIGIT_WITH_SECOND
    return min(max(0, (1 if two else 0) - exponent), MOST_DECIMALS)


def _up(value: float, decimals: int) -> float:
    """Round up, unless dropping the rest takes less than 2 % off."""
    step = 10.0**-decimals
    down = floor(value / step) * step
    return down if down >= DROPPED_SHARE * value else ceil(value / step) * step
