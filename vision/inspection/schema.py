"""Every section and key that a specification file may hold, with what it means.

One table: reading, its refusals and the printed list of keys all follow it.
"""

from dataclasses import dataclass

from vision.inspection.units import Dimension

VALVES = ("intake", "exhaust")
COILS = ("inner", "outer")

LENGTH = (Dimension.LENGTH,)
FORCE = (Dimension.FORCE,)
RATE = (Dimension.RATE,)
LENGTH_OR_SHARE = (Dimension.LENGTH, Dimension.SHARE)
FORCE_OR_SHARE = (Dimension.FORCE, Dimension.SHARE)
RATE_OR_SHARE = (Dimension.RATE, Dimension.SHARE)
LENGTH_OR_ANGLE = (Dimension.LENGTH, Dimension.ANGLE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """One key; ``allowed`` empty means plain text. ``zero`` allows the value 0."""

    name: str
    allowed: tuple[Dimension, ...]
    text: str
    zero: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One section; ``common`` may stand only at the top, never under a kind."""

    name: str
    text: str
    keys: tuple[Key, ...]
    common: bool = False

    def find_key(self, name: str) -> Key | None:
        """Look a key up by its name."""
        return next((key for key in self.keys if key.name == name), None)


def _band(
    plain: tuple[Dimension, ...], shared: tuple[Dimension, ...]
) -> tuple[Key, ...]:
    return (
        Key(name="nominal", allowed=plain, text="what the drawing says"),
        Key(name="min", allowed=plain, text="the least allowed"),
        Key(name="max", allowed=plain, text="the most allowed"),
        Key(
            name="tolerance",
            allowed=shared,
            text='both ways from nominal, "+-0.5" with unit or "10 %"',
        ),
    )


WEAR_HEIGHT = Key(
    name="limit",
    allowed=LENGTH,
    text="wear limit: decides in place of min, which then describes a new spring",
)
LOAD_KEYS = (
    Key(name="height", allowed=LENGTH, text="the length at which the force is read"),
    Key(name="force", allowed=FORCE, text="nominal force at that length"),
    Key(name="min", allowed=FORCE, text="the least force allowed"),
    Key(name="max", allowed=FORCE, text="the most force allowed"),
    Key(
        name="tolerance",
        allowed=FORCE_OR_SHARE,
        text='both ways from force, "+-1.5 kgf" or "10 %"',
    ),
    Key(name="limit", allowed=FORCE, text="wear limit: decides in place of min"),
    Key(
        name="loss_max",
        allowed=(Dimension.SHARE,),
        text="wear limit as the share of the nominal force that may be lost",
    ),
)
PAIR_KEYS = (
    Key(name="height", allowed=LENGTH, text="the length of the outer spring there"),
    *LOAD_KEYS[1:],
)

SECTIONS = (
    Section(
        name="specification",
        text="the file itself",
        common=True,
        keys=(
            Key(name="name", allowed=(), text="what the sheet calls it"),
            Key(name="source", allowed=(), text="where the figures come from"),
        ),
    ),
    Section(
        name="free_height",
        text="length of the unloaded spring, L0",
        keys=(*_band(LENGTH, LENGTH_OR_SHARE), WEAR_HEIGHT),
    ),
    Section(
        name="squareness",
        text="gap at the top against a square (length) or lean (angle), e1",
        keys=(
            Key(name="max", allowed=LENGTH_OR_ANGLE, text="the most allowed"),
            Key(
                name="limit",
                allowed=LENGTH_OR_ANGLE,
                text="wear limit: decides in place of max",
            ),
        ),
    ),
    Section(name="closed_load", text="force with the valve closed", keys=LOAD_KEYS),
    Section(name="open_load", text="force with the valve fully open", keys=LOAD_KEYS),
    Section(
        name="pair_closed_load",
        text="force of inner and outer spring together with the valve closed",
        keys=PAIR_KEYS,
    ),
    Section(
        name="pair_open_load",
        text="force of inner and outer spring together with the valve fully open",
        keys=PAIR_KEYS,
    ),
    Section(
        name="rate",
        text="force gained per length",
        keys=(
            *_band(RATE, RATE_OR_SHARE),
            Key(name="second", allowed=RATE, text="second rate of a dual-rate spring"),
        ),
    ),
    Section(
        name="coil_bind",
        text="room left before the coils touch at full lift",
        keys=(
            Key(name="solid_height", allowed=LENGTH, text="length with coils touching"),
            Key(
                name="clearance_min",
                allowed=LENGTH,
                text="least open height minus solid height",
                zero=True,
            ),
        ),
    ),
    Section(
        name="installed_height",
        text="seat to retainer in the head, valve closed",
        keys=_band(LENGTH, LENGTH_OR_SHARE),
    ),
    Section(
        name="valve",
        text="the valve that the spring closes",
        keys=(Key(name="lift", allowed=LENGTH, text="full lift at the valve"),),
    ),
    Section(
        name="outside_diameter",
        text="outside diameter of the coils, De",
        keys=_band(LENGTH, LENGTH_OR_SHARE),
    ),
    Section(
        name="wire_diameter",
        text="diameter of the wire, d",
        keys=_band(LENGTH, LENGTH_OR_SHARE),
    ),
    Section(
        name="material",
        text="the wire, for the rate from geometry",
        keys=(
            Key(name="name", allowed=(), text="one of the materials known here"),
            Key(
                name="shear_modulus",
                allowed=(Dimension.STRESS,),
                text="G, where it is known better than the material's",
            ),
        ),
    ),
    Section(
        name="matching",
        text="the set against itself",
        common=True,
        keys=(
            Key(
                name="spread_max",
                allowed=LENGTH,
                text="most difference in free height within the set",
            ),
            Key(
                name="group_width",
                allowed=LENGTH,
                text="springs of one group differ by no more",
            ),
        ),
    ),
)

ASKING = frozenset(
    {
        "free_height",
        "squareness",
        "closed_load",
        "open_load",
        "pair_closed_load",
        "pair_open_load",
        "coil_bind",
        "outside_diameter",
        "wire_diameter",
        "matching",
    }
)
"""Sections that ask something; the others only describe."""


def find_section(name: str) -> Section | None:
    """Look a section up by its name."""
    return next((section for section in SECTIONS if section.name == name), None)
