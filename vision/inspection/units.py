"""Values with their unit as people write them: '48.2 mm', '1 29/32 in', '25.5 kgf'.

A value may be given twice, '35.55 mm (1.32 in)': the first counts, the second is kept
to be held against it. Inside the program lengths are mm, forces N, angles deg, rates
N/mm, moduli MPa.
"""

import re
from dataclasses import dataclass
from enum import Enum
from functools import cache
from typing import Any

from calib.errors import SpecError

DEFINITIONS = (
    "millimeter = [length] = mm = millimetre",
    "centimeter = 10 millimeter = cm = centimetre",
    "meter = 1000 millimeter = m = metre",
    "micrometer = 0.001 millimeter = um = µm",
    "inch = 25.4 millimeter = in = inches",  # exact since 1959
    "thou = 0.001 inch = thou = mil",
    "newton = [force] = N",
    "kilonewton = 1000 newton = kN",
    "decanewton = 10 newton = daN",
    "kilogram_force = 9.80665 newton = kgf = kp",  # exact
    "pound_force = 4.4482216152605 newton = lbf",  # exact
    "degree = [angle] = deg = ° = degrees",
    "arcminute = 1/60 degree = arcmin",
    "radian = 57.29577951308232 degree = rad",
    "pascal = 1e-6 newton / millimeter ** 2 = Pa",
    "megapascal = 1 newton / millimeter ** 2 = MPa",
    "gigapascal = 1000 megapascal = GPa",
    "psi = 0.006894757293168361 megapascal = psi",
    "ksi = 1000 psi = ksi",
    "kilogram = [mass] = kg",
    "pound = 0.45359237 kilogram = lb = lbs = pounds",
    "percent = [] = %",
)
PAIR = re.compile(r"(?P<first>[^()]+)(?:\((?P<second>[^()]+)\))?")
VALUE = re.compile(
    r"(?P<sign>\+/-|\+-|±|[-+−])?\s*"
    r"(?P<number>(?:\d{1,7}\s+)?\d{1,7}/[1-9]\d{0,6}|"
    r"\d{1,7}(?:\.\d{1,9})?|\.\d{1,9})"
    r"\s*(?P<unit>[^\d\s.,].*)?",
    re.ASCII,
)
UNIT = re.compile(r"[A-Za-zµ°%]+(?:/[A-Za-z]+2?)?")
SPELLINGS = {'"': "in", "''": "in", "″": "in", "in.": "in", "N/mm²": "N/mm2"}
MOST_CHARACTERS = 80  # of one value
NOISE_DECIMALS = 9  # binary noise of a conversion lies below


