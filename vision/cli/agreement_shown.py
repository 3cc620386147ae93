"""The second opinion as tables within 80 columns, and as data."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

from rich.text import Text

from vision.cli.lists import one_line
from vision.cli.pages import console
from vision.cli.pairing import Comparison, Repeats
from vision.inspection.agreement import LEAST_PAIRS
from vision.inspection.repeatability import say_study
from vision.output.leading import lead
from vision.output.show import INCH_UNITS, MINUS, Units, unit_text
from vision.output.table_style import heading, plain_table
from vision.records.compared import Bound
from vision.records.measured import Characteristic

DECIMALS = {"mm": 2, "in": 4}
Found = Mapping[Characteristic, Comparison | int]


def print_found(found: Found, repeats: Iterable[Repeats], units: Units) -> None:
    """Print each comparison, then how photos repeat."""
    screen = console()
    for kind, one in found.items():
        if isinstance(one, int):
            springs = "spring has" if one == 1 else "springs have"
            screen.print(heading(kind.text))
            screen.print(f"{one} {springs} both readings; {LEAST_PAIRS} are needed.")
        else:
            _print_comparison(one, units)
    for again in repeats:
        screen.print(heading("How photos repeat"))
        screen.print(Text(_repeats_text(again, units)))


def _print_comparison(comparison: Comparison, units: Units) -> None:
    """Print bias, limits and slope with their confidence limits."""
    screen, agreement = console(), comparison.agreement
    names = f"{agreement.first} {MINUS} {agreement.second}"
    title = f"{comparison.characteristic.text}: {names}, {agreement.count} springs"
    screen.print(heading(title))
    table = plain_table()
    table.add_column("")
    unit, factor = _shown_unit(agreement.unit, units)
    table.add_column(unit, justify="right")
    table.add_column("95 % confidence limits", justify="right")
    decimals = DECIMALS[unit]
    for name, bound in (
        ("bias", agreement.bias),
        ("lower limit of agreement", agreement.lower),
        ("upper limit of agreement", agreement.upper),
    ):
        table.add_row(name, *_cells(bound, factor, decimals, signed=True))
    if comparison.slope:
        name = f"slope, {agreement.first} over {agreement.second} (no unit)"
        table.add_row(name, *_cells(comparison.slope, 1.0, 3, signed=False))
    screen.print(table)
    screen.print(Text(lead(comparison.sentence, units)))


def _shown_unit(unit: str, units: Units) -> tuple[str, float]:
    """Name the unit to show and the factor that leads to it."""
    return unit_text(unit, units), INCH_UNITS[unit][1] if units == "in" else 1.0


def _cells(
    bound: Bound, factor: float, decimals: int, *, signed: bool
) -> tuple[str, str]:
    value, low, high = (
        _number(number * factor, decimals, signed=signed)
        for number in (bound.value, bound.low, bound.high)
    )
    return value, f"{low} to {high}"


def _number(value: float, decimals: int, *, signed: bool) -> str:
    """Write with the sign that a difference has."""
    text = f"{value:+.{decimals}f}" if signed else f"{value:.{decimals}f}"
    unsigned = text.lstrip("+-")
    return text.replace("-", MINUS) if unsigned.strip("0.") else unsigned


def _repeats_text(again: Repeats, units: Units) -> str:
    """Say how far a height moves from one photo to the next."""
    unit, factor = _shown_unit(again.study.unit, units)
    spread = 2.0 * again.study.repeatability * factor
    return one_line(
        f"{again.job}, {again.engine}: {again.photos} photos of {again.springs}"
        f" springs; a height repeats within ± {spread:.{DECIMALS[unit] + 1}f} {unit}"
        f" (two standard deviations); {say_study(again.study)}."
    )


def to_object(found: Found, repeats: Iterable[Repeats]) -> dict[str, Any]:
    """Give all of it for JSON, in mm; what has too few springs is null."""
    return {
        **{f"{kind.key}_mm": _comparison_object(one) for kind, one in found.items()},
        "repeats": [_repeats_object(again) for again in repeats],
    }


def _comparison_object(one: Comparison | int) -> dict[str, Any] | None:
    if isinstance(one, int):
        return None
    agreement = one.agreement
    return {
        "first": agreement.first,
        "second": agreement.second,
        "springs": agreement.count,
        "bias": asdict(agreement.bias),
        "standard_deviation": agreement.sd,
        "factor": agreement.factor,
        "lower_limit": asdict(agreement.lower),
        "upper_limit": asdict(agreement.upper),
        "slope": asdict(one.slope) if one.slope else None,
        "means": list(agreement.means),
        "differences": list(agreement.differences),
        "sentence": one.sentence,
    }


def _repeats_object(again: Repeats) -> dict[str, Any]:
    return {
        "job": again.job,
        "engine": again.engine,
        "springs": again.springs,
        "photos": again.photos,
        "repeatability_mm": again.study.repeatability,
    }
