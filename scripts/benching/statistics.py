"""Comparisons in, their errors in figures out."""

from collections.abc import Iterable, Sequence

import numpy as np

from scripts.benching.compare import DIFFERENCE
from scripts.benching.records import Comparison, SceneResult, Summary
from vision.records.measured import Characteristic

GOALS = {  # largest rms wanted of well-staged pictures, and of badly staged ones
    (1, "free_height"): (0.03, 0.08),
    (1, DIFFERENCE): (0.02, 0.02),
    (1, "lean, middle third"): (0.10, 0.10),
    (1, "outside_diameter"): (0.05, 0.05),
    (2, "lean"): (0.06, 0.06),
    (2, "squareness"): (0.06, 0.06),
}
MIDDLE = {"lean": "lean, middle third"}
ORDER = (
    "free_height",
    DIFFERENCE,
    "lean",
    "lean, middle third",
    "squareness",
    *(
        each.key
        for each in Characteristic
        if each.key not in {"free_height", "lean", "squareness"}
    ),
)


def summarise(quantity: str, compared: Iterable[Comparison]) -> Summary:
    """Sum up one quantity's errors; nan where there are none."""
    chosen = list(compared)
    error = np.array([each.error for each in chosen])
    expanded = np.array([each.expanded for each in chosen])
    if not chosen:
        error = expanded = np.array([np.nan])
    return Summary(
        quantity=quantity,
        count=len(chosen),
        bias=float(error.mean()),
        rms=float(np.sqrt((error**2).mean())),
        largest=float(np.abs(error).max()),
        coverage=float((np.abs(error) <= expanded).mean()) if chosen else np.nan,
        median_expanded=float(np.median(expanded)),
    )


def of_quantity(quantity: str, compared: Iterable[Comparison]) -> list[Comparison]:
    """Choose one quantity's comparisons; some count in the middle third only."""
    for key, name in MIDDLE.items():
        if quantity == name:
            return [each for each in compared if each.quantity == key and each.middle]
    return [each for each in compared if each.quantity == quantity]


def summaries(results: Iterable[SceneResult]) -> list[Summary]:
    """Sum up every quantity over several pictures."""
    compared = [each for result in results for each in result.comparisons]
    found = [summarise(name, of_quantity(name, compared)) for name in ORDER]
    return [each for each in found if each.count]


def plain_summaries(results: Iterable[SceneResult]) -> dict[str, Summary]:
    """Sum up the plain recipe by quantity."""
    compared = [each for result in results for each in result.plain]
    names = dict.fromkeys(each.quantity for each in compared)
    return {name: summarise(name, of_quantity(name, compared)) for name in names}


def goal_of(views: int, quantity: str, staging: str) -> float | None:
    """Give the rms that is aimed at, where one is."""
    goals = GOALS.get((views, quantity))
    if goals is None or staging not in {"well", "poor"}:
        return None
    return goals[0] if staging == "well" else goals[1]


def groups(results: Iterable[SceneResult]) -> list[tuple[str, str, list[SceneResult]]]:
    """Part by views and staging, then all together: title, staging, part."""
    found = []
    everything = list(results)
    for views, text in ((1, "one view"), (2, "quarter turn")):
        for staging in ("well", "poor", "all"):
            part = [
                each
                for each in everything
                if each.views == views and staging in {each.staging, "all"}
            ]
            if part:
                title = "all pictures" if staging == "all" else f"{staging} staged"
                found.append((f"{text}, {title}", staging, part))
    return found


def unit_of(part: Sequence[SceneResult]) -> str:
    """Say what was measured: pictures, or pairs of them."""
    one = len(part) == 1
    if part[0].views == 1:
        return "picture" if one else "pictures"
    return "pair of pictures" if one else "pairs of pictures"
