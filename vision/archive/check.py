"""Checks an archive against itself: digests, references, lists, stray files."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import chain
from math import isclose
from typing import Any

from sqlalchemy import ColumnElement, Connection, distinct, func, select

from calib.codec import CodecError
from calib.errors import ArchiveError
from vision.archive.faults import explained
from vision.archive.files import (
    PART_PREFIX,
    altered_words,
    digest_on_disk,
    files_on_disk,
    missing_words,
    picture_path,
)
from vision.archive.format import (
    ORIGINALS,
    OVERLAYS,
    digest_of,
    read_payloads,
)
from vision.archive.opening import Archive, reading
from vision.archive.rows import Row, entry_row, hand_rows, spring_rows
from vision.archive.shelf import to_picture
from vision.archive.tables import ENTRY, HAND, PAYLOAD, PICTURE, SPRING
from vision.records.kept import Doubt, Inspection, KeptPicture, Role

DATABASE_BACKUP = "Bring the database back from a backup; the pictures are beside it"
STRAY_REMEDY = "An addition was interrupted or is under way; unless so, delete it"
IS_OVERLAY = PICTURE.c.role == Role.OVERLAY.name
LAST_DIGITS = 1e-9  # relative; far below any uncertainty, far above rounding
CHUNK = 500  # pictures asked for at a time


@dataclass(frozen=True, slots=True, kw_only=True)
class Extent:
    """How much an archive holds."""

    inspections: int
    versions: int
    springs: int
    pictures: int
    picture_bytes: int


def measure_extent(archive: Archive) -> Extent:
    """Count what is kept; each picture once, however many versions show it."""
    files = select(PICTURE.c.sha256, PICTURE.c.size_bytes).distinct().subquery()
    with reading(archive) as connection:
        inspections = connection.scalar(select(func.count(distinct(ENTRY.c.number))))
        versions = connection.scalar(select(func.count()).select_from(ENTRY))
        springs = connection.scalar(select(func.count()).select_from(SPRING))
        count, size = connection.execute(
            select(func.count(), func.coalesce(func.sum(files.c.size_bytes), 0))
        ).one()
    return Extent(
        inspections=inspections or 0,
        versions=versions or 0,
        springs=springs or 0,
        pictures=count,
        picture_bytes=int(size),
    )


def verify(archive: Archive) -> Iterator[Doubt]:
    """Find everything that is not as it was kept.

    Checked are the database's own order, the digest of each payload, every reference
    between rows, the lists against the payloads, each version's chain, the bytes of
    each picture, and which files nothing refers to. Rows never change, so each part is
    looked at by itself and others may add in between.
    """
    damage = _database_doubts(archive)
    yield from damage
    if not damage:
        yield from _entry_doubts(archive)
        yield from _picture_doubts(archive)
        yield from _stray_doubts(archive)


def _database_doubts(archive: Archive) -> list[Doubt]:
    """Let SQLite look at its own file; a server keeps its references itself."""
    try:
        faults = _file_faults(archive)
    except ArchiveError as error:
        faults = [error.fault]
    where = str(archive.database)
    return [Doubt(where=where, what=what, remedy=DATABASE_BACKUP) for what in faults]


def _file_faults(archive: Archive) -> list[str]:
    """Ask for damage and for rows that refer to no row."""
    with reading(archive) as connection:
        if connection.dialect.name != "sqlite":
            return []
        lines = connection.exec_driver_sql("PRAGMA integrity_check(20)").scalars()
        faults = [f"is damaged: {line}" for line in lines if line != "ok"]
        loose = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
    return faults + [
        f"has a row of {table} that refers to no row of {parent}"
        for table, _row, parent, _key in loose
    ]


def _entry_doubts(archive: Archive) -> Iterator[Doubt]:
    """Check each version: its payloads, its lists, the version before it."""
    with reading(archive) as connection:
        order = select(ENTRY.c.id).order_by(ENTRY.c.number, ENTRY.c.version)
        ids = list(connection.execute(order).scalars())
    number, version, previous = 0, 0, None
    for entry_id in ids:
        row, faults = _looked_at(archive, entry_id)
        if row.number != number:
            number, version, previous = row.number, 0, None
        if (row.version, row.previous_id) != (version + 1, previous):
            faults.append("does not follow the version before it")
        version, previous = row.version, row.id
        where = f"{archive.database}, inspection {number}.{version}"
        for what in faults:
            yield Doubt(where=where, what=what, remedy=DATABASE_BACKUP)


def _looked_at(archive: Archive, entry_id: int) -> tuple[Any, list[str]]:
    """Read one version and what is wrong with it, unreadable text included."""
    with reading(archive) as connection:
        row = connection.execute(select(ENTRY).where(ENTRY.c.id == entry_id)).one()
    try:
        with reading(archive) as connection:
            return row, list(_faults_of(connection, row))
    except ArchiveError as error:
        return row, [error.fault]


def _faults_of(connection: Connection, row: Any) -> Iterator[str]:
    """Compare one version's payloads with their digests and with its lists."""
    digests = {"measured": row.measured_sha256, "judged": row.judged_sha256}
    texts = []
    for name, digest in digests.items():
        wanted = select(PAYLOAD.c.text).where(PAYLOAD.c.sha256 == digest)
        text = connection.scalar(wanted)
        if text is None or digest_of(text) != digest:
            yield f"has a {name} payload that is missing or was altered"
            return
        texts.append(text)
    try:
        inspection, _given = read_payloads(*texts)
    except CodecError as error:
        yield str(error)
        return
    yield from _list_faults(connection, row, inspection)
    yield from _photo_faults(connection, row.id, inspection)


