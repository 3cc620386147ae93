"""Whatever is altered behind the archive's back, ``verify`` finds it."""

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest

from tests.shelving import NOON, make_version, new_archive
from vision.archive import shelf
from vision.archive.check import Extent, measure_extent, verify
from vision.archive.files import picture_path
from vision.archive.opening import Archive
from vision.records.kept import Doubt, Role


def _kept(folder: Path) -> Archive:
    """Two inspections, the first with a second version."""
    archive = new_archive(folder)
    shelf.add(archive, make_version(3), added_at=NOON)
    shelf.add(archive, make_version(2, job="head 13", day=1), added_at=NOON)
    base = shelf.load(archive, 1)
    again = replace(make_version(3), pictures=())
    shelf.follow(archive, base, again, added_at=NOON)
    return archive


def _alter(archive: Archive, *statements: str) -> None:
    """Change the database as only a foreign program would."""
    connection = sqlite3.connect(archive.database)
    names = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    for (name,) in connection.execute(names).fetchall():
        connection.execute(f"DROP TRIGGER {name}")
    for statement in statements:
        assert connection.execute(statement).rowcount > 0
    connection.commit()
    connection.close()


def _faults(archive: Archive) -> list[Doubt]:
    return [doubt for doubt in verify(archive) if not doubt.harmless]


def test_a_sound_archive_gives_no_doubt(archive: Archive) -> None:
    """Neither fault nor warning."""
    shelf.add(archive, make_version(8), added_at=NOON)

    assert list(verify(archive)) == []


def test_the_extent_counts_each_picture_once(tmp_path: Path) -> None:
    """Versions that show the same picture do not count it twice."""
    archive = _kept(tmp_path)

    pictures = [*make_version(3).pictures, *make_version(2, job="head 13").pictures]
    size = sum(len(one.content) for one in pictures)
    assert measure_extent(archive) == Extent(
        inspections=2, versions=3, springs=8, pictures=4, picture_bytes=size
    )


@pytest.mark.parametrize("role", [Role.ROW, Role.OVERLAY])
def test_one_altered_byte_of_a_picture_is_found(tmp_path: Path, role: Role) -> None:
    """The file is named with what it was; the rest is sound."""
    archive = _kept(tmp_path)
    picture = next(one for one in shelf.load(archive, 1).pictures if one.role is role)
    path = picture_path(archive.folder, picture)
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)

    (doubt,) = _faults(archive)

    assert doubt.where == str(path)
    assert f"was altered since it was kept as {picture.name!r}" in doubt.what
    assert "backup" in doubt.remedy


def test_a_missing_picture_is_found(tmp_path: Path) -> None:
    """Two versions that need it make one doubt."""
    archive = _kept(tmp_path)
    picture = shelf.load(archive, 1).pictures[0]
    picture_path(archive.folder, picture).unlink()

    (doubt,) = _faults(archive)

    assert "is missing; it was 'row.png'" in doubt.what


def test_files_that_nothing_needs_are_warned_of(tmp_path: Path) -> None:
    """An interrupted addition leaves a picture or a part of one; that is harmless."""
    archive = _kept(tmp_path)
    stray = [
        tmp_path / "originals" / "ab" / ("ab" * 32),
        tmp_path / "originals" / "ab" / "part-0011223344556677",
        tmp_path / "overlays" / "00" / "notes.txt",
    ]
    for path in stray:
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"x")

    doubts = list(verify(archive))

    assert all(doubt.harmless for doubt in doubts)
    assert {doubt.where for doubt in doubts} == {str(path) for path in stray}
    assert [doubt.what for doubt in doubts].count("was not finished") == 1


def test_a_picture_on_the_wrong_shelf_is_a_stray(tmp_path: Path) -> None:
    """An original among the overlays is not what the archive refers to."""
    archive = _kept(tmp_path)
    original = picture_path(archive.folder, shelf.load(archive, 1).pictures[0])
    copy = tmp_path / "overlays" / original.parent.name / original.name
    copy.parent.mkdir(exist_ok=True)
    copy.write_bytes(original.read_bytes())

    assert [doubt.where for doubt in verify(archive)] == [str(copy)]


@pytest.mark.parametrize(
    ("statement", "where", "what"),
    [
        ("UPDATE payload SET text = replace(text, '48.12', '48.21')", "1.1", "altered"),
        (
            "UPDATE payload SET text = CAST(x'ff' AS TEXT)",
            "2.1",
            "UTF-8",
        ),
        ("UPDATE entry SET engine = 'other' WHERE number = 2", "2.1", "another engine"),
        ("UPDATE entry SET rejected = 0 WHERE number = 2", "2.1", "another rejected"),
        (
            "UPDATE spring SET outcome = 'ACCEPT' WHERE position = 2 AND entry_id = 2",
            "2.1",
            "other spring rows",
        ),
        (
            "UPDATE spring SET free_height_mm = 48 WHERE position = 1 AND entry_id = 2",
            "2.1",
            "other spring rows",
        ),
        ("DELETE FROM hand WHERE entry_id = 2 AND ordinal = 3", "2.1", "other hand"),
        (
            "DELETE FROM picture WHERE entry_id = 2 AND role = 'ROW'",
            "2.1",
            "other photos",
        ),
        ("UPDATE entry SET version = 3 WHERE version = 2", "1.3", "does not follow"),
        (
            "UPDATE entry SET previous_id = 2 WHERE version = 2",
            "1.2",
            "does not follow",
        ),
    ],
)
def test_altered_rows_are_found(
    tmp_path: Path, statement: str, where: str, what: str
) -> None:
    """The version is named, and what about it no longer agrees."""
    archive = _kept(tmp_path)
    _alter(archive, statement)

    faults = _faults(archive)

    named = [doubt for doubt in faults if doubt.where.endswith(f"inspection {where}")]
    assert [doubt for doubt in named if what in doubt.what], faults


def test_lost_rows_are_found(tmp_path: Path) -> None:
    """A version whose payload is gone is a broken reference."""
    archive = _kept(tmp_path)
    _alter(archive, "DELETE FROM payload")

    (first, *_) = _faults(archive)

    assert "refers to no row of payload" in first.what


def test_a_damaged_page_is_found(tmp_path: Path) -> None:
    """Bytes overwritten inside the database file do not pass."""
    archive = _kept(tmp_path)
    content = bytearray(archive.database.read_bytes())
    at = content.rfind(b"cylinder 2 intake")
    page = at // 4096 * 4096
    content[page : page + 64] = b"\xff" * 64
    archive.database.write_bytes(content)

    faults = _faults(archive)

    assert faults
    assert all("backup" in doubt.remedy for doubt in faults)
