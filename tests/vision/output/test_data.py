"""JSON and CSV of an inspection, against the table of keys."""

import csv
import json
import re
from dataclasses import replace
from io import StringIO
from pathlib import Path
from typing import Any

import pytest

from calib.errors import OutputError
from calib.quantity import Quantity
from tests.factories import make_inspection, make_measurement
from vision.output.data import save_csv, save_json, to_csv, to_json
from vision.output.keys import COLUMNS, KEYS, QUANTITY_KEYS
from vision.records.judged import (
    Decision,
    Instrument,
    Limit,
    Outcome,
    Reading,
    Requirement,
)
from vision.records.kept import Inspection, Job
from vision.records.measured import Characteristic

MEASURED = {
    "free_height_mm",
    "lean_deg",
    "squareness_mm",
    "outside_diameter_mm",
    "wire_diameter_mm",
    "total_coils",
}


def bare(inspection: Inspection) -> Inspection:
    return replace(
        inspection,
        specification=None,
        places={},
        findings={},
        readings={},
        verdicts=(),
        sets=(),
    )


def paths(data: Any, at: str = "") -> set[str]:
    """Every path to a leaf or list, with measured values as one leaf."""
    if isinstance(data, dict) and "coverage_factor" not in data:
        return {
            found
            for key, value in data.items()
            for found in paths(value, f"{at}.{key}" if at else key)
        }
    if isinstance(data, list):
        return {found for value in data for found in paths(value, f"{at}[]")}
    return {at}


def with_every_key(inspection: Inspection) -> Inspection:
    """Judge the first spring for lengths, angles and forces with both limits."""
    value = inspection.row.springs[0].values[Characteristic.LEAN]  # type: ignore[union-attr]
    decisions = tuple(
        Decision(
            requirement=Requirement.SQUARENESS,
            outcome=Outcome.REJECT,
            value=Quantity(value=1.0, unit=unit, influences=value.influences),
            limit=Limit(unit=unit, minimum=0.5, maximum=2.0, as_given="2"),
            why="",
            action="",
        )
        for unit in ("mm", "deg", "N", "N/mm")
    )
    first, *others = inspection.verdicts
    calibration = replace(inspection.row.calibration, remarks=("target is small",))
    groups = tuple(
        replace(group, doubtful=group.positions) for group in inspection.sets[0].groups
    )
    return replace(
        inspection,
        verdicts=(replace(first, decisions=decisions, due=("load",)), *others),
        row=replace(inspection.row, calibration=calibration),
        sets=(replace(inspection.sets[0], groups=groups),),
    )


def test_every_key_is_explained() -> None:
    """Each path in the file stands in the table, and the table has no other."""
    found = paths(json.loads(to_json(with_every_key(make_inspection()))))

    containers = {
        "specification",
        "specification.kinds[].free_height",
        "specification.kinds[].closed",
        "specification.kinds[].open",
        "specification.kinds[].pair_closed",
        "specification.kinds[].pair_open",
        "springs[].findings",
        "springs[].verdict",
    }
    assert found <= set(KEYS)
    assert set(KEYS) - found <= containers


def test_keys_of_a_bare_row_are_explained() -> None:
    """Without a specification the same keys stand, as null or empty lists."""
    data = json.loads(to_json(bare(make_inspection())))

    assert paths(data) <= set(KEYS)
    assert data["specification"] is None
    assert all(spring["verdict"] is None for spring in data["springs"])


def test_agreed_shape() -> None:
    """Format 1: the keys that other programs were promised."""
    data = json.loads(to_json(make_inspection()))

    first = data["springs"][0]
    assert data["format"] == 1
    assert {"springs", "set", "warnings"} <= set(data)
    assert set(first) >= MEASURED | {"position", "verdict"}
    assert set(first["free_height_mm"]) == {
        "value",
        "expanded_uncertainty",
        "coverage_factor",
    }
    assert first["free_height_mm"]["coverage_factor"] == 2
    assert data["springs"][4]["position"] == 5
    assert data["springs"][4]["unmeasured"] == "touches its neighbour"


def test_values_are_not_rounded() -> None:
    """The file gives the very numbers that the verdicts rest on."""
    inspection = make_inspection()
    value = make_measurement(1).values[Characteristic.FREE_HEIGHT]

    read = json.loads(to_json(inspection))["springs"][0]["free_height_mm"]

    assert read["value"] == value.value
    assert read["expanded_uncertainty"] == value.expanded


def test_influences_come_when_asked_for() -> None:
    """Each value's budget has explained keys and shares that sum to 1."""
    data = json.loads(to_json(make_inspection(), influences=True))

    height = data["springs"][0]["free_height_mm"]
    assert sum(part["share"] for part in height["influences"]) == pytest.approx(1)
    assert "influences" not in json.loads(to_json(make_inspection()))["springs"][0]
    named = {key.removeprefix("influences[].") for key in QUANTITY_KEYS}
    assert set(height["influences"][0]) <= named
    assert set(height) <= named


