"""Read a service specification: a TOML file with the units in the values.

Sections and keys stand in schema.py. A section at the top holds for every kind of
spring; under ``[intake]``, ``[exhaust]``, ``[inner]``, ``[outer]`` or
``[exhaust.outer]`` it holds for that kind and replaces the common one wholly.
"""

import hashlib
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from calib.errors import SpecError
from vision.inspection.bands import Sheet, build_requirements
from vision.inspection.doubts import find_doubts
from vision.inspection.materials import MATERIALS
from vision.inspection.schema import (
    ASKING,
    COILS,
    SECTIONS,
    VALVES,
    Key,
    Section,
    find_section,
)
from vision.inspection.units import Given, Where, read_given
from vision.records.judged import Requirements, Specification

MOST_BYTES = 262_144  # of a specification file; a real one has about 2,000
MOST_TEXT = 200  # characters of a plain text
SECTION_NAMES = tuple(section.name for section in SECTIONS)

Part = dict[str, dict[str, Given | str]]
"""Values and plain texts by section and key."""


def load_specification(path: Path) -> Specification:
    """Read what is asked of the springs; raise SpecError with file, key and remedy."""
    data, digest = _read_toml(path)
    file = str(path)
    common = _read_sections(data, Spot(file, ()))
    parts = list(_kinds(data, file, common))
    sheets = [_sheet(file, kind, part) for kind, part in parts]
    if not any(ASKING & set(part) for _, part in [("", common), *parts]):
        raise SpecError(
            file, "it asks nothing of a spring", "Add a section such as [free_height]"
        )
    kinds = tuple(build_requirements(sheet) for sheet in sheets)
    head, matching = common.get("specification", {}), _sheet(file, "", common)
    return Specification(
        name=str(head.get("name", path.stem)),
        kinds=kinds,
        spread_max_mm=matching.number("matching", "spread_max"),
        group_width_mm=matching.number("matching", "group_width"),
        doubts=find_doubts(tuple(sheets), matching),
        sha256=digest,
        source=str(head.get("source", "")),
    )


def find_requirements(specification: Specification, kind: str) -> Requirements | None:
    """Find what is asked of a kind: its own section, else the next more general one.

    'exhaust outer' falls back on 'exhaust', then 'outer', then what is common to all.
    None where the file says nothing that fits.
    """
    words = kind.split()
    known = {each.kind: each for each in specification.kinds}
    fallbacks = [kind, *words, ""] if words else [""]
    return next((known[name] for name in fallbacks if name in known), None)


@dataclass(frozen=True, slots=True)
class Spot:
    """Where in the file a table stands: file and the kind's words."""

    file: str
    words: tuple[str, ...]

    def where(self, *names: str) -> Where:
        """Name a section, or a key within it."""
        path = ".".join([*self.words, *names[:1]])
        return Where(file=self.file, key=" ".join([f"[{path}]", *names[1:]]))


