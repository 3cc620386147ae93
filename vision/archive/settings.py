"""The archive's own settings, in archive.toml."""

import json
import tomllib
from dataclasses import dataclass, replace
from pathlib import Path

from calib.errors import ArchiveError
from vision.archive.faults import explained
from vision.archive.files import write_new, write_once
from vision.archive.format import FORMAT, SETTINGS_NAME

UNITS = ("mm", "in")


@dataclass(frozen=True, slots=True, kw_only=True)
class Settings:
    """How an archive is shown and where its database is ('' is the embedded one)."""

    format: int = FORMAT
    identity: str = ""
    units: str = "mm"
    database: str = ""


def read_settings(folder: Path) -> Settings:
    """Read the settings; a missing file means the embedded database and mm."""
    path = folder / SETTINGS_NAME
    try:
        with explained(path):
            data = tomllib.loads(path.read_bytes().decode())
    except ArchiveError:
        if not path.exists():
            return Settings()
        raise
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise _unreadable(path, f"is not TOML ({error})") from error
    return _checked(path, data)


def begin_settings(folder: Path, settings: Settings) -> None:
    """Write the first settings; of two writers at once the first wins."""
    write_once(folder / SETTINGS_NAME, _text(settings))


def remember_units(folder: Path, units: str) -> None:
    """Change the units that values are shown in."""
    path = folder / SETTINGS_NAME
    with explained(path):
        write_new(path, _text(replace(read_settings(folder), units=units)))


def _text(settings: Settings) -> bytes:
    """Write the file's text."""
    lines = [
        "# Freestand archive: settings only; the rest is in the database and folders.",
        f"format = {settings.format}",
        f"identity = {json.dumps(settings.identity)}",
        f"units = {json.dumps(settings.units)}",
        f"database = {json.dumps(settings.database)}  # empty: inspections.sqlite here",
    ]
    return ("\n".join(lines) + "\n").encode()


def _checked(path: Path, data: dict[str, object]) -> Settings:
    """Refuse what is not a setting."""
    strange = data.keys() - {"format", "identity", "units", "database"}
    if strange:
        raise _unreadable(path, f"holds unknown settings {sorted(strange)}")
    known = data.get("format", FORMAT)
    if not isinstance(known, int) or known > FORMAT:
        fault = f"was written in format {known}, newer than {FORMAT}"
        raise ArchiveError(str(path), fault, "Update Freestand")
    if data.get("units", "mm") not in UNITS:
        raise _unreadable(path, f"asks for units {data['units']!r}, not mm or in")
    words = {key: str(data.get(key, "")) for key in ("identity", "database")}
    return Settings(format=known, units=str(data.get("units", "mm")), **words)


def _unreadable(path: Path, fault: str) -> ArchiveError:
    return ArchiveError(str(path), fault, "Correct it or bring it back from a backup")
