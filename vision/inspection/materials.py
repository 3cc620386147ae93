"""Wire materials and their modulus of rigidity G, for the rate from geometry."""

from dataclasses import dataclass
from types import MappingProxyType

from calib.quantity import COVERAGE_FACTOR, Influence, Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """A wire: G in MPa (N/mm2) with U (k = 2) that covers heat and handbook."""

    name: str
    shear_modulus_mpa: float
    expanded_uncertainty_mpa: float
    source: str

    @property
    def shear_modulus(self) -> Quantity:
        """G as a quantity; every spring of the material shares its uncertainty."""
        return modulus(self.name, self.shear_modulus_mpa, self.expanded_uncertainty_mpa)


def modulus(name: str, value_mpa: float, expanded_mpa: float) -> Quantity:
    """Make G of a material known by its value and U in MPa."""
    part = Influence(
        source=f"shear modulus of {name}",
        label=f"shear modulus of {name}",
        u=expanded_mpa / COVERAGE_FACTOR,
    )
    return Quantity(value=value_mpa, unit="MPa", influences=(part,))


_TABLE = (
    Material(
        name="oil-tempered",
        shear_modulus_mpa=79_500.0,
        expanded_uncertainty_mpa=1_600.0,
        source="after EN 13906-1 for EN 10270-2 wire (from memory)",
    ),
    # Two handbooks, 77.2 and 79.5 GPa: the middle, with both inside U.
    Material(
        name="chrome-silicon",
        shear_modulus_mpa=78_350.0,
        expanded_uncertainty_mpa=1_600.0,
        source="Shigley Table 10-5 and EN 13906-1 (both from memory)",
    ),
    Material(
        name="chrome-vanadium",
        shear_modulus_mpa=78_350.0,
        expanded_uncertainty_mpa=1_600.0,
        source="Shigley Table 10-5 and EN 13906-1 (both from memory)",
    ),
    Material(
        name="music-wire",
        shear_modulus_mpa=81_500.0,
        expanded_uncertainty_mpa=1_000.0,
        source="after EN 13906-1 for EN 10270-1 wire (from memory)",
    ),
    Material(
        name="stainless",
        shear_modulus_mpa=70_000.0,
        expanded_uncertainty_mpa=2_000.0,
        source="common practice for 18/8 wire (from memory)",
    ),
)
MATERIALS = MappingProxyType({material.name: material for material in _TABLE})
