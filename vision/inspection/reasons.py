"""Why a value comes to its outcome, in figures."""

from math import erf, inf, sqrt

from calib.quantity import Quantity
from vision.inspection.evidence import Candidate
from vision.inspection.wording import say_number, say_range
from vision.records.judged import Limit, Outcome


def explain(candidate: Candidate, limit: Limit | None, outcome: Outcome) -> str:
    """Say why a value comes to its outcome, with the limits in both units."""
    if limit is None or limit.minimum is limit.maximum is None:
        return "the specification gives no limits"
    asked = f"asked {_bounds(limit)}"
    value = candidate.value
    if outcome is Outcome.ACCEPT:
        return f"{asked}: kept by more than U{_below_new(value, limit)}"
    if outcome is Outcome.REJECT:
        return f"{asked}: missed by {say_number(_excess(value, limit), limit.unit)}"
    if candidate.partial and _excess(value, limit) < -value.expanded:
        return f"{asked}: kept in this view, and one view sees only part of it"
    chance = 100.0 * conformance_probability(value, limit)
    return f"{asked}: within U of the limit; kept with a probability of {chance:.0f} %"


def _bounds(limit: Limit) -> str:
    low, high = limit.minimum, limit.maximum
    if low is None:
        return f"at most {say_number(high or 0.0, limit.unit)}"
    if high is None:
        return f"at least {say_number(low, limit.unit)}"
    return say_range(low, high, limit.unit)


def _excess(value: Quantity, limit: Limit) -> float:
    """Compute how far outside the limits a value lies; negative inside."""
    below = -inf if limit.minimum is None else limit.minimum - value.value
    above = -inf if limit.maximum is None else value.value - limit.maximum
    return max(below, above)


def _below_new(value: Quantity, limit: Limit) -> str:
    """Add that a worn spring passes only by its wear limit."""
    low, high = limit.new_minimum, limit.new_maximum
    if low is not None and value.value < low:
        return f"; a new one has at least {say_number(low, limit.unit)}"
    if high is not None and value.value > high:
        return f"; a new one has at most {say_number(high, limit.unit)}"
    return ""


def conformance_probability(value: Quantity, limit: Limit) -> float:
    """Compute the probability that the true value keeps the limits (JCGM 106:2012, 7).

    For a normal distribution about the value: Phi((TU - y)/u) - Phi((TL - y)/u).
    """
    above = 1.0 if limit.maximum is None else _phi(limit.maximum - value.value, value.u)
    below = 0.0 if limit.minimum is None else _phi(limit.minimum - value.value, value.u)
    return above - below


def _phi(distance: float, u: float) -> float:
    if u <= 0.0:
        return 1.0 if distance >= 0.0 else 0.0
    return 0.5 * (1.0 + erf(distance / (u * sqrt(2.0))))
