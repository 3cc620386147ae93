"""Quantities for tests."""

from calib.quantity import Influence, Quantity


def sure(value: float, unit: str) -> Quantity:
    """Make a quantity without uncertainty."""
    return Quantity(value=value, unit=unit, influences=())


def unsure(
    value: float, expanded: float, unit: str = "mm", source: str = ""
) -> Quantity:
    """Make a quantity with one influence of U = ``expanded``, its own by default."""
    name = source or f"own of {value!r} {unit}"
    part = Influence(source=name, label=name, u=expanded / 2.0)
    return Quantity(value=value, unit=unit, influences=(part,))
