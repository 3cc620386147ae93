"""Readings by hand: with units, singly or from a table, and clear refusals."""

from pathlib import Path

import pytest

from calib.errors import SpecError
from vision.inspection.hand import (
    CUSTOMARY,
    FORCES,
    parse_reading,
    read_readings,
    reading_quantity,
)
from vision.inspection.places import place_springs
from vision.records.judged import Instrument

HEADER = "place_or_position,instrument,value,set_height,expanded_uncertainty\n"
PLACES = place_springs("1-2IE", 4)


def table(folder: Path, text: str) -> Path:
    """Write a table of readings."""
    path = folder / "readings.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_reads_a_caliper_height() -> None:
    """48.1 mm with U 0.05 mm."""
    reading = parse_reading("caliper_height", "48.1 mm", "", "0.05 mm")

    assert reading.instrument is Instrument.CALIPER_HEIGHT
    assert (reading.value, reading.unit) == (48.1, "mm")
    assert (reading.expanded_uncertainty, reading.assumed) == (0.05, False)


def test_reads_a_force_in_pounds_with_its_height_in_inches() -> None:
    """65 lbf at 1.532 in, U 2 %."""
    reading = parse_reading("closed_force", "65 lbf", "1.532 in", "2 %")

    assert reading.value == pytest.approx(289.134, abs=0.001)
    assert reading.set_height_mm == pytest.approx(38.913, abs=0.001)
    assert reading.expanded_uncertainty == pytest.approx(0.02 * reading.value)


@pytest.mark.parametrize("instrument", list(Instrument))
def test_customary_uncertainty_stands_in_and_is_marked(instrument: Instrument) -> None:
    """Every instrument has one; a reading that uses it says so."""
    force = instrument in FORCES
    reading = parse_reading(
        instrument.key, "30 N" if force else "30 mm", "39 mm" if force else ""
    )

    expected = 0.6 if force else CUSTOMARY[instrument]
    assert reading.assumed
    assert reading.expanded_uncertainty == pytest.approx(expected)


def test_no_gap_at_the_square_is_a_reading() -> None:
    """A spring that stands square reads 0 mm."""
    assert parse_reading("square_gap", "0 mm").value == 0.0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (
            ("calliper", "48 mm"),
            '"calliper" is no instrument. Known are caliper_height',
        ),
        (("caliper_height", "48 kg"), "is not a length"),
        (("caliper_height", "48"), "has no unit"),
        (("caliper_height", "0 mm"), "is zero"),
        (("closed_force", "290 mm", "38.9 mm"), "is not a force"),
        (("closed_force", "290 N"), "closed_force is a force without set_height"),
        (("closed_force", "290 N", "0 mm"), 'set_height = "0 mm" is zero'),
        (("caliper_height", "48 mm", "38.9 mm"), "has a set_height at caliper_height"),
        (("caliper_height", "48 mm", "", "0 mm"), "does not fit the value"),
        (("caliper_height", "48 mm", "", "50 mm"), "does not fit the value"),
        (("caliper_height", "48 mm", "", "1 N"), "is not a length or share"),
    ],
)
def test_refuses_what_is_no_reading(arguments: tuple[str, ...], words: str) -> None:
    """One sentence with the value and the remedy."""
    with pytest.raises(SpecError) as refusal:
        parse_reading(*arguments)

    assert words in str(refusal.value)


def test_reads_a_table_by_place_or_position(tmp_path: Path) -> None:
    """Springs 1 and 3, the second by its place; blank lines are skipped."""
    path = table(
        tmp_path,
        HEADER
        + "1,caliper_height,48.1 mm,,0.05 mm\n\n"
        + "2I,closed_force,291 N,38.9 mm,4 N\n"
        + "1,square_gap,0.4 mm,,\n",
    )

    readings = read_readings(path, PLACES, 4)

    assert list(readings) == [1, 3]
    assert [each.instrument.key for each in readings[1]] == [
        "caliper_height",
        "square_gap",
    ]
    assert readings[3][0].set_height_mm == 38.9


def test_reads_a_table_as_spreadsheets_write_it(tmp_path: Path) -> None:
    """Semicolons, a byte-order mark, other column order, no optional columns."""
    path = table(
        tmp_path, "\ufeffInstrument;Value;Place_or_position\ncaliper_height;48 mm;2\n"
    )

    assert read_readings(path, {}, 4)[2][0].value == 48.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", 'line 1 has no column "place_or_position"'),
        (HEADER, "it holds no readings"),
        ("spring," + HEADER, 'line 1 has "spring". The columns are place_or_position'),
        ("place_or_position,value\n1,48 mm\n", 'line 1 has no column "instrument"'),
        (HEADER + "1,caliper_height,48 mm\n", "line 2 has 3 cells, the header 5"),
        (HEADER + "1,caliper_height,48,1 mm,,\n", "line 2 has 6 cells, the header 5"),
        (HEADER + "1,caliper_height,48 kg,,\n", 'line 2 = "48 kg" is not a length'),
        (HEADER + "\n9,caliper_height,48 mm,,\n", 'line 3 "9": the row has 4 springs'),
        (HEADER + "0,caliper_height,48 mm,,\n", 'line 2 "0": the row has 4 springs'),
        (HEADER + "7I,caliper_height,48 mm,,\n", 'line 2 "7I": no spring of the row'),
        (HEADER + ",caliper_height,48 mm,,\n", 'line 2 "": "" is not a place'),
        (HEADER + '1,"caliper"x,48 mm,,\n', "it is not a table"),
    ],
)
def test_refuses_a_table_with_its_line(tmp_path: Path, text: str, words: str) -> None:
    """The file, the line and the fault are named."""
    with pytest.raises(SpecError) as refusal:
        read_readings(table(tmp_path, text), PLACES, 4)

    assert "readings.csv: " in str(refusal.value)
    assert words in str(refusal.value)


def test_refuses_a_table_that_is_not_there_or_no_text(tmp_path: Path) -> None:
    """No file, and a picture, are said in plain words."""
    picture = tmp_path / "row.jpg"
    picture.write_bytes(b"\xff\xd8\xff\xe0")

    with pytest.raises(SpecError, match="no such file or directory"):
        read_readings(tmp_path / "none.csv", {}, 4)
    with pytest.raises(SpecError, match="it is not text in UTF-8"):
        read_readings(picture, {}, 4)


def test_refuses_a_table_without_end(tmp_path: Path) -> None:
    """Two megabytes are no table of springs."""
    with pytest.raises(SpecError, match="it has more than 2000000 bytes"):
        read_readings(table(tmp_path, "x" * 2_000_001), {}, 4)


def test_reading_becomes_a_quantity_of_its_own_influence() -> None:
    """U of the instrument; two springs' readings are independent."""
    reading = parse_reading("caliper_height", "48.1 mm", "", "0.05 mm")

    first, second = reading_quantity(reading, 1), reading_quantity(reading, 2)

    assert (first.value, first.expanded) == (48.1, 0.05)
    assert first.influences[0].source != second.influences[0].source
    assert "hand-entered" in first.influences[0].label


def test_an_unknown_instrument_is_named_once() -> None:
    """The message says what was typed and what is known."""
    with pytest.raises(SpecError) as caught:
        parse_reading("tester", "291 N", "38.9 mm")

    assert str(caught.value).startswith('the reading: "tester" is no instrument. Known')
