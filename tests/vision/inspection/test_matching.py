"""A set against itself: rank, straightedge, spread, groups, subset, outliers."""

from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calib.quantity import Influence, Quantity
from tests.vision.inspection.figures import unsure
from vision.inspection.matching import (
    choose_best,
    compare_set,
    say_best,
    straightedge_gap,
)
from vision.records.judged import Outcome, SetResult


def together(
    *values_mm: float, own_mm: float = 0.02, shared_mm: float = 0.1
) -> dict[int, Quantity]:
    """Heights of one picture: own standard uncertainty, and one scale for all."""
    return {
        position: Quantity(
            value=value,
            unit="mm",
            influences=(
                Influence(source="scale", label="scale", u=shared_mm * value / 48.0),
                Influence(source=f"edge {position}", label="edge", u=own_mm),
            ),
        )
        for position, value in enumerate(values_mm, start=1)
    }


def compare(
    heights: dict[int, Quantity],
    spread: float | None = 1.0,
    width: float | None = None,
) -> SetResult:
    """Compare a set of intake springs."""
    return compare_set(heights, "intake", spread, width)


def test_ranks_the_tallest_first() -> None:
    """Rank 1 is tallest, each with its own height."""
    result = compare(together(47.8, 48.2, 48.0))

    assert [(each.rank, each.position) for each in result.standings] == [
        (1, 2),
        (2, 3),
        (3, 1),
    ]
    assert result.kind == "intake"


def test_straightedge_row_has_the_two_tallest_at_its_ends() -> None:
    """The others stand between them in the order of the row."""
    result = compare(together(47.8, 48.2, 47.9, 48.0))

    assert result.row_order == (2, 1, 3, 4)


def test_straightedge_gaps_lie_under_the_line_between_both_ends() -> None:
    """Ends 48.3 and 48.0, three evenly between: line 48.225, 48.15 and 48.075 mm."""
    result = compare(together(48.3, 47.0, 47.5, 47.9, 48.0))

    gaps = {each.position: each.straightedge_gap.value for each in result.standings}
    assert gaps == pytest.approx({1: 0, 5: 0, 2: 1.225, 3: 0.65, 4: 0.175})


def test_straightedge_gap_forgets_the_shared_scale() -> None:
    """Half way: u^2 = own^2 (1/4 + 1/4 + 1); the scale leaves 0.1 mm times gap / 48."""
    heights = together(48.0, 47.0, 48.0)

    gap = straightedge_gap((heights[1], heights[3]), heights[2], 0.5)

    assert gap.value == pytest.approx(1.0)
    assert gap.u == pytest.approx(sqrt(1.5 * 0.02**2 + (0.1 / 48.0) ** 2))


def test_gap_at_the_ends_is_surely_zero() -> None:
    """Under its own top a straightedge has no gap."""
    heights = together(48.2, 48.0)

    gap = straightedge_gap((heights[1], heights[2]), heights[2], 1.0)

    assert (gap.value, gap.u) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("shortest", "outcome"),
    [(47.5, Outcome.ACCEPT), (47.22, Outcome.CHECK_BY_HAND), (46.9, Outcome.REJECT)],
)
def test_spread_is_decided_by_the_difference_and_its_own_u(
    shortest: float, outcome: Outcome
) -> None:
    """U is 0.2 mm of a height, 0.057 mm of a difference, which decides."""
    result = compare(together(48.2, 48.0, shortest))

    assert result.spread.value == pytest.approx(48.2 - shortest)
    assert result.spread.expanded == pytest.approx(2 * sqrt(2) * 0.02, rel=0.01)
    assert result.spread_outcome is outcome


def test_without_a_limit_the_spread_is_said_and_not_judged() -> None:
    """Common practice is told beside it."""
    result = compare(together(48.2, 47.0), spread=None)

    assert result.spread_outcome is Outcome.STILL_DUE
    assert "common practice is 1 mm or 1/16 in" in result.remarks[0]
    assert result.best_subset == ()


def test_the_spring_to_replace_is_the_one_that_stands_off() -> None:
    """One short spring of five: replace it, and the others match."""
    result = compare(together(48.2, 46.4, 48.0, 47.9, 48.1))

    assert result.replace == (2,)
    assert result.best_subset == (1, 3, 4, 5)
    assert any("the others match" in remark for remark in result.remarks)


def test_a_tall_spring_may_be_the_one_to_replace() -> None:
    """Four at 47 mm and one at 48.5 mm: the tall one spoils the set."""
    result = compare(together(47.0, 47.1, 48.5, 47.05, 46.95))

    assert result.replace == (3,)


def test_nothing_is_replaced_while_the_spread_is_undecided() -> None:
    """Closer than U: the extremes are measured by hand first."""
    result = compare(together(48.2, 48.0, 47.22))

    assert result.replace == ()
    assert any("measure springs 1 and 3 by hand" in each for each in result.remarks)


def test_remaining_springs_may_need_a_check_by_hand() -> None:
    """Without the shortest the rest spreads 0.98 mm, closer than U to 1 mm."""
    result = compare(together(48.2, 48.0, 47.22, 45.0))

    assert result.replace == (4,)
    assert any("are to be checked by hand" in remark for remark in result.remarks)


