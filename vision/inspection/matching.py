"""A set of springs held against itself: rank, straightedge, spread, groups, subset.

Heights of one picture share its scale, so differences are known better than heights;
every comparison here uses the difference's own uncertainty.
"""

from collections.abc import Mapping, Sequence
from statistics import median

from calib.quantity import Quantity, combined, difference
from vision.inspection.grouping import group_heights
from vision.inspection.verdict import decide
from vision.inspection.wording import join_words, say
from vision.records.judged import Group, Limit, Outcome, SetResult, Standing

Heights = Mapping[int, Quantity]

USUAL_SPREAD = "1 mm or 1/16 in"  # across a set; common practice
STRAY_SCORE = 3.5  # modified z-score (Iglewicz and Hoaglin, 1993; from memory)
MAD_TO_SIGMA = 1.4826  # for a normal distribution
LEAST_STRAY_MM = 0.5  # a spring less far below the set is no outlier; common practice
LEAST_SPRINGS = 4  # below, no spring stands apart from "the rest"


def compare_set(
    heights: Heights,
    kind: str,
    spread_max_mm: float | None,
    group_width_mm: float | None,
) -> SetResult:
    """Compare the free heights (mm) of one kind, by position.

    The best subset is the largest one that may match.
    """
    ranked = _rank(heights)
    limit = Limit(unit="mm", maximum=spread_max_mm)
    spread = _spread(ranked, heights)
    outcome = _judge_spread(spread, limit)
    matching = _largest_match(ranked, heights, limit)
    strays = _outliers(heights)
    groups = group_heights(ranked, heights, group_width_mm or spread_max_mm)
    row = _row_order(ranked)
    return SetResult(
        kind=kind,
        standings=_stand(ranked, row, heights),
        row_order=row,
        spread=spread,
        spread_limit_mm=spread_max_mm,
        spread_outcome=outcome,
        groups=groups,
        best_subset=matching,
        replace=_to_replace(ranked, matching, outcome),
        outliers=strays,
        remarks=(
            *_say_spread(ranked, heights, spread, limit, outcome),
            *_say_groups(groups, group_width_mm or spread_max_mm),
            *_say_outliers(strays),
        ),
    )


def choose_best(heights: Heights, count: int) -> tuple[int, ...]:
    """Find so many springs with the least spread, the taller ones of equals.

    Empty where there are fewer.
    """
    ranked = _rank(heights)
    if not 0 < count <= len(ranked):
        return ()
    best = min(_windows(ranked, count), key=lambda run: _width(run, heights))
    return tuple(sorted(best))


def say_best(heights: Heights, count: int) -> str:
    """Name the springs that match best, with the spread among them."""
    chosen = choose_best(heights, count)
    if not chosen:
        return f"{count} springs are needed, {len(heights)} are left to choose from"
    spread = _spread([each for each in _rank(heights) if each in chosen], heights)
    words = join_words([str(position) for position in chosen])
    within = f" within {say(spread)}" if spread else ""
    return f"best matched for {count} places: springs {words}{within}"


def straightedge_gap(
    ends: tuple[Quantity, Quantity], height: Quantity, at: float
) -> Quantity:
    """Compute the gap under a straightedge laid over two tops.

    ``at`` runs from 0 at the first end to 1 at the second.
    """
    first, second = ends
    line = (1.0 - at) * first.value + at * second.value
    terms = [(1.0 - at, first), (at, second), (-1.0, height)]
    return combined(line - height.value, "mm", terms)


def _rank(heights: Heights) -> list[int]:
    """Order positions by height, tallest first."""
    return sorted(heights, key=lambda position: (-heights[position].value, position))


def _spread(ranked: Sequence[int], heights: Heights) -> Quantity | None:
    """Tallest less shortest; taking the extremes of noisy values widens it a little."""
    if len(ranked) < 2:  # noqa: PLR2004 - one spring has no spread
        return None
    return difference(heights[ranked[0]], heights[ranked[-1]])


def _judge_spread(spread: Quantity | None, limit: Limit) -> Outcome:
    if spread is None or limit.maximum is None:
        return Outcome.STILL_DUE
    return decide(spread, limit)


def _row_order(ranked: Sequence[int]) -> tuple[int, ...]:
    """Set the two tallest at the ends, the rest between as they stood."""
    if len(ranked) < 2:  # noqa: PLR2004 - nothing to lay a straightedge on
        return tuple(ranked)
    return (ranked[0], *sorted(ranked[2:]), ranked[1])