def _list_faults(
    connection: Connection, row: Any, inspection: Inspection
) -> Iterator[str]:
    """Compare the searched columns with what the payloads hold."""
    held = entry_row(inspection)
    wrong = [name for name, value in held.items() if getattr(row, name) != value]
    if wrong:
        yield f"is listed with another {', '.join(wrong)} than it holds"
    for table, expected in (
        (SPRING, spring_rows(inspection)),
        (HAND, hand_rows(inspection)),
    ):
        columns = [column for column in table.c if column.name != "entry_id"]
        listed = connection.execute(
            select(*columns).where(table.c.entry_id == row.id)
        ).mappings()
        if not _agree(_ordered(dict(one) for one in listed), _ordered(expected)):
            yield f"is listed with other {table.name} rows than it holds"


def _agree(listed: list[Row], held: list[Row]) -> bool:
    """Compare rows; numbers that were computed may differ in their last digits."""
    return len(listed) == len(held) and all(
        one.keys() == other.keys()
        and all(_same(value, other[name]) for name, value in one.items())
        for one, other in zip(listed, held, strict=True)
    )


def _same(first: object, second: object) -> bool:
    if isinstance(first, float) and isinstance(second, float):
        return isclose(first, second, rel_tol=LAST_DIGITS, abs_tol=0.0)
    return first == second


def _ordered(rows: Iterable[Row]) -> list[Row]:
    return sorted(rows, key=lambda row: (row["position"], row.get("ordinal", 0)))


def _photo_faults(
    connection: Connection, entry_id: int, inspection: Inspection
) -> Iterator[str]:
    """Check that the pictures kept are those that were measured."""
    rows = connection.execute(
        select(PICTURE)
        .where(PICTURE.c.entry_id == entry_id)
        .order_by(PICTURE.c.ordinal)
    )
    kept = [to_picture(row) for row in rows]
    photos = [one for one in kept if one.role is Role.ROW]
    photos += [one for one in kept if one.role is Role.TURNED]
    if [one.sha256 for one in photos] != list(inspection.row.photo_sha256):
        yield "names other photos than those that were measured"


def _picture_doubts(archive: Archive) -> Iterator[Doubt]:
    """Check each picture file's size and digest, each file once."""
    kept = chain(_kept_files(archive, ~IS_OVERLAY), _kept_files(archive, IS_OVERLAY))
    for picture in kept:
        path = picture_path(archive.folder, picture)
        if not path.is_file():
            what, remedy = missing_words(picture)
            yield Doubt(where=str(path), what=what, remedy=remedy)
            continue
        size = path.stat().st_size
        with explained(path):
            same = digest_on_disk(path) == picture.sha256
        if size != picture.size_bytes or not same:
            what, remedy = altered_words(picture, size)
            yield Doubt(where=str(path), what=what, remedy=remedy)


def _kept_files(archive: Archive, shelf: ColumnElement[bool]) -> Iterator[KeptPicture]:
    """Give one picture for each file that should stand on a shelf."""
    columns = (
        func.min(PICTURE.c.role).label("role"),
        func.min(PICTURE.c.name).label("name"),
        PICTURE.c.sha256,
        func.max(PICTURE.c.size_bytes).label("size_bytes"),
    )
    digest = ""
    while True:
        some = (
            select(*columns)
            .where(shelf, PICTURE.c.sha256 > digest)
            .group_by(PICTURE.c.sha256)
            .order_by(PICTURE.c.sha256)
            .limit(CHUNK)
        )
        with reading(archive) as connection:
            rows = connection.execute(some).all()
        if not rows:
            return
        yield from (to_picture(row) for row in rows)
        digest = rows[-1].sha256


def _stray_doubts(archive: Archive) -> Iterator[Doubt]:
    """Warn of files that no version refers to: an addition was interrupted there."""
    for path in files_on_disk(archive.folder):
        with reading(archive) as connection:
            digest = PICTURE.c.sha256 == path.name
            referred = connection.execute(select(PICTURE.c.role).where(digest)).all()
        shelf = path.relative_to(archive.folder).parts[0]
        shelves = {
            OVERLAYS if one.role == Role.OVERLAY.name else ORIGINALS for one in referred
        }
        if shelf not in shelves:
            part = path.name.startswith(PART_PREFIX)
            what = "was not finished" if part else "belongs to no inspection"
            yield Doubt(where=str(path), what=what, remedy=STRAY_REMEDY, harmless=True)
