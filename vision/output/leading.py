"""Sentences with figures: the chosen units come to stand first.

What was decided is kept as '47.10 mm (1.8543 in)', the same for everybody. Whoever
works in inches reads '1.8543 in (47.10 mm)'; what stands in mm or N alone, as in advice
on the picture, gets its inches or lbf.
"""

import re
from dataclasses import replace
from math import floor, log10

from vision.output.show import INCH_UNITS, LIMIT_DECIMALS, MINUS, Units
from vision.records.judged import (
    Decision,
    Requirement,
    SetResult,
    Specification,
    SpringVerdict,
)
from vision.records.kept import Inspection
from vision.records.measured import SpringMeasurement, Unmeasured

NUMBER = r"[-−]?\d+(?:\.\d+)?"
FIGURE = rf"{NUMBER}(?: (?:±|to) {NUMBER})?"
TWOFOLD = "|".join(
    rf"{FIGURE} {re.escape(metric)} \({FIGURE} {re.escape(other)}\)"
    for metric, (other, _) in INCH_UNITS.items()
)
FOUND = re.compile(
    rf"(?<![\w.])(?:(?P<both>{TWOFOLD})|(?P<alone>{FIGURE}) (?P<unit>mm|N)\b(?!/))"
)
LEAST_DIGITS = 2  # of a figure that stands in one unit alone


def lead(text: str, units: Units) -> str:
    """Put the chosen units first in a sentence.

    >>> lead("missed by 1.20 ± 0.05 mm (0.0474 ± 0.0020 in); replace it", "in")
    'missed by 0.0474 ± 0.0020 in (1.20 ± 0.05 mm); replace it'
    """
    return text if units == "mm" else FOUND.sub(_exchanged, text)


def lead_inspection(inspection: Inspection, units: Units) -> Inspection:
    """Put the chosen units first in every sentence of an inspection."""
    if units == "mm":
        return inspection
    row, specification = inspection.row, inspection.specification
    return replace(
        inspection,
        row=replace(
            row,
            springs=tuple(_spring(spring, units) for spring in row.springs),
            warnings=_all(row.warnings, units),
            advice=_all(row.advice, units),
        ),
        specification=specification and _specification(specification, units),
        verdicts=tuple(_verdict(each, units) for each in inspection.verdicts),
        sets=tuple(_set(each, units) for each in inspection.sets),
    )


def _exchanged(match: re.Match[str]) -> str:
    if match["both"] is None:
        other, factor = INCH_UNITS[match["unit"]]
        figure = re.sub(NUMBER, lambda each: _times(each[0], factor), match["alone"])
        return f"{figure} {other} ({match[0]})"
    metric, _, beside = match[0].partition(" (")
    return f"{beside.removesuffix(')')} ({metric})"


def _times(number: str, factor: float) -> str:
    """Bring a number to another unit, with as many digits as it has itself."""
    whole, _, decimals_text = number.strip(f"-{MINUS}").partition(".")
    told = f"{whole}{decimals_text}" if decimals_text else whole.rstrip("0")
    digits = max(LEAST_DIGITS, len(told.lstrip("0")))
    value = factor * float(number.replace(MINUS, "-"))
    place = floor(log10(abs(value))) if value else 0
    decimals = min(max(digits - 1 - place, 0), LIMIT_DECIMALS["in"])
    return f"{value:.{decimals}f}".replace("-", MINUS)


def _all(texts: tuple[str, ...], units: Units) -> tuple[str, ...]:
    return tuple(lead(text, units) for text in texts)


def _spring(
    spring: SpringMeasurement | Unmeasured, units: Units
) -> SpringMeasurement | Unmeasured:
    match spring:
        case SpringMeasurement():
            return replace(spring, remarks=_all(spring.remarks, units))
        case Unmeasured():
            return replace(spring, detail=lead(spring.detail, units))


def _specification(specification: Specification, units: Units) -> Specification:
    return replace(specification, doubts=_all(specification.doubts, units))


def _verdict(verdict: SpringVerdict, units: Units) -> SpringVerdict:
    return replace(
        verdict,
        decisions=tuple(_decision(each, units) for each in verdict.decisions),
        due=_all(verdict.due, units),
        actions=_all(verdict.actions, units),
    )


def _decision(decision: Decision, units: Units) -> Decision:
    if decision.requirement is Requirement.VISUAL:
        return decision  # it holds a person's own words
    why, action = lead(decision.why, units), lead(decision.action, units)
    return replace(decision, why=why, action=action)


def _set(result: SetResult, units: Units) -> SetResult:
    loads = (replace(each, remarks=_all(each.remarks, units)) for each in result.loads)
    return replace(result, remarks=_all(result.remarks, units), loads=tuple(loads))
