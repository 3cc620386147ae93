"""Values read by hand: caliper, square and feeler, spring tester; singly or from CSV.

A table has the columns ``place_or_position, instrument, value, set_height,
expanded_uncertainty``; the units stand in the values. Where no uncertainty is entered a
customary one stands in, and every such value says so.
"""

import csv
import io
from collections.abc import Iterator, Mapping
from pathlib import Path
from types import MappingProxyType

from calib.errors import SpecError
from calib.quantity import COVERAGE_FACTOR, Influence, Quantity
from vision.inspection.places import find_position
from vision.inspection.units import Dimension, Given, Where, read_given
from vision.records.judged import Instrument, Reading
from vision.records.kept import Place

COLUMNS = (
    "place_or_position",
    "instrument",
    "value",
    "set_height",
    "expanded_uncertainty",
)
NEEDED = COLUMNS[:3]
MOST_BYTES = 2_000_000
TYPED = "the reading"  # what a message names where no file is read
KEYS = {instrument.key: instrument for instrument in Instrument}
FORCES = frozenset({Instrument.CLOSED_FORCE, Instrument.OPEN_FORCE})
CUSTOMARY = MappingProxyType(
    {
        Instrument.CALIPER_HEIGHT: 0.1,
        Instrument.SQUARE_GAP: 0.1,
        Instrument.SOLID_HEIGHT: 0.15,
        Instrument.INSTALLED_HEIGHT: 0.15,
        Instrument.CALIPER_OUTSIDE: 0.06,
        Instrument.CALIPER_WIRE: 0.03,
    }
)
"""U in mm, k = 2, for a spring that gives way under the jaws (common practice)."""
CUSTOMARY_FORCE_SHARE = 0.02  # of the force; common practice for bench testers


def parse_reading(
    instrument: str,
    value: str,
    set_height: str = "",
    expanded_uncertainty: str = "",
    *,
    where: Where | None = None,
) -> Reading:
    """Read one value with its unit, like 'closed_force', '291 N', '38.9 mm', '4 N'."""
    tool = KEYS.get(instrument.strip().lower())
    if tool is None:
        unknown = where or Where(file=TYPED, key="")
        raise unknown.refuse(
            f'"{instrument}" is no instrument', f"Known are {', '.join(KEYS)}"
        )
    place = where or Where(file=TYPED, key=tool.key)
    dimension = Dimension.FORCE if tool in FORCES else Dimension.LENGTH
    given = read_given(value.strip(), (dimension,), place)
    if given.value <= 0.0 and tool is not Instrument.SQUARE_GAP:
        raise place.refuse(f'= "{value}" is zero', "Give what the instrument showed")
    height = _set_height(tool, set_height.strip(), place)
    known = _entered(expanded_uncertainty.strip(), given, place)
    return Reading(
        instrument=tool,
        value=given.value,
        unit=tool.unit,
        expanded_uncertainty=_customary(tool, given.value) if known is None else known,
        set_height_mm=height,
        assumed=known is None,
    )


def read_readings(
    path: Path, places: Mapping[int, Place], count: int
) -> dict[int, tuple[Reading, ...]]:
    """Read a table of readings by position; raise SpecError with the line.

    ``count`` is the number of springs in the row.
    """
    found: dict[int, list[Reading]] = {}
    for number, line in _lines(path):
        where = Where(file=str(path), key=f"line {number}")
        position = _position(line["place_or_position"], places, count, where)
        found.setdefault(position, []).append(
            parse_reading(
                line["instrument"],
                line["value"],
                line.get("set_height") or "",
                line.get("expanded_uncertainty") or "",
                where=where,
            )
        )
    if not found:
        raise SpecError(
            str(path), "it holds no readings", "Add a line below the header"
        )
    return {position: tuple(found[position]) for position in sorted(found)}


