"""Opens an archive, or makes a new one.

An archive is a folder: its settings (archive.toml), its pictures (originals,
overlays) and its database, which is the file inspections.sqlite or, when the settings
name a URL, a PostgreSQL database.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event, inspect, select, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, NoSuchModuleError
from sqlalchemy.pool import NullPool

from calib.errors import ArchiveError
from vision.archive.faults import BACKUP, explained
from vision.archive.files import PART_PREFIX
from vision.archive.format import DATABASE_NAME, FORMAT, ORIGINALS, SETTINGS_NAME
from vision.archive.settings import Settings, begin_settings, read_settings
from vision.archive.tables import ABOUT, METADATA

PATIENCE_S = 30.0  # how long a writer waits for another one


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Archive:
    """An open archive; ``database`` is the file or folder that errors name."""

    folder: Path
    database: Path
    engine: Engine
    settings: Settings


def open_archive(folder: Path) -> Archive:
    """Open an archive that exists.

    Raises
    ------
    ArchiveError
        When the folder is none, or its format is newer than this program's, or the
        database cannot be opened or belongs to another folder.
    """
    archive = _joined(folder)
    if not archive.settings.database and not archive.database.is_file():
        raise _not_an_archive(folder)
    with reading(archive) as connection:
        about = _read_about(connection)
        _check_length(archive, connection)
    if not about:
        _refuse_lost(archive)
        raise _not_an_archive(folder)
    _check_about(archive, about)
    return archive


def make_archive(
    folder: Path, *, made_at: datetime, units: str = "mm", database: str = ""
) -> Archive:
    """Open the archive, or make it in a folder that is new or empty.

    ``database`` is a PostgreSQL URL, '' for the embedded one; it and ``units`` count
    only when the archive is made. Two at once make one archive.
    """
    if not _is_archive(folder):
        with explained(folder):
            _begin_folder(folder, made_at=made_at, units=units, database=database)
    archive = _joined(folder)
    if not archive.settings.database:
        if not archive.database.exists():
            _refuse_lost(archive)
        with explained(archive.database):
            archive.database.touch()
    with writing(archive) as connection:
        if not _read_about(connection):
            _refuse_lost(archive)
            METADATA.create_all(connection)
            connection.execute(ABOUT.insert(), _first_about(archive, made_at))
    return open_archive(folder)


@contextmanager
def reading(archive: Archive) -> Iterator[Connection]:
    """Lend a connection that sees one state of the database."""
    with (
        explained(archive.database),
        archive.engine.connect() as connection,
        connection.begin(),
    ):
        yield connection


@contextmanager
def writing(archive: Archive) -> Iterator[Connection]:
    """Lend a connection to one writer at a time; all is kept at the end or nothing."""
    with (
        explained(archive.database),
        archive.engine.connect() as plain,
        plain.execution_options(begin="BEGIN IMMEDIATE") as connection,
        connection.begin(),
    ):
        if connection.dialect.name == "postgresql":
            # one key for all writers of this database; freed when the transaction ends
            connection.execute(text("SELECT pg_advisory_xact_lock(466737326)"))
        yield connection


def _joined(folder: Path) -> Archive:
    """Join a folder and its database without looking inside."""
    settings = read_settings(folder)
    database = folder if settings.database else folder / DATABASE_NAME
    engine = (
        _server_engine(folder, settings.database)
        if settings.database
        else _file_engine(database)
    )
    return Archive(folder=folder, database=database, engine=engine, settings=settings)


def _file_engine(path: Path) -> Engine:
    """Connect to a file that exists; a missing one is not made."""
    uri = f"file:{quote(str(path.absolute()))}?mode=rw"

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(uri, uri=True, timeout=PATIENCE_S, isolation_level=None)

    engine = create_engine("sqlite://", creator=connect, poolclass=NullPool)
    event.listen(engine, "connect", _prepare_file)
    event.listen(engine, "begin", _begin_file)
    return engine


def _prepare_file(connection: sqlite3.Connection, _record: object) -> None:
    """Keep references whole, and wait for the disk at each commit."""
    connection.execute("PRAGMA foreign_keys = ON")
    connection.execute("PRAGMA synchronous = EXTRA")


def _begin_file(connection: Connection) -> None:
    """Begin by hand: a writer takes its lock at once, not at its first write."""
    options = connection.get_execution_options()
    connection.exec_driver_sql(options.get("begin", "BEGIN"))


def _server_engine(folder: Path, url: str) -> Engine:
    """Connect to a PostgreSQL server."""
    file = str(folder / SETTINGS_NAME)
    try:
        parts = make_url(url)
        if parts.get_backend_name() != "postgresql" or parts.password is not None:
            fault = "names a database that is not a PostgreSQL URL without a password"
            remedy = (
                "Write postgresql://user@host/name; the password comes from PGPASSWORD"
                " or a password file"
            )
            raise ArchiveError(file, fault, remedy)
        driven = parts.set(drivername="postgresql+psycopg")
        return create_engine(driven, poolclass=NullPool)
    except (ArgumentError, NoSuchModuleError) as error:
        fault = f"names a database URL that cannot be read ({error})"
        remedy = "Write postgresql://user@host/name"
        raise ArchiveError(file, fault, remedy) from error
    except ModuleNotFoundError as error:
        fault = "names a PostgreSQL database, whose driver is not installed"
        remedy = "Install the package with its extra: freestand[postgres]"
        raise ArchiveError(file, fault, remedy) from error


def _is_archive(folder: Path) -> bool:
    """Tell whether an archive was at least begun here."""
    return any((folder / name).is_file() for name in (DATABASE_NAME, SETTINGS_NAME))


def _begin_folder(
    folder: Path, *, made_at: datetime, units: str, database: str
) -> None:
    """Make the folder and its settings; refuse one that holds other things."""
    folder.mkdir(parents=True, exist_ok=True)
    others = [at for at in folder.iterdir() if not at.name.startswith(PART_PREFIX)]
    if others and not _is_archive(folder):
        fault = "is not an archive: it holds other things"
        raise ArchiveError(str(folder), fault, "Name a new or an empty folder")
    seed = f"{folder.absolute()} {made_at.isoformat()}"
    identity = sha256(seed.encode()).hexdigest()[:16]
    settings = Settings(
        format=FORMAT, identity=identity, units=units, database=database
    )
    begin_settings(folder, settings)


def _read_about(connection: Connection) -> dict[str, str]:
    """Read what is known of the whole archive; empty when there are no tables."""
    if not inspect(connection).has_table(ABOUT.name):
        return {}
    rows = connection.execute(select(ABOUT.c.key, ABOUT.c.value))
    return {row.key: row.value for row in rows}


def _first_about(archive: Archive, made_at: datetime) -> list[dict[str, str]]:
    about = {
        "format": str(FORMAT),
        "identity": archive.settings.identity,
        "made_at": made_at.isoformat(),
    }
    return [{"key": key, "value": value} for key, value in about.items()]


def _check_about(archive: Archive, about: dict[str, str]) -> None:
    """Refuse a newer format and a database that belongs to another folder."""
    known = about.get("format", "")
    if not known.isdecimal() or int(known) > FORMAT:
        fault = (
            f"was written in format {known or 'unknown'}, newer than {FORMAT}, the"
            " newest that this program knows"
        )
        raise ArchiveError(str(archive.database), fault, "Update Freestand")
    identity = archive.settings.identity
    if identity and identity != about.get("identity"):
        fault = f"names archive {identity}, its database {about.get('identity')}"
        remedy = "Bring the folder and the database together that belong together"
        raise ArchiveError(str(archive.folder / SETTINGS_NAME), fault, remedy)


def _check_length(archive: Archive, connection: Connection) -> None:
    """Refuse a file that ends inside its last page, which SQLite fills up silently.

    The caller has read from the file, so that no writer is at work on it.
    """
    if archive.settings.database:
        return
    pages, page_bytes = (
        connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
        for name in ("page_count", "page_size")
    )
    size = archive.database.stat().st_size
    if size < pages * page_bytes:
        fault = f"is cut short: {size} of {pages * page_bytes} bytes are there"
        raise ArchiveError(str(archive.database), fault, BACKUP)


def _refuse_lost(archive: Archive) -> None:
    """Refuse pictures beside an empty database: it was lost, not yet to be made."""
    if (archive.folder / ORIGINALS).is_dir():
        fault = "is missing or cut short: it holds nothing, though pictures are kept"
        raise ArchiveError(str(archive.database), fault, BACKUP)


def _not_an_archive(folder: Path) -> ArchiveError:
    fault = "is not an archive" if folder.exists() else "does not exist"
    remedy = "Name the folder of an archive; freestand add makes a new one"
    return ArchiveError(str(folder), fault, remedy)