def _read_toml(path: Path) -> tuple[dict[str, Any], str]:
    try:
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except OSError as fault:
        reason = (fault.strerror or "it cannot be read").lower()
        raise SpecError(str(path), reason, "Give the path of a SPEC.toml") from None
    if len(raw) > MOST_BYTES:
        raise SpecError(
            str(path), f"it has more than {MOST_BYTES} bytes", "Give a SPEC.toml"
        )
    try:
        data = tomllib.loads(raw.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise SpecError(
            str(path), "it holds no plain text (UTF-8)", "Give a SPEC.toml"
        ) from None
    except (tomllib.TOMLDecodeError, RecursionError) as fault:
        line = str(fault).splitlines()[0]
        raise SpecError(
            str(path), f"it is not TOML: {line}", "Correct the file at that place"
        ) from None
    return data, hashlib.sha256(raw).hexdigest()


def _kinds(
    data: Mapping[str, Any], file: str, common: Part
) -> Iterator[tuple[str, Part]]:
    """Go through the kinds; what is common to all counts as one where it asks."""
    named = [word for word in (*VALVES, *COILS) if word in data]
    shared = {name: part for name, part in common.items() if name != "matching"}
    if "free_height" in shared or (not named and ASKING & set(shared)):
        yield "", shared
    for word in named:
        table = _table(data[word], Spot(file, ()), word)
        own = {**shared, **_read_sections(table, Spot(file, (word,)))}
        inner = [coil for coil in COILS if coil in table] if word in VALVES else []
        if not inner:
            yield word, own
        for coil in inner:
            spot = Spot(file, (word, coil))
            below = _table(table[coil], Spot(file, (word,)), coil)
            yield f"{word} {coil}", {**own, **_read_sections(below, spot)}


def _read_sections(table: Mapping[str, Any], spot: Spot) -> Part:
    """Read the sections of one table; kinds below it are left to the caller."""
    below = {0: (*VALVES, *COILS), 1: COILS}.get(len(spot.words), ())
    if spot.words and spot.words[0] in COILS:
        below = ()
    found = {name: _section(name, spot) for name in table if name not in below}
    return {
        name: _read_section(_table(table[name], spot, name), section, spot)
        for name, section in found.items()
    }


def _section(name: str, spot: Spot) -> Section:
    section = find_section(name)
    if section is None:
        known = (*SECTION_NAMES, *VALVES, *COILS)
        raise spot.where(name).refuse("is not a known section", _meant(name, known))
    if section.common and spot.words:
        raise spot.where(name).refuse(
            "stands under a kind of spring", f"Put [{name}] at the top of the file"
        )
    return section


def _table(value: object, spot: Spot, name: str) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise spot.where(name).refuse(
            f"is given as a value, {name} = {str(value)[:20]}",
            f"Make it a section: a line [{name}] with its keys below",
        )
    return value


def _read_section(
    table: Mapping[str, Any], section: Section, spot: Spot
) -> dict[str, Given | str]:
    if not table:
        raise spot.where(section.name).refuse(
            "is empty", f"Give {' or '.join(key.name for key in section.keys[:3])}"
        )
    values: dict[str, Given | str] = {}
    for name, value in table.items():
        key, where = section.find_key(name), spot.where(section.name, name)
        if key is None:
            names = tuple(known.name for known in section.keys)
            raise where.refuse("is not a known key", _meant(name, names))
        values[name] = _read_value(value, key, where)
    return values


def _read_value(value: object, key: Key, where: Where) -> Given | str:
    if not key.allowed:
        return _read_text(value, where)
    given = read_given(value, key.allowed, where)
    if given.value <= 0.0 and not key.zero:
        raise where.refuse(f'= "{given.text}" is zero', "Give a value above zero")
    return given


def _read_text(value: object, where: Where) -> str:
    if not isinstance(value, str) or not 0 < len(value) <= MOST_TEXT:
        raise where.refuse(
            f"= {str(value)[:20]} is not a short text",
            f"Write up to {MOST_TEXT} characters in quotes",
        )
    if where.key.endswith("material] name") and value not in MATERIALS:
        raise where.refuse(
            f'= "{value}" is not known here', _meant(value, tuple(MATERIALS))
        )
    return value


def _sheet(file: str, kind: str, part: Part) -> Sheet:
    """Part texts from values."""
    values = {
        section: {key: given for key, given in keys.items() if isinstance(given, Given)}
        for section, keys in part.items()
    }
    name = part.get("material", {}).get("name")
    return Sheet(
        file=file,
        kind=kind,
        values={section: keys for section, keys in values.items() if keys},
        material=name if isinstance(name, str) else None,
    )


def _meant(name: str, known: tuple[str, ...]) -> str:
    close = get_close_matches(name, known, n=1)
    if close:
        return f"Did you mean {close[0]}? Known are {', '.join(known)}"
    return f"Known are {', '.join(known)}"
