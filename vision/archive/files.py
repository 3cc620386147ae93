"""Picture files under their SHA-256, and files that stand whole or not at all."""

import os
from collections.abc import Iterator
from contextlib import suppress
from hashlib import file_digest, sha256
from pathlib import Path
from secrets import token_hex

from calib.errors import ArchiveError
from vision.archive.faults import explained
from vision.archive.format import ORIGINALS, OVERLAYS
from vision.records.kept import KeptPicture, Picture, Role

PART_PREFIX = "part-"  # of files that were not finished


def keep_picture(folder: Path, picture: Picture) -> KeptPicture:
    """Write a picture under its digest, unless it stands there already.

    Raises
    ------
    ArchiveError
        When the disk is full or not writable, or other bytes stand under the digest.
    """
    kept = KeptPicture(
        role=picture.role,
        name=picture.name.encode("utf-8", "replace").decode(),
        sha256=picture.sha256,
        size_bytes=len(picture.content),
    )
    path = picture_path(folder, kept)
    with explained(path):
        if path.exists():
            load_picture(folder, kept)
        else:
            write_new(path, picture.content)
    return kept


def load_picture(folder: Path, picture: KeptPicture) -> bytes:
    """Read a kept picture; raises ArchiveError when it is missing or altered."""
    path = picture_path(folder, picture)
    if not path.is_file():
        raise ArchiveError(str(path), *missing_words(picture))
    with explained(path):
        content = path.read_bytes()
    digest = sha256(content).hexdigest()
    if digest != picture.sha256:
        raise ArchiveError(str(path), *altered_words(picture, len(content)))
    return content


def picture_path(folder: Path, picture: KeptPicture) -> Path:
    """Tell where a picture stands: originals/ab/abcdef..."""
    shelf = OVERLAYS if picture.role is Role.OVERLAY else ORIGINALS
    return folder / shelf / picture.sha256[:2] / picture.sha256


def missing_words(picture: KeptPicture) -> tuple[str, str]:
    """Say that a picture is gone, and what to do."""
    fault = f"is missing; it was {picture.name!r}, {picture.size_bytes} bytes"
    return fault, "Bring it back from a backup, or add the same picture once more"


def altered_words(picture: KeptPicture, size_bytes: int) -> tuple[str, str]:
    """Say that a picture's bytes changed, and what to do."""
    fault = (
        f"was altered since it was kept as {picture.name!r}: {size_bytes} bytes of"
        f" another SHA-256, {picture.size_bytes} bytes were kept"
    )
    return fault, "Move it away and bring it back from a backup"


def digest_on_disk(path: Path) -> str:
    """Give the SHA-256 of a file without holding it in memory."""
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def files_on_disk(folder: Path) -> Iterator[Path]:
    """List every file on the picture shelves."""
    for shelf in (ORIGINALS, OVERLAYS):
        for base, _folders, names in os.walk(folder / shelf):
            for name in sorted(names):
                yield Path(base) / name


def write_new(path: Path, content: bytes) -> None:
    """Write beside the place, wait for the disk, then move there in one step."""
    made = [folder for folder in path.parents if not folder.exists()]
    path.parent.mkdir(parents=True, exist_ok=True)
    part = _written_part(path.parent, content)
    try:
        part.replace(path)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    for folder in (path, *made):
        _settle(folder.parent)


def write_once(path: Path, content: bytes) -> None:
    """Write a whole file unless one stands there; of two writers the first wins."""
    part = _written_part(path.parent, content)
    try:
        os.link(part, path)
    except FileExistsError:
        pass
    except OSError:  # a disk without hard links
        if not path.exists():
            part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    _settle(path.parent)


def _written_part(folder: Path, content: bytes) -> Path:
    """Write an unfinished file of its own name and wait for the disk."""
    path = folder / f"{PART_PREFIX}{token_hex(8)}"
    try:
        with path.open("xb") as part:
            part.write(content)
            part.flush()
            os.fsync(part.fileno())
    except BaseException:
        with suppress(OSError):
            path.unlink(missing_ok=True)
        raise
    return path


def _settle(folder: Path) -> None:
    """Wait until a folder's list of names is on the disk, where that can be asked."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
