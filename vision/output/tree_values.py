"""Values as plain data, ready for JSON: quantities with U, limits, bare numbers."""

from math import isfinite
from typing import Any

from calib.quantity import COVERAGE_FACTOR, Quantity, merged
from vision.output.keys import quantity_key
from vision.records.judged import Limit

K = int(COVERAGE_FACTOR)

Data = dict[str, Any]


def quantity_data(
    quantity: Quantity | None, *, influences: bool = False
) -> Data | None:
    """Give value, U and k; with ``influences`` each one's u and share of u squared."""
    if quantity is None:
        return None
    data: Data = {
        "value": finite(quantity.value),
        "expanded_uncertainty": finite(quantity.expanded),
        "coverage_factor": K,
    }
    if influences:
        variance = quantity.u**2  # 0 or infinite gives no shares
        data["influences"] = [
            {
                "source": part.source,
                "label": part.label,
                "u": finite(part.u),
                "share": share(part.u, variance),
            }
            for part in merged(quantity.influences)
        ]
    return data


def share(u: float, variance: float) -> float | None:
    """Tell what part of a variance one influence makes."""
    return u**2 / variance if isfinite(variance) and variance > 0 else None


def finite(number: float | None) -> float | None:
    """Turn what JSON cannot hold (infinite, not a number) into null."""
    return float(number) if number is not None and isfinite(number) else None


def limit_data(limit: Limit | None) -> Data:
    """Give what a limit asks; nothing where there is none."""
    if limit is None:
        return {}
    return {
        quantity_key("minimum", limit.unit): finite(limit.minimum),
        quantity_key("maximum", limit.unit): finite(limit.maximum),
        quantity_key("new_minimum", limit.unit): finite(limit.new_minimum),
        quantity_key("new_maximum", limit.unit): finite(limit.new_maximum),
        "as_given": limit.as_given,
    }
