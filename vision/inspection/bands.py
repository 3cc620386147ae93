"""Turn the values of one kind's sections into the limits that springs are held to."""

from collections.abc import Mapping
from dataclasses import dataclass

from vision.inspection.units import Dimension, Given, Where
from vision.records.judged import Limit, Load, Requirements

Values = Mapping[str, Given]
ALL_OF_IT = 100.0  # per cent
DESCRIBES = frozenset({"height", "second"})  # keys that are no limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What one kind is asked: values by section and key, and plain texts."""

    file: str
    kind: str
    values: Mapping[str, Values]
    material: str | None = None

    def find(self, section: str, key: str) -> Given | None:
        """Look a value up; None where the file does not give it."""
        return self.values.get(section, {}).get(key)

    def number(self, section: str, key: str) -> float | None:
        """Look a value up in its base unit."""
        given = self.find(section, key)
        return None if given is None else given.value

    def where(self, section: str, key: str = "") -> Where:
        """Say which value of which section is meant."""
        path = ".".join([*self.kind.split(), section])
        return Where(file=self.file, key=f"[{path}] {key}".strip())


def build_requirements(sheet: Sheet) -> Requirements:
    """Assemble what is asked of one kind; raise SpecError where it cannot be."""
    return Requirements(
        kind=sheet.kind,
        free_height=_lower_worn(sheet, "free_height"),
        squareness=_upper_worn(sheet, "squareness"),
        closed=_load(sheet, "closed_load"),
        open=_load(sheet, "open_load"),
        solid_height_mm=sheet.number("coil_bind", "solid_height"),
        coil_bind_clearance_min_mm=sheet.number("coil_bind", "clearance_min"),
        outside_diameter=_band(sheet, "outside_diameter"),
        wire_diameter=_band(sheet, "wire_diameter"),
        material=sheet.material,
        rate=_band(sheet, "rate"),
        second_rate_n_per_mm=sheet.number("rate", "second"),
        installed_height=_band(sheet, "installed_height"),
        lift_mm=sheet.number("valve", "lift"),
        shear_modulus_mpa=sheet.number("material", "shear_modulus"),
        pair_closed=_load(sheet, "pair_closed_load"),
        pair_open=_load(sheet, "pair_open_load"),
    )


def _load(sheet: Sheet, section: str) -> Load | None:
    force = _lower_worn(sheet, section)
    if force is None:
        return None
    height_mm = sheet.number(section, "height")
    if height_mm is None:
        raise sheet.where(section).refuse(
            "gives a force without the height it belongs to",
            'Add height = "38.9 mm", the length at which the force is read',
        )
    if force.nominal is force.minimum is force.maximum is None:
        raise sheet.where(section).refuse(
            "gives a height without a force", 'Add force, min or max, like "290 N"'
        )
    return Load(height_mm=height_mm, force=force)


def _lower_worn(sheet: Sheet, section: str) -> Limit | None:
    """Read a band whose wear limit is the least value that still serves."""
    band = _band(sheet, section)
    if band is None:
        return None
    worn = _worn(sheet, section, band)
    if worn is None:
        return band
    if band.maximum is not None and worn > band.maximum:
        raise sheet.where(section, "limit").refuse(
            f"{worn:g} {band.unit} lies above max {band.maximum:g} {band.unit}",
            "A wear limit is the least value that still serves; correct one of the two",
        )
    return Limit(
        unit=band.unit,
        minimum=worn,
        maximum=band.maximum,
        nominal=band.nominal,
        as_given=band.as_given,
        new_minimum=band.minimum,
    )


def _worn(sheet: Sheet, section: str, band: Limit) -> float | None:
    """Find the wear limit: given as such, or as a loss of the nominal force."""
    limit, loss = sheet.number(section, "limit"), sheet.number(section, "loss_max")
    if loss is None:
        return limit
    where = sheet.where(section, "loss_max")
    if limit is not None:
        raise where.refuse("stands beside limit", "Keep one of the two")
    full = _full_force(band)
    if full is None:
        raise where.refuse("has no nominal force to start from", "Add force")
    if loss >= ALL_OF_IT:
        raise where.refuse(f"{loss:g} % leaves no force", 'Write it like "10 %"')
    return full * (1.0 - loss / ALL_OF_IT)


def _full_force(band: Limit) -> float | None:
    """Find the force that a loss is taken off: one limit alone gives none.

    Unlike `drawn.middle`, which stands in where any figure of a new spring will do:
    from a one-sided limit a loss would reject or accept on a guess.
    """
    if band.nominal is not None:
        return band.nominal
    if band.minimum is None or band.maximum is None:
        return None
    return (band.minimum + band.maximum) / 2.0


def _upper_worn(sheet: Sheet, section: str) -> Limit | None:
    """Read squareness: the most allowed, in the unit the manual gives it in."""
    values = sheet.values.get(section)
    if values is None:
        return None
    new, worn = values.get("max"), values.get("limit")
    deciding = worn or new
    if deciding is None:
        return None
    if new and new.dimension is not deciding.dimension:
        raise sheet.where(section, "limit").refuse(
            f'"{deciding.text}" and max "{new.text}" are of different kinds',
            "Give both as lengths or both as angles; the other may stand in brackets",
        )
    if new and new.value > deciding.value:
        raise sheet.where(section, "limit").refuse(
            f'"{deciding.text}" lies below max "{new.text}"',
            "A wear limit of squareness is the larger one; correct one of the two",
        )
    return Limit(
        unit=deciding.unit,
        maximum=deciding.value,
        as_given=_as_given(values),
        new_maximum=new.value if worn and new else None,
    )


def _band(sheet: Sheet, section: str) -> Limit | None:
    """Read nominal (or force), min, max and tolerance into one band."""
    values = sheet.values.get(section)
    if values is None:
        return None
    nominal = values.get("nominal") or values.get("force")
    low, high = _edges(sheet, section, nominal)
    if low is not None and high is not None and low > high:
        raise sheet.where(section).refuse(
            f"has min {low:g} {_unit(values)} above max {high:g} {_unit(values)}",
            "Exchange them or correct one of the two",
        )
    return Limit(
        unit=_unit(values),
        minimum=low,
        maximum=high,
        nominal=nominal.value if nominal else None,
        as_given=_as_given(values),
    )


def _edges(
    sheet: Sheet, section: str, nominal: Given | None
) -> tuple[float | None, float | None]:
    low, high = sheet.number(section, "min"), sheet.number(section, "max")
    tolerance = sheet.find(section, "tolerance")
    if tolerance is None:
        return low, high
    where = sheet.where(section, "tolerance")
    if nominal is None:
        raise where.refuse(
            "has no nominal value to start from", "Add the nominal value"
        )
    if low is not None or high is not None:
        raise where.refuse("stands beside min or max", "Keep one way of saying it")
    share = tolerance.dimension is Dimension.SHARE
    width = nominal.value * tolerance.value / 100.0 if share else tolerance.value
    if width >= nominal.value:
        raise where.refuse(
            f'"{tolerance.text}" is not less than "{nominal.text}" itself',
            "Correct one of the two",
        )
    return nominal.value - width, nominal.value + width


def _unit(values: Values) -> str:
    """Find the base unit of a band: the unit of anything in it that is no share."""
    limits = {key: given for key, given in values.items() if key not in DESCRIBES}
    units = [given.unit for given in (limits or values).values()]
    return next((unit for unit in units if unit != "%"), "%")


def _as_given(values: Values) -> str:
    return ", ".join(
        f"{key} {given.text}" for key, given in values.items() if key not in DESCRIBES
    )
