"""Puts inspections into an archive and takes them out whole."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection, Row, func, select

from calib.codec import CodecError
from calib.errors import ArchiveError
from vision.archive.files import keep_picture
from vision.archive.format import (
    Payload,
    judged_payload,
    measured_payload,
    read_payloads,
)
from vision.archive.listing import ENTRY_COLUMNS, PREVIOUS, to_entry
from vision.archive.opening import Archive, reading, writing
from vision.archive.rows import entry_row, hand_rows, plain, spring_rows
from vision.archive.tables import ENTRY, HAND, PAYLOAD, PICTURE, SPRING
from vision.records.kept import (
    Change,
    Given,
    Handle,
    Inspection,
    Kept,
    KeptPicture,
    Picture,
    Role,
)

AnyRow = Row[*tuple[Any, ...]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Version:
    """What is to be kept as one version of an inspection."""

    inspection: Inspection
    given: Given
    pictures: tuple[Picture, ...]
    change: Change = Change.ADDED
    note: str = ""


def add(archive: Archive, version: Version, *, added_at: datetime) -> Handle:
    """Keep a new inspection with its pictures, whole or not at all.

    Raises
    ------
    ArchiveError
        When there is no room, no right to write, or a photo's bytes are not those
        that were measured.
    """
    _check_photos(version.inspection, version.pictures)
    payloads = _payloads(version)
    pictures = [keep_picture(archive.folder, one) for one in version.pictures]
    with writing(archive) as connection:
        newest = connection.scalar(select(func.max(ENTRY.c.number))) or 0
        handle = Handle(number=newest + 1, version=1)
        _insert(connection, version, payloads, pictures, (handle, None, added_at))
    return handle


def follow(
    archive: Archive, base: Kept, version: Version, *, added_at: datetime
) -> Handle:
    """Keep a version that follows ``base``; pictures not given anew are its own.

    Raises
    ------
    OvertakenError
        When another version followed ``base`` in the meantime.
    ArchiveError
        When there is no room or no right to write.
    """
    payloads = _payloads(version)
    fresh = [keep_picture(archive.folder, one) for one in version.pictures]
    roles = {one.role for one in fresh}
    pictures = [one for one in base.pictures if one.role not in roles] + fresh
    before = base.entry.handle
    handle = Handle(number=before.number, version=before.version + 1)
    with writing(archive) as connection:
        if _find(connection, handle) is not None:
            raise _overtaken(archive, before)
        found = _find(connection, before)
        previous = found.id if found else None
        _insert(connection, version, payloads, pictures, (handle, previous, added_at))
    return handle


def load(archive: Archive, number: int, version: int | None = None) -> Kept:
    """Take a version out whole, the newest when none is named.

    Raises
    ------
    ArchiveError
        When there is no such version or what is kept of it cannot be read.
    """
    with reading(archive) as connection:
        wanted = version or _newest_version(connection, number)
        found = _find(connection, Handle(number=number, version=wanted))
        if found is None:
            raise _unknown(archive, connection, number, version)
        return _kept(archive, connection, found)


def _check_photos(inspection: Inspection, pictures: Iterable[Picture]) -> None:
    """Refuse photos that are not those that were measured."""
    names = ", ".join(inspection.row.photo_names)
    measured = list(inspection.row.photo_sha256)
    roles = (Role.ROW, Role.TURNED)
    given = [one for role in roles for one in pictures if one.role is role]
    if [one.sha256 for one in given] != measured:
        fault = "changed while it was being measured; nothing was added"
        raise ArchiveError(names, fault, "Add it again")


def _payloads(version: Version) -> tuple[Payload, Payload]:
    return (
        measured_payload(version.inspection, version.given),
        judged_payload(version.inspection),
    )


def _insert(
    connection: Connection,
    version: Version,
    payloads: tuple[Payload, Payload],
    pictures: Sequence[KeptPicture],
    identity: tuple[Handle, int | None, datetime],
) -> None:
    """Insert all rows of a version into the open transaction."""
    handle, previous, added_at = identity
    for payload in payloads:
        _insert_payload(connection, payload)
    first, second = payloads
    entry_id = (connection.scalar(select(func.max(ENTRY.c.id))) or 0) + 1
    row = entry_row(version.inspection) | {
        "id": entry_id,
        "number": handle.number,
        "version": handle.version,
        "previous_id": previous,
        "change": version.change.name,
        "note": plain(version.note),
        "added_at": added_at.astimezone(UTC).isoformat(timespec="seconds"),
        "measured_sha256": first.sha256,
        "judged_sha256": second.sha256,
    }
    connection.execute(ENTRY.insert(), row)
    for table, rows in (
        (SPRING, spring_rows(version.inspection)),
        (HAND, hand_rows(version.inspection)),
        (PICTURE, [_picture_row(*pair) for pair in enumerate(pictures)]),
    ):
        if rows:
            connection.execute(
                table.insert(), [{"entry_id": entry_id} | one for one in rows]
            )


def _insert_payload(connection: Connection, payload: Payload) -> None:
    """Insert a text unless it is kept already."""
    known = select(PAYLOAD.c.sha256).where(PAYLOAD.c.sha256 == payload.sha256)
    if connection.execute(known).first() is None:
        row = {"sha256": payload.sha256, "text": payload.text}
        connection.execute(PAYLOAD.insert(), row)


def _picture_row(ordinal: int, picture: KeptPicture) -> dict[str, object]:
    return {
        "ordinal": ordinal,
        "role": picture.role.name,
        "name": plain(picture.name),
        "sha256": picture.sha256,
        "size_bytes": picture.size_bytes,
    }


def _newest_version(connection: Connection, number: int) -> int:
    newest = select(func.max(ENTRY.c.version)).where(ENTRY.c.number == number)
    return connection.scalar(newest) or 0


def _find(connection: Connection, handle: Handle) -> AnyRow | None:
    """Read an entry's row."""
    wanted = (
        select(*ENTRY_COLUMNS, ENTRY.c.measured_sha256, ENTRY.c.judged_sha256)
        .outerjoin_from(ENTRY, PREVIOUS, ENTRY.c.previous_id == PREVIOUS.c.id)
        .where(ENTRY.c.number == handle.number, ENTRY.c.version == handle.version)
    )
    return connection.execute(wanted).first()


