"""Picture files stand whole under their digest, or not at all."""

from pathlib import Path

import pytest

from calib.errors import ArchiveError
from vision.archive import files
from vision.archive.files import (
    keep_picture,
    load_picture,
    picture_path,
    write_new,
    write_once,
)
from vision.records.kept import Picture, Role

PICTURE = Picture(role=Role.ROW, name="row.jpg", content=b"picture bytes" * 100)


def test_the_same_picture_is_kept_once(tmp_path: Path) -> None:
    """Under another name and role it is the same file."""
    first = keep_picture(tmp_path, PICTURE)
    other = Picture(role=Role.TURNED, name="again.jpg", content=PICTURE.content)
    second = keep_picture(tmp_path, other)

    assert first.sha256 == second.sha256
    assert len([path for path in tmp_path.rglob("*") if path.is_file()]) == 1


def test_an_altered_file_is_not_taken_for_the_picture(tmp_path: Path) -> None:
    """Neither reading nor keeping it again passes over the alteration."""
    kept = keep_picture(tmp_path, PICTURE)
    path = picture_path(tmp_path, kept)
    path.write_bytes(path.read_bytes()[:-1] + b"?")

    for work in (
        lambda: load_picture(tmp_path, kept),
        lambda: keep_picture(tmp_path, PICTURE),
    ):
        with pytest.raises(ArchiveError, match="was altered since it was kept"):
            work()


def test_a_missing_file_is_said(tmp_path: Path) -> None:
    """The name it had helps to find it again."""
    kept = keep_picture(tmp_path, PICTURE)
    picture_path(tmp_path, kept).unlink()

    with pytest.raises(ArchiveError, match=r"is missing; it was 'row\.jpg'"):
        load_picture(tmp_path, kept)


def test_a_failed_write_leaves_no_part(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the disk fails at the last moment, nothing half written stays."""

    def fail(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files.os, "fsync", fail)

    with pytest.raises(ArchiveError, match="no room left"):
        keep_picture(tmp_path, PICTURE)

    assert [path for path in tmp_path.rglob("*") if path.is_file()] == []


def test_of_two_first_writers_one_wins(tmp_path: Path) -> None:
    """What stands is not replaced, and no part stays."""
    write_once(tmp_path / "settings", b"first")
    write_once(tmp_path / "settings", b"second")

    assert [path.name for path in tmp_path.iterdir()] == ["settings"]
    assert (tmp_path / "settings").read_bytes() == b"first"


def test_a_disk_without_hard_links_will_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A memory stick has no links; the first writer still wins."""

    def fail(_source: Path, _target: Path) -> None:
        raise OSError(95, "Operation not supported")

    monkeypatch.setattr(files.os, "link", fail)
    write_once(tmp_path / "settings", b"first")
    write_once(tmp_path / "settings", b"second")

    assert [path.name for path in tmp_path.iterdir()] == ["settings"]
    assert (tmp_path / "settings").read_bytes() == b"first"


def test_files_take_the_usual_rights(tmp_path: Path) -> None:
    """A kept picture is as readable as any other new file."""
    write_new(tmp_path / "a" / "b" / "kept", b"x")
    (tmp_path / "usual").write_bytes(b"x")

    rights = [(tmp_path / name).stat().st_mode for name in ("a/b/kept", "usual")]
    assert rights[0] == rights[1]