def test_what_is_not_finite_is_null() -> None:
    """JSON has no infinity; the file stays readable for every reader."""
    inspection = make_inspection(count=2)
    measured = make_measurement(1)
    endless = Quantity(value=float("inf"), unit="mm", influences=())
    values = measured.values | {Characteristic.FREE_HEIGHT: endless}
    row = replace(inspection.row, springs=(replace(measured, values=values),))

    data = json.loads(to_json(replace(inspection, row=row)), parse_constant=pytest.fail)

    assert data["springs"][0]["free_height_mm"]["value"] is None


def test_csv_has_the_explained_columns() -> None:
    """One line a spring; the columns of the table in its order."""
    lines = list(csv.reader(StringIO(to_csv(make_inspection()))))

    assert lines[0] == list(COLUMNS)
    assert len(lines) == 9
    assert {len(line) for line in lines} == {len(COLUMNS)}


def test_csv_columns_cover_all_that_is_measured_and_read() -> None:
    """Each characteristic, instrument and compared force has its two columns."""
    inspection = make_inspection()
    readings = tuple(
        Reading(instrument=each, value=1.5, unit=each.unit, expanded_uncertainty=0.1)
        for each in Instrument
    )

    line = next(
        csv.DictReader(StringIO(to_csv(replace(inspection, readings={1: readings}))))
    )

    numbers = {name for name, cell in line.items() if re.fullmatch(r"-?[\d.]+", cell)}
    assert len(numbers) == 2 * (len(Characteristic) + len(Instrument) + 1) + 2
    assert line["set_closed_force_apart_percent"] == "12.5"
    assert line["free_height_mm"] == "48.12"
    assert line["hand_closed_force_N"] == "1.5"


def test_csv_of_a_bare_row_has_empty_cells() -> None:
    """Nothing judged, nothing made up."""
    lines = list(csv.DictReader(StringIO(to_csv(bare(make_inspection())))))

    assert {line["verdict"] for line in lines} == {""}
    assert lines[4]["unmeasured"].startswith("touches its neighbour")


def test_a_spreadsheet_runs_no_text_as_formula() -> None:
    """Text that begins like a formula is kept as text."""
    inspection = make_inspection(count=2)
    hostile = replace(inspection.places[1], word='=HYPERLINK("x")')

    text = to_csv(replace(inspection, places={1: hostile}))

    assert next(csv.DictReader(StringIO(text)))["place"] == '\'=HYPERLINK("x")'


def test_hostile_names_survive_the_file(tmp_path: Path) -> None:
    """Any text that a job can be given comes back unchanged."""
    name = '<script>"\u202eרכב\x00' + "x" * 200
    inspection = make_inspection(count=2)
    job: Job = replace(inspection.job, name=name)

    save_json(tmp_path / "out.json", replace(inspection, job=job))

    text = (tmp_path / "out.json").read_text(encoding="utf-8")
    assert json.loads(text)["job"]["name"] == name


def test_a_file_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    """The message names the file and says what to do; nothing is left behind."""
    missing = tmp_path / "no-such-folder" / "out.csv"

    with pytest.raises(OutputError, match=r"no-such-folder/out.csv: cannot be written"):
        save_csv(missing, make_inspection(count=2))
    assert list(tmp_path.iterdir()) == []


def test_a_folder_in_the_way_stays(tmp_path: Path) -> None:
    """A folder of that name is not replaced by a file."""
    (tmp_path / "out.json").mkdir()

    with pytest.raises(OutputError, match="it is a folder"):
        save_json(tmp_path / "out.json", make_inspection(count=2))
    assert [entry.name for entry in tmp_path.iterdir()] == ["out.json"]


def test_a_failed_write_leaves_the_old_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the disk is full, what stood there before still stands, and no half file."""
    target = tmp_path / "out.json"
    target.write_text("old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)

    with pytest.raises(OutputError, match="No space left on device"):
        save_json(target, make_inspection(count=2))
    assert target.read_text() == "old"
    assert [entry.name for entry in tmp_path.iterdir()] == ["out.json"]


def test_csv_file_opens_as_utf8_in_a_spreadsheet(tmp_path: Path) -> None:
    """The file begins with the byte order mark and ends lines as RFC 4180 says."""
    save_csv(tmp_path / "out.csv", make_inspection(count=2))

    content = (tmp_path / "out.csv").read_bytes()
    assert content.startswith(b"\xef\xbb\xbfposition,")
    assert content.count(b"\r\n") == 3
