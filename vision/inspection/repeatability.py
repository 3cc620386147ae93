"""Gauge repeatability and reproducibility, as in AIAG's Measurement Systems Analysis.

``readings`` are an array of operators x parts x trials: for photographs an operator is
whoever set up the row, a part a spring, a trial one picture. Needs at least two parts
and two trials; with one operator nothing is said about reproducibility.
"""

from collections.abc import Sequence
from math import sqrt
from statistics import fmean

from calib.errors import SpecError
from vision.records.compared import GaugeStudy

Readings = Sequence[Sequence[Sequence[float]]]

POOLING_PROBABILITY = 0.25  # an interaction less sure than this is pooled (AIAG)
LEAST = 2
GOOD_PERCENT, POOR_PERCENT = 10.0, 30.0  # AIAG's acceptance of a gauge


def study_by_variance(readings: Readings, unit: str = "mm") -> GaugeStudy:
    """Evaluate by analysis of variance; an unsure interaction is pooled (AIAG)."""
    operators, parts, trials = _shape(readings)
    table = variance_table(readings)
    pooled = _pooled(table)
    within = pooled["error"]
    by_part = pooled.get("interaction", within)
    part = max(0.0, (_mean_square(table, "part") - by_part) / (operators * trials))
    operator = 0.0
    if operators > 1:
        excess = _mean_square(table, "operator") - by_part
        operator = max(0.0, excess / (parts * trials))
    crossing = max(0.0, (by_part - within) / trials)
    return GaugeStudy(
        unit=unit,
        repeatability=sqrt(within),
        reproducibility=sqrt(operator + crossing),
        part_variation=sqrt(part),
    )


def variance_table(readings: Readings) -> dict[str, tuple[float, int]]:
    """Compute sum of squares and degrees of freedom by source of variation."""
    operators, parts, trials = _shape(readings)
    cells = [[fmean(cell) for cell in row] for row in readings]
    whole = fmean(fmean(row) for row in cells)
    rows = [fmean(row) for row in cells]
    columns = [fmean(row[part] for row in cells) for part in range(parts)]
    by_operator = parts * trials * sum((mean - whole) ** 2 for mean in rows)
    by_part = operators * trials * sum((mean - whole) ** 2 for mean in columns)
    by_cell = trials * sum((mean - whole) ** 2 for row in cells for mean in row)
    error = sum(
        (value - mean) ** 2
        for row, means in zip(readings, cells, strict=True)
        for cell, mean in zip(row, means, strict=True)
        for value in cell
    )
    return {
        "part": (by_part, parts - 1),
        "operator": (by_operator, operators - 1),
        "interaction": (
            max(0.0, by_cell - by_part - by_operator),
            (parts - 1) * (operators - 1),
        ),
        "error": (error, operators * parts * (trials - 1)),
    }


def say_study(study: GaugeStudy) -> str:
    """Say what the gauge is good for (AIAG's limits), to follow its figures."""
    percent = study.gauge_percent
    if percent < GOOD_PERCENT:
        word = "good"
    elif percent <= POOR_PERCENT:
        word = "usable with care"
    else:
        word = "too coarse"
    return (
        f"that is {percent:.0f} % of the total variation, {word} for telling these "
        "springs apart (AIAG)"
    )


def _shape(readings: Readings) -> tuple[int, int, int]:
    """Check that every operator read every part equally often."""
    operators = len(readings)
    parts = {len(row) for row in readings}
    trials = {len(cell) for row in readings for cell in row}
    whole = len(parts) == len(trials) == 1
    if not whole or min(parts) < LEAST or min(trials) < LEAST:
        raise SpecError(
            "repeatability",
            f"{operators} set-ups, parts {sorted(parts)}, repeats {sorted(trials)}",
            "Photograph at least two springs at least twice, all equally often",
        )
    return operators, parts.pop(), trials.pop()


def _pooled(table: dict[str, tuple[float, int]]) -> dict[str, float]:
    """Compute the mean squares of error and interaction, pooled if unsure."""
    from scipy.stats import f  # noqa: PLC0415

    error, freedom = table["error"]
    crossing, crossing_freedom = table["interaction"]
    if crossing_freedom == 0:
        return {"error": error / freedom}
    alone = {
        "error": error / freedom,
        "interaction": crossing / crossing_freedom,
    }
    if error == 0.0:
        return alone
    ratio = alone["interaction"] / alone["error"]
    if float(f.sf(ratio, crossing_freedom, freedom)) < POOLING_PROBABILITY:
        return alone
    return {"error": (error + crossing) / (freedom + crossing_freedom)}


def _mean_square(table: dict[str, tuple[float, int]], source: str) -> float:
    squares, freedom = table[source]
    return squares / freedom