def _stand(
    ranked: Sequence[int], row: Sequence[int], heights: Heights
) -> tuple[Standing, ...]:
    """Rank the springs, each with its gap under the straightedge, evenly spaced."""
    last = max(len(row) - 1, 1)
    return tuple(
        Standing(
            position=position,
            rank=rank,
            height=heights[position],
            straightedge_gap=straightedge_gap(
                (heights[row[0]], heights[row[-1]]),
                heights[position],
                row.index(position) / last,
            ),
        )
        for rank, position in enumerate(ranked, start=1)
    )


def _windows(ranked: Sequence[int], size: int) -> list[Sequence[int]]:
    """List the runs of ``size`` springs by rank, tallest first."""
    return [ranked[at : at + size] for at in range(len(ranked) - size + 1)]


def _largest_match(
    ranked: Sequence[int], heights: Heights, limit: Limit
) -> tuple[int, ...]:
    """Find the most springs whose spread is not proven too wide, surest first."""
    if limit.maximum is None:
        return ()
    for size in range(len(ranked), 0, -1):
        runs = [
            run
            for run in _windows(ranked, size)
            if _outcome(run, heights, limit) is not Outcome.REJECT
        ]
        if runs:
            best = min(
                runs,
                key=lambda run: (
                    _outcome(run, heights, limit) is not Outcome.ACCEPT,
                    _width(run, heights),
                ),
            )
            return tuple(sorted(best))
    return ()


def _outcome(run: Sequence[int], heights: Heights, limit: Limit) -> Outcome:
    spread = _spread(run, heights)
    return Outcome.ACCEPT if spread is None else decide(spread, limit)


def _width(run: Sequence[int], heights: Heights) -> float:
    return heights[run[0]].value - heights[run[-1]].value


def _to_replace(
    ranked: Sequence[int], matching: Sequence[int], outcome: Outcome
) -> tuple[int, ...]:
    """Name the springs to replace so that the set may match, only where it does not."""
    if outcome is not Outcome.REJECT:
        return ()
    return tuple(sorted(set(ranked) - set(matching)))


def _outliers(heights: Heights) -> tuple[int, ...]:
    """Find springs that stand well below the set, beyond U of the difference."""
    if len(heights) < LEAST_SPRINGS:
        return ()
    centre = median(quantity.value for quantity in heights.values())
    middle = min(heights.values(), key=lambda quantity: abs(quantity.value - centre))
    usual = median(abs(quantity.value - centre) for quantity in heights.values())
    strays = []
    for position, height in heights.items():
        below, expanded = centre - height.value, difference(middle, height).expanded
        spread = max(MAD_TO_SIGMA * usual, expanded / 2.0)
        if below - expanded > LEAST_STRAY_MM and below > STRAY_SCORE * spread:
            strays.append(position)
    return tuple(sorted(strays))


def _say_spread(
    ranked: Sequence[int],
    heights: Heights,
    spread: Quantity | None,
    limit: Limit,
    outcome: Outcome,
) -> list[str]:
    if spread is None:
        return ["fewer than two measured springs: nothing to match"]
    if limit.maximum is None:
        return [f"no matching limit given; common practice is {USUAL_SPREAD}"]
    match outcome:
        case Outcome.ACCEPT:
            return ["the set matches"]
        case Outcome.REJECT:
            return [f"the set does not match; {_say_rest(ranked, heights, limit)}"]
        case _:
            ends = f"measure springs {ranked[0]} and {ranked[-1]} by hand"
            return [f"the spread is nearer to its limit than U; {ends}"]


def _say_rest(ranked: Sequence[int], heights: Heights, limit: Limit) -> str:
    """Say what becomes of the set without the springs that do not match."""
    matching = _largest_match(ranked, heights, limit)
    kept = [each for each in ranked if each in matching]
    out = sorted(set(ranked) - set(matching))
    noun = "spring" if len(out) == 1 else "springs"
    without = f"without {noun} {join_words([str(each) for each in out])}"
    if _outcome(kept, heights, limit) is Outcome.ACCEPT:
        return f"{without} the others match"
    return f"{without} the others are to be checked by hand"


def _say_groups(groups: Sequence[Group], width_mm: float | None) -> list[str]:
    remarks = []
    if width_mm is None and groups:
        remarks.append("no group width given: groups by natural breaks")
    doubtful = sorted(position for group in groups for position in group.doubtful)
    if doubtful:
        words = join_words([str(position) for position in doubtful])
        remarks.append(
            f"springs {words}: the border between their groups is finer than U"
        )
    return remarks


def _say_outliers(strays: Sequence[int]) -> list[str]:
    return [f"spring {position} stands well below the set" for position in strays]
