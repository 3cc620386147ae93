"""A parcel stands alone: pictures, record and sums, whole or not at all."""

import subprocess
from dataclasses import replace
from pathlib import Path

import pytest

from calib.errors import ArchiveError, OutputError
from tests.shelving import NOON, make_version, new_archive
from vision.archive import shelf
from vision.archive.files import picture_path
from vision.archive.format import read_payloads
from vision.archive.parcel import write_parcel
from vision.records.kept import Picture, Role


def test_a_parcel_holds_everything(tmp_path: Path) -> None:
    """The pictures have their names, and the record reads back."""
    archive = new_archive(tmp_path / "archive")
    version = make_version()
    shelf.add(archive, version, added_at=NOON)
    folder = tmp_path / "out" / "1"

    write_parcel(archive, shelf.load(archive, 1), folder, {"values.csv": b"a,b\r\n"})

    assert (folder / "row.png").read_bytes() == version.pictures[0].content
    texts = [(folder / name).read_text() for name in ("measured.json", "judged.json")]
    inspection, _given = read_payloads(*texts)
    assert inspection.verdicts == version.inspection.verdicts
    sums = subprocess.run(
        ["sha256sum", "--check", "--strict", "SHA256SUMS"], cwd=folder, check=False
    )
    assert sums.returncode == 0
    listed = (folder / "SHA256SUMS").read_text().split()[1::2]
    assert {*listed, "SHA256SUMS"} == {path.name for path in folder.iterdir()}


def test_names_that_lead_elsewhere_stay_inside(tmp_path: Path) -> None:
    """A picture's name is only a name, and two of the same name are both there."""
    archive = new_archive(tmp_path / "archive")
    version = make_version()
    pictures = (
        replace(version.pictures[0], name="../../row:1.png"),
        Picture(role=Role.REFERENCE, name="row_1.png", content=b"reference"),
        Picture(role=Role.OVERLAY, name="..", content=b"drawn"),
    )
    shelf.add(archive, replace(version, pictures=pictures), added_at=NOON)

    write_parcel(archive, shelf.load(archive, 1), tmp_path / "out", {})

    names = {path.name for path in (tmp_path / "out").iterdir()}
    assert {"row_1.png", "reference row_1.png", "overlay"} <= names
    assert {path.name for path in tmp_path.iterdir()} == {"archive", "out"}


def test_nothing_is_overwritten(tmp_path: Path) -> None:
    """A folder that is there is left as it is."""
    archive = new_archive(tmp_path / "archive")
    shelf.add(archive, make_version(), added_at=NOON)
    (tmp_path / "out").mkdir()

    with pytest.raises(OutputError, match="stands there already"):
        write_parcel(archive, shelf.load(archive, 1), tmp_path / "out", {})

    assert list((tmp_path / "out").iterdir()) == []


def test_an_altered_picture_is_not_passed_on(tmp_path: Path) -> None:
    """No parcel comes of an archive that is not sound, not even half of one."""
    archive = new_archive(tmp_path / "archive")
    shelf.add(archive, make_version(), added_at=NOON)
    kept = shelf.load(archive, 1)
    picture_path(archive.folder, kept.pictures[0]).write_bytes(b"?")

    with pytest.raises(ArchiveError, match="was altered"):
        write_parcel(archive, kept, tmp_path / "out", {})

    assert [path.name for path in tmp_path.iterdir()] == ["archive"]