def _kept(archive: Archive, connection: Connection, found: AnyRow) -> Kept:
    """Read an entry's payloads and pictures."""
    entry = to_entry(found)
    texts = [
        connection.scalar(select(PAYLOAD.c.text).where(PAYLOAD.c.sha256 == digest))
        for digest in (found.measured_sha256, found.judged_sha256)
    ]
    try:
        inspection, given = read_payloads(*(text or "" for text in texts))
    except CodecError as error:
        where = f"{archive.database}, inspection {entry.handle.text}"
        remedy = "Run freestand verify; update Freestand if a newer one wrote it"
        raise ArchiveError(where, str(error), remedy) from error
    return Kept(
        entry=entry,
        inspection=inspection,
        given=given,
        pictures=_pictures(connection, found.id),
    )


def _pictures(connection: Connection, entry_id: int) -> tuple[KeptPicture, ...]:
    rows = connection.execute(
        select(PICTURE)
        .where(PICTURE.c.entry_id == entry_id)
        .order_by(PICTURE.c.ordinal)
    )
    return tuple(to_picture(row) for row in rows)


def to_picture(row: AnyRow) -> KeptPicture:
    """Make the record of a picture from its row."""
    return KeptPicture(
        role=Role[row.role],
        name=row.name,
        sha256=row.sha256,
        size_bytes=row.size_bytes,
    )


def _overtaken(archive: Archive, before: Handle) -> "OvertakenError":
    fault = f"holds a newer version than {before.text} already"
    remedy = f"Look at it (freestand show {before.number}), then do it again"
    return OvertakenError(str(archive.database), fault, remedy)


def _unknown(
    archive: Archive, connection: Connection, number: int, version: int | None
) -> ArchiveError:
    newest = _newest_version(connection, number)
    if version and newest:
        fault = f"holds inspection {number} up to version {newest}, not {version}"
    else:
        last = connection.scalar(select(func.max(ENTRY.c.number))) or 0
        fault = f"holds inspections up to number {last}, not {number}"
    return ArchiveError(str(archive.database), fault, "See freestand list")


class OvertakenError(ArchiveError):
    """Another version followed the same one first."""
