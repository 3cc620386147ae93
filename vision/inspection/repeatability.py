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

# AIAG MSA, 4th ed., factors 1/d2* by number of trials, operators, parts (K1, K2, K3),
# and D4 by number of trials; those beyond the worked example from memory.
TRIAL_FACTOR = {2: 0.8862, 3: 0.5908}
OPERATOR_FACTOR = {2: 0.7071, 3: 0.5231}
PART_FACTOR = {
    2: 0.7071,
    3: 0.5231,
    4: 0.4467,
    5: 0.4030,
    6: 0.3742,
    7: 0.3534,
    8: 0.3375,
    9: 0.3249,
    10: 0.3146,
}
RANGE_LIMIT = {2: 3.267, 3: 2.574}
POOLING_PROBABILITY = 0.25  # an interaction less sure than this is pooled (AIAG)
LEAST = 2
GOOD_PERCENT, POOR_PERCENT = 10.0, 30.0  # AIAG's acceptance of a gauge
LEAST_CATEGORIES = 5  # AIAG


def study_by_ranges(readings: Readings, unit: str = "mm") -> GaugeStudy:
    """Evaluate by averages and ranges; raise SpecError outside the tables' sizes."""
    operators, parts, trials = _shape(readings)
    _check_tables(operators, parts, trials)
    ranges = [[max(cell) - min(cell) for cell in row] for row in readings]
    mean_range = fmean(fmean(row) for row in ranges)
    operator_means = [fmean(fmean(cell) for cell in row) for row in readings]
    part_means = [fmean(fmean(row[part]) for row in readings) for part in range(parts)]
    repeatability = TRIAL_FACTOR[trials] * mean_range
    across = max(operator_means) - min(operator_means)
    reproducibility = 0.0
    if operators > 1:
        raw = (OPERATOR_FACTOR[operators] * across) ** 2
        reproducibility = sqrt(max(0.0, raw - repeatability**2 / (parts * trials)))
    limit = RANGE_LIMIT[trials] * mean_range
    return GaugeStudy(
        method="averages and ranges",
        unit=unit,
        repeatability=repeatability,
        reproducibility=reproducibility,
        part_variation=PART_FACTOR[parts] * (max(part_means) - min(part_means)),
        out_of_control=_above(ranges, limit),
    )


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
        method="analysis of variance",
        unit=unit,
        repeatability=sqrt(within),
        reproducibility=sqrt(operator + crossing),
        part_variation=sqrt(part),
        out_of_control=(),
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
    """Say in a sentence what the gauge is good for (AIAG's limits)."""
    percent = study.gauge_percent
    if percent < GOOD_PERCENT:
        word = "good"
    elif percent <= POOR_PERCENT:
        word = "usable with care"
    else:
        word = "too coarse"
    tail = "" if study.distinct >= LEAST_CATEGORIES else f", below {LEAST_CATEGORIES}"
    unit = study.unit
    return (
        f"standard deviations: repeats {study.repeatability:.3f} {unit}, set-ups "
        f"{study.reproducibility:.3f} {unit}; {percent:.0f} % of the total variation, "
        f"{word} for telling these springs apart; {study.distinct} classes can be "
        f"told{tail}"
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


def _check_tables(operators: int, parts: int, trials: int) -> None:
    known = parts in PART_FACTOR and trials in TRIAL_FACTOR
    if not known or (operators > 1 and operators not in OPERATOR_FACTOR):
        raise SpecError(
            "repeatability",
            f"{operators} set-ups, {parts} springs, {trials} repeats are outside the "
            "tables (3, 10, 3)",
            "Use the analysis of variance",
        )


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


def _above(
    ranges: Sequence[Sequence[float]], limit: float
) -> tuple[tuple[int, int], ...]:
    return tuple(
        (operator, part)
        for operator, row in enumerate(ranges, start=1)
        for part, width in enumerate(row, start=1)
        if width > limit
    )