class Dimension(Enum):
    """What a value measures: base unit, plain name, an example to follow."""

    LENGTH = ("mm", "length", "48.2 mm")
    FORCE = ("N", "force", "290 N")
    ANGLE = ("deg", "angle", "2 deg")
    RATE = ("N/mm", "spring rate", "30 N/mm")
    STRESS = ("MPa", "modulus", "79.5 GPa")
    SHARE = ("%", "share", "10 %")

    def __init__(self, unit: str, text: str, example: str) -> None:
        self.unit = unit
        self.text = text
        self.example = example


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Which value of which file is being read, for the message when it cannot be."""

    file: str
    key: str

    def refuse(self, fault: str, remedy: str) -> SpecError:
        """Compose the error: file, key and fault; remedy."""
        return SpecError(self.file, f"{self.key} {fault}".strip(), remedy)


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """A value in its base unit, as printed, and what it is printed beside in brackets.

    ``digit`` is one unit of the last printed digit, in the base unit.
    """

    dimension: Dimension
    value: float
    digit: float
    text: str
    beside: "Given | None" = None

    @property
    def unit(self) -> str:
        """Base unit of ``value``."""
        return self.dimension.unit


def read_given(text: object, allowed: tuple[Dimension, ...], where: Where) -> Given:
    """Read a value with its unit, perhaps given twice; raise SpecError."""
    if not isinstance(text, str):
        raise where.refuse(
            f"= {str(text)[:20]} has no unit",
            f'Write it as text, like "{allowed[0].example}"',
        )
    pair = PAIR.fullmatch(text.strip())
    if len(text) > MOST_CHARACTERS:
        raise where.refuse(
            f"has {len(text)} characters, above {MOST_CHARACTERS}", _like(allowed)
        )
    if pair is None:
        raise where.refuse(
            f'= "{text}" is not a value with a unit', _like(allowed, second=True)
        )
    first = _read_one(pair["first"], text, allowed, where)
    if pair["second"] is None:
        return first
    second = _read_one(pair["second"], text, allowed, where)
    return Given(
        dimension=first.dimension,
        value=first.value,
        digit=first.digit,
        text=text.strip(),
        beside=second,
    )


def _read_one(
    part: str, text: str, allowed: tuple[Dimension, ...], where: Where
) -> Given:
    match = VALUE.fullmatch(part.strip())
    if match is None:
        raise where.refuse(
            f'= "{text}" is not a number with a unit', _remedy(part, allowed)
        )
    if match["unit"] is None:
        raise where.refuse(f'= "{text}" has no unit', _like(allowed))
    if match["sign"] in {"-", "−"}:
        raise where.refuse(f'= "{text}" is negative', "Give a value above zero")
    number, digit = _number(match["number"])
    dimension, factor = _dimension(match["unit"].strip(), text, allowed, where)
    return Given(
        dimension=dimension,
        value=round(number * factor, NOISE_DECIMALS),
        digit=digit * factor,
        text=part.strip(),
    )


def _number(text: str) -> tuple[float, float]:
    """Read '48.20', '29/32' or '1 29/32'; return it and one unit of its last digit."""
    whole, _, fraction = text.rpartition(" ")
    if "/" in fraction:
        over, under = (int(part) for part in fraction.split("/"))
        return float(whole or 0) + over / under, 0.0
    decimals = len(text.partition(".")[2])
    return float(text), 10.0**-decimals


def _dimension(
    unit: str, text: str, allowed: tuple[Dimension, ...], where: Where
) -> tuple[Dimension, float]:
    """Find what the unit measures and its factor to the base unit."""
    from pint import UndefinedUnitError  # noqa: PLC0415

    unit = SPELLINGS.get(unit, unit)
    if not UNIT.fullmatch(unit):
        raise where.refuse(f'= "{text}": "{unit}" is not a unit', _like(allowed))
    registry = _registry()
    try:
        quantity = registry.Quantity(1.0, unit.replace("mm2", "mm**2"))
    except UndefinedUnitError:
        raise where.refuse(
            f'= "{text}": "{unit}" is not a unit known here', _like(allowed)
        ) from None
    for dimension in allowed:
        if quantity.check(registry.Quantity(1.0, dimension.unit).dimensionality):
            return dimension, float(quantity.to(dimension.unit).magnitude)
    raise where.refuse(
        f'= "{text}" is not {_kinds(allowed)}', _other(quantity, allowed)
    )


@cache
def _registry() -> Any:
    """Build the table of units once; pint is imported when the first value is read."""
    from pint import UnitRegistry  # noqa: PLC0415

    registry: Any = UnitRegistry(None)
    for definition in DEFINITIONS:
        registry.define(definition)
    return registry


def _kinds(allowed: tuple[Dimension, ...]) -> str:
    names = [dimension.text for dimension in allowed]
    article = "an" if names[0][0] in "aeiou" else "a"
    return f"{article} " + " or ".join(names)


def _like(allowed: tuple[Dimension, ...], *, second: bool = False) -> str:
    examples = " or ".join(f'"{dimension.example}"' for dimension in allowed)
    twice = '; a second figure stands in brackets, "35.55 mm (1.40 in)"'
    return f"Write it like {examples}" + (twice if second else "")


def _remedy(part: str, allowed: tuple[Dimension, ...]) -> str:
    if re.search(r"\d,\d", part):
        return f"Write a decimal point instead of the comma. {_like(allowed)}"
    return _like(allowed)


def _other(quantity: Any, allowed: tuple[Dimension, ...]) -> str:
    if quantity.check("[mass]") and Dimension.FORCE in allowed:
        return "A force is given in N, kgf or lbf; write kgf for kg and lbf for lb"
    return _like(allowed)
