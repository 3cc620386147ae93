"""Results in, a JSON file with every comparison out."""

import json
import math
from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from scripts.benching.records import SceneResult
from scripts.benching.statistics import groups, plain_summaries, summaries


def save_results(path: Path, results: Sequence[SceneResult]) -> None:
    """Write all pictures with all comparisons, and the summaries by staging."""
    data = {
        "format": 1,
        "summaries": {
            title: {
                "measured": [asdict(each) for each in summaries(part)],
                "plain": [asdict(each) for each in plain_summaries(part).values()],
            }
            for title, _, part in groups(results)
        },
        "pictures": [asdict(each) for each in results],
    }
    path.write_text(json.dumps(_finite(data), indent=1) + "\n", encoding="utf-8")


def _finite(value: Any) -> Any:
    """Put null where JSON has no number."""
    if isinstance(value, dict):
        return {key: _finite(each) for key, each in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(each) for each in value]
    if isinstance(value, float) and not math.isfinite(value):
        return None
    return value
