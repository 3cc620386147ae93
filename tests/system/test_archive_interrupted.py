"""Killed, crowded, full or locked: an archive keeps all that it had."""

import os
import resource
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from random import Random

import pytest
from sqlalchemy import event

from calib.errors import ArchiveError
from tests.shelving import NOON, make_version, new_archive
from vision.archive import shelf
from vision.archive.check import measure_extent, verify
from vision.archive.opening import open_archive
from vision.archive.search import Wanted, list_entries

KILLS = 20
LATEST_S = 0.4  # an addition takes some 0.03 s

pytestmark = pytest.mark.skipif(
    sys.platform == "win32", reason="processes are forked, killed and limited here"
)


def _forked(work: Callable[[int], None]) -> tuple[int, int]:
    """Run work(pipe) in a process of its own; give its id and the pipe's other end."""
    reader, writer = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(reader)
            work(writer)
        finally:
            os._exit(0)
    os.close(writer)
    return child, reader


def _all_of(reader: int) -> bytes:
    with os.fdopen(reader, "rb") as pipe:
        return pipe.read()


def _add_and_tell(folder: Path, pipe: int, *, first: int, count: int) -> None:
    """Add inspections and name each one in the pipe as soon as it is kept."""
    for index in range(first, first + count):
        archive = new_archive(folder)
        version = make_version(3, job=f"job {index}", day=index)
        handle = shelf.add(archive, version, added_at=NOON)
        os.write(pipe, f"{handle.number} job {index}\n".encode())


def _told(text: bytes) -> set[tuple[int, str]]:
    lines = text.decode().splitlines()
    return {(int(line.split()[0]), line.split(" ", 1)[1]) for line in lines}


def _kept(folder: Path) -> set[tuple[int, str]]:
    entries = list_entries(open_archive(folder), Wanted())
    return {(entry.handle.number, entry.job) for entry in entries}


@pytest.mark.slow
def test_a_killed_process_leaves_whole_inspections(tmp_path: Path) -> None:
    """After each of twenty kills everything that was reported kept is there."""
    folder = tmp_path / "archive"
    moments = Random(20260314)
    make_version(3)  # so that the pictures are painted before the clock runs
    told: set[tuple[int, str]] = set()
    for kill in range(KILLS):
        child, reader = _forked(
            lambda pipe, first=1000 * kill: _add_and_tell(
                folder, pipe, first=first, count=900
            )
        )
        time.sleep(moments.uniform(0.0, LATEST_S))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        told |= _told(_all_of(reader))

        if _is_begun(folder):
            archive = open_archive(folder)
            assert [doubt for doubt in verify(archive) if not doubt.harmless] == []
            kept = _kept(folder)
            assert told <= kept
            assert len(kept) - len(told) <= kill + 1  # kept, killed before it was told
        else:
            assert not told

    assert len(told) >= KILLS // 2
    again = shelf.add(new_archive(folder), make_version(job="after"), added_at=NOON)
    assert again.number == len(_kept(folder))


def _is_begun(folder: Path) -> bool:
    """Tell whether a kill came after the archive itself was made."""
    try:
        open_archive(folder)
    except ArchiveError:
        return False
    return True


def test_two_writers_at_once_do_not_spoil_it(tmp_path: Path) -> None:
    """Both begin with the making of the archive; each number is given once."""
    folder = tmp_path / "archive"

    writers = [
        _forked(
            lambda pipe, first=first: _add_and_tell(folder, pipe, first=first, count=10)
        )
        for first in (0, 100)
    ]
    told = [_told(_all_of(reader)) for _child, reader in writers]
    for child, _reader in writers:
        os.waitpid(child, 0)

    assert [len(one) for one in told] == [10, 10]
    assert _kept(folder) == told[0] | told[1]
    assert sorted(number for number, _job in _kept(folder)) == list(range(1, 21))
    assert list(verify(open_archive(folder))) == []


@pytest.mark.parametrize("room_bytes", [10_000, 60_000, 150_000, 200_000])
def test_a_full_disk_costs_nothing(tmp_path: Path, room_bytes: int) -> None:
    """With too little room for picture or database, nothing is added or lost."""
    folder = tmp_path / "archive"
    shelf.add(new_archive(folder), make_version(), added_at=NOON)

    def add_with_little_room(pipe: int) -> None:
        resource.setrlimit(resource.RLIMIT_FSIZE, (room_bytes, room_bytes))
        version = make_version(8, job="too much", day=1)
        try:
            shelf.add(open_archive(folder), version, added_at=NOON)
        except ArchiveError as error:
            os.write(pipe, str(error).encode())

    child, reader = _forked(add_with_little_room)
    words = _all_of(reader).decode()
    os.waitpid(child, 0)

    kept = _kept(folder)
    assert [doubt for doubt in verify(open_archive(folder)) if not doubt.harmless] == []
    assert (1, "head 12") in kept
    assert (len(kept) == 1) == (words != "")
    if words:
        assert "nothing was added" in words
        assert " room " in words
    assert room_bytes == 200_000 or words


def test_a_database_without_room_says_so(tmp_path: Path) -> None:
    """SQLite's own word for a full disk becomes ours."""
    archive = new_archive(tmp_path / "archive")
    shelf.add(archive, make_version(), added_at=NOON)
    pages = archive.database.stat().st_size // 4096
    few = f"PRAGMA max_page_count = {pages + 2}"
    event.listen(archive.engine, "connect", lambda one, _: one.execute(few))

    with pytest.raises(ArchiveError, match=r"inspections\.sqlite: finds no room left"):
        shelf.add(archive, make_version(8, job="too much"), added_at=NOON)

    assert measure_extent(open_archive(archive.folder)).inspections == 1


def test_a_read_only_folder_can_be_read_and_refuses_writing(tmp_path: Path) -> None:
    """Lists work from a read-only copy; adding says what is in the way."""
    folder = tmp_path / "archive"
    shelf.add(new_archive(folder), make_version(), added_at=NOON)
    _set_rights(folder, 0o555)
    for path in (tmp_path, *tmp_path.parents):
        if path == tmp_path or path.name.startswith(("pytest-", "popen-")):
            path.chmod(0o755)  # pytest's own folders are closed to others

    child, reader = _forked(lambda pipe: _read_then_write(folder, pipe))
    lines = _all_of(reader).decode().splitlines()
    os.waitpid(child, 0)
    _set_rights(folder, 0o755)

    assert lines[0] == "['head 12'] []"
    assert len(lines) == 3
    assert all("may not be written to. Change the rights" in line for line in lines[1:])


def _set_rights(folder: Path, rights: int) -> None:
    for path in (folder, *folder.rglob("*")):
        path.chmod(rights)


def _read_then_write(folder: Path, pipe: int) -> None:
    """List and verify, then try to add known and new pictures."""
    if os.geteuid() == 0:
        os.setuid(65534)  # rights do not bind root
    archive = open_archive(folder)
    found = [entry.job for entry in list_entries(archive, Wanted())]
    os.write(pipe, f"{found} {list(verify(archive))}\n".encode())
    for version in (make_version(), make_version(4)):
        try:
            shelf.add(archive, version, added_at=NOON)
        except ArchiveError as error:
            os.write(pipe, f"{error}\n".encode())