def test_best_subset_for_the_places_has_the_least_spread() -> None:
    """Four of six: the four within 0.15 mm, and that is said with its U."""
    heights = together(48.3, 47.6, 47.7, 47.75, 47.65, 47.2)

    assert choose_best(heights, 4) == (2, 3, 4, 5)
    assert "springs 2, 3, 4 and 5 within 0.15 ± 0.06" in say_best(heights, 4)


def test_best_subset_prefers_the_taller_of_equal_spreads() -> None:
    """Two pairs 0.25 mm apart (exact in binary): the taller pair."""
    assert choose_best(together(48.0, 47.75, 47.0, 46.75), 2) == (1, 2)


def test_too_few_springs_for_the_places_are_said() -> None:
    """Eight are needed, three measured."""
    heights = together(48.0, 47.9, 47.8)

    assert choose_best(heights, 8) == ()
    assert say_best(heights, 8).startswith("8 springs are needed, 3 are left")


def test_groups_are_the_fewest_that_span_no_more_than_the_width() -> None:
    """Width 0.5 mm: 46.9 to 47.4 and 47.5 to 48.0."""
    heights = together(47.5, 46.9, 48.0, 47.4, 47.2, 47.8, own_mm=0.01)

    result = compare(heights, width=0.5)

    assert [group.positions for group in result.groups] == [(2, 5, 4), (1, 6, 3)]
    assert [(group.lowest_mm, group.highest_mm) for group in result.groups] == [
        (46.9, 47.4),
        (47.5, 48.0),
    ]


def test_border_finer_than_u_is_marked_doubtful() -> None:
    """47.40 and 47.45 mm fall into two groups, 0.05 mm apart with U 0.057 mm."""
    result = compare(together(46.9, 47.40, 47.45, 47.9), width=0.5)

    assert [group.doubtful for group in result.groups] == [(2,), (3,)]
    assert any("springs 2 and 3: the border" in remark for remark in result.remarks)


def test_spread_limit_serves_where_no_group_width_is_given() -> None:
    """Limit 1 mm: 47.0 and 48.2 mm cannot be together."""
    result = compare(together(47.0, 47.6, 48.2))

    assert [group.positions for group in result.groups] == [(1, 2), (3,)]


def test_natural_groups_where_nothing_is_given() -> None:
    """Two clusters well apart come out, and it is said how."""
    result = compare(together(47.0, 47.05, 48.2, 48.25, 46.95, 48.15), spread=None)

    assert [group.positions for group in result.groups] == [(5, 1, 2), (6, 3, 4)]
    assert "no group width given: groups by natural breaks" in result.remarks


def test_heights_alike_within_u_are_one_natural_group() -> None:
    """Differences below the measurement's own scatter make no groups."""
    result = compare(together(48.0, 48.01, 47.99, 48.02, 47.98), spread=None)

    assert len(result.groups) == 1


def test_outlier_stands_well_below_the_set() -> None:
    """One spring 1.6 mm below seven alike."""
    result = compare(together(48.0, 48.1, 47.9, 46.4, 48.0, 48.05, 47.95, 48.0))

    assert result.outliers == (4,)
    assert "spring 4 stands well below the set" in result.remarks


@pytest.mark.parametrize(
    "heights",
    [
        together(48.0, 48.05, 49.6, 47.95, 48.0),
        together(48.0, 47.4, 46.9, 46.4, 45.8),
        together(48.0, 48.0, 48.0, 47.6),
        together(48.0, 48.0, 46.0),
    ],
    ids=["tall", "evenly spread", "little", "three springs"],
)
def test_no_outlier_where_none_stands_apart_below(heights: dict[int, Quantity]) -> None:
    """A tall one, an even spread, 0.4 mm, or three springs name no outlier."""
    assert compare(heights).outliers == ()


@pytest.mark.parametrize("count", [0, 1])
def test_fewer_than_two_springs_are_no_set(count: int) -> None:
    """Nothing to match, nothing raised."""
    result = compare(together(*[48.0] * count))

    assert result.spread is None
    assert result.spread_outcome is Outcome.STILL_DUE
    assert len(result.groups) == len(result.row_order) == count
    assert any("nothing to match" in remark for remark in result.remarks)


def test_equal_heights_do_not_crash() -> None:
    """Four springs of the same height match, in the order of the row."""
    result = compare(together(48.0, 48.0, 48.0, 48.0))

    assert [each.position for each in result.standings] == [1, 2, 3, 4]
    assert result.spread_outcome is Outcome.ACCEPT


heights_mm = st.lists(st.integers(4500, 4900), min_size=2, max_size=12)


@given(values=heights_mm, width=st.integers(1, 200))
def test_no_group_spans_more_than_its_width(values: list[int], width: int) -> None:
    """Each group keeps the width, each spring is in one group."""
    heights = {at: unsure(value / 64.0, 0.05) for at, value in enumerate(values, 1)}

    groups = compare(heights, width=width / 64.0).groups

    assert all(group.highest_mm - group.lowest_mm <= width / 64.0 for group in groups)
    assert sorted(at for group in groups for at in group.positions) == sorted(heights)


@given(values=heights_mm)
def test_no_spring_stands_above_the_straightedge(values: list[int]) -> None:
    """With the two tallest at the ends every gap is zero or more."""
    heights = {at: unsure(value / 64.0, 0.05) for at, value in enumerate(values, 1)}

    gaps = [each.straightedge_gap.value for each in compare(heights).standings]

    assert min(gaps) >= -1e-9
