"""What a disk or a database complains of, in clear words."""

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy.exc import DBAPIError

from calib.errors import ArchiveError

NO_ROOM = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
NOT_ALLOWED = (errno.EACCES, errno.EPERM, errno.EROFS)

ROOM_FAULT = "finds no room left on its disk; nothing was added and nothing was lost"
ROOM_REMEDY = "Free some room there, then do it again"
WRITE_FAULT = "may not be written to"
WRITE_REMEDY = "Change the rights of the folder, or name an archive elsewhere"
BACKUP = "Bring it back from a backup; the pictures beside it are untouched"

SQLITE_WORDS = {
    "SQLITE_FULL": (ROOM_FAULT, ROOM_REMEDY),
    "SQLITE_READONLY": (WRITE_FAULT, WRITE_REMEDY),
    "SQLITE_NOTADB": ("is not a database: it holds something else", BACKUP),
    "SQLITE_CORRUPT": ("is damaged or cut short", BACKUP),
    "SQLITE_BUSY": (
        "has been in use by another program for too long",
        "Wait until that program is done, then do it again",
    ),
    "SQLITE_CANTOPEN": (
        "cannot be opened",
        "Check that the folder exists and may be written to",
    ),
    "SQLITE_IOERR": (
        "cannot be read or written in full; nothing was added",
        "Check the disk and the room on it, then do it again",
    ),
}
"""SQLite's primary result codes (sqlite.org/rescode.html) in the words of the bench."""


@contextmanager
def explained(file: Path) -> Iterator[None]:
    """Turn what goes wrong with a file or database into an ArchiveError."""
    try:
        yield
    except DBAPIError as error:
        raise _from_database(error, file) from error
    except OSError as error:
        raise _from_system(error, file) from error


def _from_database(error: DBAPIError, file: Path) -> ArchiveError:
    """Look the database's own code up."""
    name = getattr(error.orig, "sqlite_errorname", "")
    for code, (fault, remedy) in SQLITE_WORDS.items():
        if name.startswith(code):
            return ArchiveError(str(file), fault, remedy)
    first_line = str(error.orig).strip().splitlines()[:1] or [type(error).__name__]
    fault = f"got no answer that helps from its database ({first_line[0]})"
    remedy = "Check that the database runs and may be reached, then do it again"
    return ArchiveError(str(file), fault, remedy)


def _from_system(error: OSError, file: Path) -> ArchiveError:
    """Look the operating system's own number up."""
    name = str(error.filename or file)
    if error.errno in NO_ROOM:
        return ArchiveError(name, ROOM_FAULT, ROOM_REMEDY)
    if error.errno in NOT_ALLOWED:
        return ArchiveError(name, WRITE_FAULT, WRITE_REMEDY)
    fault = f"cannot be used ({error.strerror or error})"
    return ArchiveError(name, fault, "Check the path and the disk, then do it again")
