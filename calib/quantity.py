"""A value with its unit and the influences that make it uncertain.

Influences with the same ``source`` are fully correlated wherever they appear (one
photo's scale, one caliper); all others are independent. Law of propagation of
uncertainty: JCGM 100:2008, 5.1.2 and 5.2.2, with signed contributions.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from math import sqrt

COVERAGE_FACTOR = 2.0  # k; about 95 % for a normal distribution (JCGM 100:2008, 6.3.3)


@dataclass(frozen=True, slots=True, kw_only=True)
class Influence:
    """One signed contribution, in the unit of the quantity that it belongs to."""

    source: str
    label: str
    u: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Quantity:
    """A measured value; ``u`` follows from its influences."""

    value: float
    unit: str
    influences: tuple[Influence, ...]

    @property
    def u(self) -> float:
        """Combined standard uncertainty."""
        return sqrt(sum(part.u**2 for part in merged(self.influences)))

    @property
    def expanded(self) -> float:
        """Expanded uncertainty U = k u with k = 2."""
        return COVERAGE_FACTOR * self.u


def merged(influences: Iterable[Influence]) -> tuple[Influence, ...]:
    """Sum signed contributions of the same source, in order of first appearance."""
    sums: dict[str, Influence] = {}
    for part in influences:
        known = sums.get(part.source)
        u = part.u + (known.u if known else 0.0)
        label = known.label if known else part.label
        sums[part.source] = Influence(source=part.source, label=label, u=u)
    return tuple(sums.values())


def combined(
    value: float, unit: str, terms: Iterable[tuple[float, Quantity]]
) -> Quantity:
    """Carry the influences of several quantities into one result.

    Parameters
    ----------
    value, unit
        The result, computed by the caller.
    terms
        Pairs of sensitivity coefficient (result unit per input unit) and input.
    """
    parts = [
        Influence(source=part.source, label=part.label, u=sensitivity * part.u)
        for sensitivity, quantity in terms
        for part in quantity.influences
    ]
    return Quantity(value=value, unit=unit, influences=merged(parts))


def difference(first: Quantity, second: Quantity) -> Quantity:
    """First minus second; what both share cancels."""
    if first.unit != second.unit:
        raise ValueError(f"cannot subtract {second.unit} from {first.unit}")
    value = first.value - second.value
    return combined(value, first.unit, [(1.0, first), (-1.0, second)])
