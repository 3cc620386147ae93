"""Sentences with figures: the chosen units come to stand first.

What was decided is kept as '47.10 mm (1.8543 in)', the same for everybody. Whoever
works in inches reads '1.8543 in (47.10 mm)'; lengths that stand in mm alone, as in
advice on the picture, get their inches.
"""

import re
from dataclasses import replace

from vision.output.show import INCH_UNITS, MINUS, MM_PER_IN, Units
from vision.records.judged import Decision, SetResult, Specification, SpringVerdict
from vision.records.kept import Inspection
from vision.records.measured import SpringMeasurement, Unmeasured

NUMBER = r"[-−]?\d+(?:\.\d+)?"
FIGURE = rf"{NUMBER}(?: (?:±|to) {NUMBER})?"
TWOFOLD = "|".join(
    rf"{FIGURE} {re.escape(metric)} \({FIGURE} {re.escape(other)}\)"
    for metric, (other, _) in INCH_UNITS.items()
)
FOUND = re.compile(rf"(?<![\w.])(?:(?P<both>{TWOFOLD})|(?P<alone>{FIGURE}) mm\b)")
MORE_DECIMALS = 2  # of inches than of mm: 0.01 mm is 0.0004 in


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
        inches = re.sub(NUMBER, _in_inches, match["alone"])
        return f"{inches} in ({match[0]})"
    metric, _, beside = match[0].partition(" (")
    return f"{beside.removesuffix(')')} ({metric})"


def _in_inches(match: re.Match[str]) -> str:
    _, _, decimals = match[0].partition(".")
    more = MORE_DECIMALS if decimals else 1
    inches = float(match[0].replace(MINUS, "-")) / MM_PER_IN
    return f"{inches:.{len(decimals) + more}f}".replace("-", MINUS)


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
    why, action = lead(decision.why, units), lead(decision.action, units)
    return replace(decision, why=why, action=action)


def _set(result: SetResult, units: Units) -> SetResult:
    loads = (replace(each, remarks=_all(each.remarks, units)) for each in result.loads)
    return replace(result, remarks=_all(result.remarks, units), loads=tuple(loads))
