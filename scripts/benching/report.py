"""Results in, the tables that a bench run prints out."""

from collections.abc import Sequence

import numpy as np

from scripts.benching.records import SceneResult, Summary
from scripts.benching.statistics import (
    goal_of,
    groups,
    of_quantity,
    plain_summaries,
    summaries,
    summarise,
    unit_of,
)

UPPER_HEAD = (
    f"{'picture':26s} {'staged':6s} {'springs':>7s}"
    f" |{'free height mm':^35s}|{'lean deg':^18s}|{'De mm':^12s}"
    f"|{'differences':^12s}|{'plain':>7s} |{'time':>5s}"
)
LOWER_HEAD = (
    f"{'':26s} {'':6s} {'':7s}"
    f" |{'bias':>7s}{'rms':>7s}{'max':>7s}{'U':>7s}{'cover':>6s} "
    f"|{'rms':>6s}{'U':>6s}{'cov':>5s} |{'rms':>6s}{'cov':>5s} "
    f"|{'rms':>6s}{'cov':>5s} |{'rms':>7s} |"
)
QUANTITY_HEAD = (
    f"  {'quantity':20s}{'n':>5s}{'bias':>9s}{'rms':>8s}{'goal':>7s}"
    f"{'max':>8s}{'median U':>10s}{'coverage':>10s}{'plain rms':>11s}"
)
LEAST_COVERAGE = 0.85  # of any one picture


def scene_table(results: Sequence[SceneResult]) -> str:
    """One line per picture or pair."""
    return "\n".join([UPPER_HEAD, LOWER_HEAD, *(_scene_line(each) for each in results)])


def _scene_line(result: SceneResult) -> str:
    def of(quantity: str) -> Summary:
        return summarise(quantity, of_quantity(quantity, result.comparisons))

    height, lean = of("free_height"), of("lean")
    width, apart = of("outside_diameter"), of("height difference")
    plain = summarise("free_height", of_quantity("free_height", result.plain))
    found = f"{result.measured}/{result.springs}"
    return (
        f"{result.scene:26s} {result.staging:6s} {found:>7s}"
        f" |{height.bias:+7.3f}{height.rms:7.3f}{height.largest:7.3f}"
        f"{height.median_expanded:7.3f}{height.coverage:6.2f} "
        f"|{lean.rms:6.2f}{lean.median_expanded:6.2f}{lean.coverage:5.2f} "
        f"|{width.rms:6.3f}{width.coverage:5.2f} "
        f"|{apart.rms:6.3f}{apart.coverage:5.2f} "
        f"|{plain.rms:7.2f} |{result.time_ratio:5.0f}"
    ).replace("nan", "  -")


def quantity_tables(results: Sequence[SceneResult]) -> str:
    """One block per kind of staging: every quantity in figures."""
    blocks = []
    for title, staging, part in groups(results):
        plain = plain_summaries(part)
        blocks.append(
            "\n".join(
                [
                    _counted(title, part),
                    QUANTITY_HEAD,
                    *(
                        _quantity_line(each, part[0].views, staging, plain)
                        for each in summaries(part)
                    ),
                ]
            )
        )
    return "\n\n".join(blocks)


def _counted(title: str, part: Sequence[SceneResult]) -> str:
    measured = sum(each.measured for each in part)
    springs = sum(each.springs for each in part)
    ratio = float(np.median([each.time_ratio for each in part]))
    unit = unit_of(part)
    return (
        f"{title}: {len(part)} {unit}, {measured} of {springs} springs measured, "
        f"median time {ratio:.0f} x decoding the JPEG"
    )


def _quantity_line(
    each: Summary, views: int, staging: str, plain: dict[str, Summary]
) -> str:
    goal = goal_of(views, each.quantity, staging)
    wanted = "" if goal is None else f"{goal:.2f}{' ' if each.rms <= goal else '!'}"
    beside = plain.get(each.quantity)
    other = f"{beside.rms:.2f} ({beside.count})" if beside else ""
    name = each.quantity.replace("_", " ")
    return (
        f"  {name:20s}{each.count:5d}{each.bias:+9.4f}{each.rms:8.4f}{wanted:>7s}"
        f"{each.largest:8.3f}{each.median_expanded:10.3f}{each.coverage:10.3f}"
        f"{other:>11s}"
    )


def miss_list(results: Sequence[SceneResult]) -> str:
    """Every spring without values and why; one line for a whole picture refused."""
    lines = []
    for result in results:
        reasons: dict[str, list[str]] = {}
        for miss in result.misses:
            reasons.setdefault(miss.reason, []).append(str(miss.spring or "?"))
        for reason, springs in reasons.items():
            which = "all" if len(springs) == result.springs else ", ".join(springs)
            lines.append(f"  {result.scene}, spring {which}: {reason}")
    return "\n".join(["Unmeasured:", *(lines or ["  none"])])


def outside_list(results: Sequence[SceneResult]) -> str:
    """Pictures in which too few free heights lie within their U."""
    lines = [f"Pictures whose free heights are covered below {LEAST_COVERAGE}:"]
    for result in results:
        chosen = of_quantity("free_height", result.comparisons)
        summary = summarise("free_height", chosen)
        if chosen and summary.coverage < LEAST_COVERAGE:
            lines.append(f"  {result.scene}: {summary.coverage:.2f}")
    return "\n".join(lines if len(lines) > 1 else [*lines, "  none"])
