"""The height ladder: a rung for each spring, tallest on top, U bars and limits."""

from collections.abc import Mapping

from vision.output.sheet.amounts import in_unit
from vision.output.sheet.figure import (
    FIRM,
    Disc,
    Figure,
    Mark,
    Scale,
    Word,
    box,
    dashes,
    line,
    scale_over,
    ticks,
)
from vision.output.sheet.ink import Ink, outcome_ink
from vision.output.show import Units, in_units, show_quantity, unit_text
from vision.records.judged import Limit, Outcome, SetResult, Standing

WIDTH = 112.0
LEFT, RIGHT = 31.0, 79.0
RUNG = 7.0
TOP = 9.0


def draw_ladder(
    result: SetResult,
    limit: Limit | None,
    labels: Mapping[int, str],
    outcomes: Mapping[int, Outcome],
    units: Units,
) -> Figure:
    """Draw the heights of a set; ``labels`` and ``outcomes`` go by position."""
    ranked = sorted(result.standings, key=lambda standing: standing.rank)
    scale = _scale(ranked, limit, units)
    bottom = TOP + RUNG * len(ranked)
    marks: list[Mark] = [*_limits(limit, scale, bottom, units)]
    for number, standing in enumerate(ranked):
        at = TOP + RUNG * (number + 0.5)
        outcome = outcomes.get(standing.position)
        label = labels[standing.position]
        marks += _rung(standing, at, scale, units)
        marks += _names(
            label, show_quantity(standing.height, units).number, at, outcome
        )
    marks += _axis(scale, bottom, units)
    return Figure(
        title=f"Height ladder {result.kind}".strip(),
        description=_description(ranked, labels, units),
        width=WIDTH,
        height=bottom + 12.0,
        marks=tuple(marks),
    )


def _scale(ranked: list[Standing], limit: Limit | None, units: Units) -> Scale:
    heights = [in_units(standing.height, units) for standing in ranked]
    reach = [seen.value - seen.expanded for seen in heights]
    reach += [seen.value + seen.expanded for seen in heights]
    asked = (limit.minimum, limit.maximum) if limit else ()
    reach += [in_unit(bound, "mm", units) for bound in asked if bound is not None]
    return scale_over(reach, LEFT, RIGHT)


def _limits(
    limit: Limit | None, scale: Scale, bottom: float, units: Units
) -> list[Mark]:
    """Tint what the limits allow and draw each limit as a firm line."""
    low = limit.minimum if limit else None
    high = limit.maximum if limit else None
    if low is None and high is None:
        return []
    start = scale.start if low is None else scale.at(in_unit(low, "mm", units))
    end = scale.end if high is None else scale.at(in_unit(high, "mm", units))
    marks: list[Mark] = [box((start, TOP), (end - start, bottom - TOP), Ink.BAND)]
    for bound, at, word in ((low, start, "least"), (high, end, "most")):
        if bound is not None:
            marks.append(line((at, TOP - 2), (at, bottom), Ink.DATUM, FIRM))
            marks.append(
                Word(at=(at, TOP - 3), text=word, anchor="middle", ink=Ink.DATUM)
            )
    return marks


def _rung(standing: Standing, at: float, scale: Scale, units: Units) -> list[Mark]:
    seen = in_units(standing.height, units)
    middle = scale.at(seen.value)
    low = scale.at(seen.value - seen.expanded)
    high = scale.at(seen.value + seen.expanded)
    return [
        line((scale.start, at), (scale.end, at), Ink.EDGE),
        line((low, at), (high, at), width=FIRM),
        line((low, at - 1.2), (low, at + 1.2)),
        line((high, at - 1.2), (high, at + 1.2)),
        Disc(centre=(middle, at), radius=0.9),
    ]


def _names(label: str, value: str, at: float, outcome: Outcome | None) -> list[Mark]:
    sign = outcome.sign if outcome else ""
    base = at + 1.15
    return [
        Word(at=(3.0, base), text=sign, anchor="middle", ink=outcome_ink(outcome)),
        Word(at=(LEFT - 2.0, base), text=label, anchor="end", bold=True),
        Word(at=(RIGHT + 3.0, base), text=value),
    ]


def _axis(scale: Scale, bottom: float, units: Units) -> list[Mark]:
    marks: list[Mark] = [line((LEFT, bottom), (RIGHT, bottom), Ink.RULE)]
    for value, text in ticks(scale, 5):
        at = scale.at(value)
        marks.append(dashes((at, TOP), (at, bottom), Ink.EDGE))
        marks.append(line((at, bottom), (at, bottom + 1.2), Ink.RULE))
        marks.append(
            Word(at=(at, bottom + 5.0), text=text, anchor="middle", ink=Ink.QUIET)
        )
    unit = unit_text("mm", units)
    marks.append(
        Word(
            at=(LEFT, bottom + 10.0),
            text=f"free height L0, {unit}; bars are U (k = 2)",
            ink=Ink.QUIET,
        )
    )
    return marks


def _description(
    ranked: list[Standing], labels: Mapping[int, str], units: Units
) -> str:
    parts = (
        f"{labels[standing.position]} {show_quantity(standing.height, units).text}"
        for standing in ranked
    )
    return f"Free heights from tallest to shortest: {'; '.join(parts)}."