def reading_quantity(reading: Reading, position: int) -> Quantity:
    """Make a quantity of a reading; readings are independent of each other."""
    tool = reading.instrument
    part = Influence(
        source=f"{tool.key} of spring {position}",
        label=f"{tool.text}, hand-entered",
        u=reading.expanded_uncertainty / COVERAGE_FACTOR,
    )
    return Quantity(value=reading.value, unit=reading.unit, influences=(part,))


def last_reading(
    readings: tuple[Reading, ...], instrument: Instrument
) -> Reading | None:
    """Find the last value of an instrument: a later entry stands for a second look."""
    return next(
        (each for each in reversed(readings) if each.instrument is instrument), None
    )


def _lines(path: Path) -> Iterator[tuple[int, dict[str, str]]]:
    text = _text(path)
    first = text.partition("\n")[0]
    rows = csv.reader(
        io.StringIO(text, newline=""),
        delimiter=";" if first.count(";") > first.count(",") else ",",
        strict=True,
    )
    try:
        yield from _checked(rows, str(path))
    except csv.Error as fault:
        raise SpecError(
            str(path), f"it is not a table: {fault}", "Save it as CSV in UTF-8"
        ) from None


def _checked(
    rows: Iterator[list[str]], file: str
) -> Iterator[tuple[int, dict[str, str]]]:
    header = [name.strip().lower() for name in next(rows, [])]
    wrong = [name for name in header if name not in COLUMNS]
    missing = [name for name in NEEDED if name not in header]
    if wrong or missing:
        fault = f'has no column "{missing[0]}"' if missing else f'has "{wrong[0]}"'
        raise SpecError(
            file, f"line 1 {fault}", f"The columns are {', '.join(COLUMNS)}"
        )
    for number, row in enumerate(rows, start=2):
        if not any(cell.strip() for cell in row):
            continue
        if len(row) != len(header):
            raise SpecError(
                file,
                f"line {number} has {len(row)} cells, the header {len(header)}",
                "Give each column one cell; quote a cell that holds the separator",
            )
        yield number, dict(zip(header, row, strict=True))


def _text(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except OSError as fault:
        reason = (fault.strerror or "it cannot be read").lower()
        raise SpecError(str(path), reason, "Give the path of a CSV") from None
    if len(raw) > MOST_BYTES:
        raise SpecError(str(path), f"it has more than {MOST_BYTES} bytes", "Split it")
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SpecError(
            str(path), "it is not text in UTF-8", "Save it as CSV in UTF-8"
        ) from None


def _position(word: str, places: Mapping[int, Place], count: int, where: Where) -> int:
    try:
        position = find_position(word, places)
    except SpecError as fault:
        raise where.refuse(f'"{word}": {fault.fault}', fault.remedy) from None
    if not 1 <= position <= count:
        raise where.refuse(
            f'"{word}": the row has {count} springs', "Give a position of the row"
        )
    return position


def _set_height(tool: Instrument, text: str, where: Where) -> float | None:
    if tool in FORCES:
        if not text:
            raise where.refuse(
                "is a force without set_height",
                'Give the height set on the tester (--at), like "38.9 mm"',
            )
        height = read_given(text, (Dimension.LENGTH,), where).value
        if height <= 0.0:
            raise where.refuse(f'set_height = "{text}" is zero', "Give the height")
        return height
    if text:
        raise where.refuse(
            f"has a set_height at {tool.key}", "Only a force is read at a set height"
        )
    return None


def _entered(text: str, given: Given, where: Where) -> float | None:
    """Read U as entered, in the unit of the value or per cent of it."""
    if not text:
        return None
    known = read_given(text, (given.dimension, Dimension.SHARE), where)
    share = known.dimension is Dimension.SHARE
    expanded = known.value * given.value / 100.0 if share else known.value
    if not 0.0 < expanded < max(given.value, 1.0):
        raise where.refuse(
            f'expanded_uncertainty = "{text}" does not fit the value "{given.text}"',
            "Give the instrument's own, above zero and below the value",
        )
    return expanded


def _customary(tool: Instrument, value: float) -> float:
    return CUSTOMARY.get(tool, CUSTOMARY_FORCE_SHARE * value)
