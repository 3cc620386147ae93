"""Files come to stand whole or not at all."""

import os
from contextlib import suppress
from pathlib import Path
from tempfile import NamedTemporaryFile

from calib.errors import OutputError


def write_whole(path: Path, content: bytes) -> None:
    """Write a file beside its place, then move it there in one step.

    What stood there before stays untouched until the new file is complete.

    Raises
    ------
    OutputError
        When the folder is missing, not writable or full.
    """
    try:
        _replace(path, content)
    except OSError as error:
        fault = f"cannot be written ({error.strerror or error})"
        remedy = "Name a file in a folder that exists and may be written to"
        raise OutputError(str(path), fault, remedy) from error


def _replace(path: Path, content: bytes) -> None:
    folder = path.parent
    if path.is_dir():
        raise IsADirectoryError(None, "it is a folder")
    with NamedTemporaryFile(
        dir=folder, prefix=f".{path.name[:40]}.", suffix=".part", delete=False
    ) as part:
        whole = Path(part.name)
        try:
            part.write(content)
            part.flush()
            os.fsync(part.fileno())
            whole.chmod(_usual_mode(path))
            part.close()
            whole.replace(path)
        except BaseException:
            part.close()
            with suppress(OSError):
                whole.unlink()
            raise


def _usual_mode(path: Path) -> int:
    """Keep the mode of the file that is replaced; else what the umask leaves."""
    with suppress(OSError):
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask
