"""Sets and pairs as plain data, ready for JSON."""

from vision.output.keys import word
from vision.output.tree_values import Data, finite, limit_data, quantity_data
from vision.records.judged import (
    Group,
    LoadSet,
    LoadStanding,
    PairLoad,
    SetResult,
    Standing,
)


def set_data(result: SetResult, *, influences: bool) -> Data:
    """Give a set held against itself."""
    return {
        "kind": result.kind,
        "ranking": [
            _standing(standing, influences=influences) for standing in result.standings
        ],
        "straightedge_order": list(result.row_order),
        "spread_mm": quantity_data(result.spread, influences=influences),
        "spread_max_mm": finite(result.spread_limit_mm),
        "spread_outcome": word(result.spread_outcome),
        "groups": [_group(group) for group in result.groups],
        "best_subset": list(result.best_subset),
        "replace": list(result.replace),
        "outliers": list(result.outliers),
        "remarks": list(result.remarks),
        "loads": [_load_set(each, influences=influences) for each in result.loads],
    }


def _standing(standing: Standing, *, influences: bool) -> Data:
    return {
        "position": standing.position,
        "rank": standing.rank,
        "height_mm": quantity_data(standing.height, influences=influences),
        "straightedge_gap_mm": quantity_data(
            standing.straightedge_gap, influences=influences
        ),
    }


def _group(group: Group) -> Data:
    return {
        "number": group.number,
        "positions": list(group.positions),
        "lowest_mm": finite(group.lowest_mm),
        "highest_mm": finite(group.highest_mm),
        "doubtful": list(group.doubtful),
    }


def pair_data(pair: PairLoad, *, influences: bool) -> Data:
    """Give what outer and inner spring of one valve press together."""
    return {
        "place": pair.place,
        "requirement": pair.requirement.key,
        "positions": list(pair.positions),
        "heights_mm": [finite(height) for height in pair.heights_mm],
        "force_N": quantity_data(pair.force, influences=influences),
        "outcome": pair.outcome and word(pair.outcome),
    } | limit_data(pair.limit)


def _load_set(result: LoadSet, *, influences: bool) -> Data:
    return {
        "instrument": result.instrument.key,
        "height_mm": finite(result.height_mm),
        "ranking": [
            _load_standing(each, influences=influences) for each in result.standings
        ],
        "spread_N": quantity_data(result.spread, influences=influences),
        "weak": list(result.weak),
        "remarks": list(result.remarks),
    }


def _load_standing(standing: LoadStanding, *, influences: bool) -> Data:
    apart = quantity_data(standing.apart_percent, influences=influences)
    return {
        "position": standing.position,
        "force_N": quantity_data(standing.force, influences=influences),
        "apart_percent": apart,
    }
