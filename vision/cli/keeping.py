"""Composes measuring, judging, drawing and keeping for the commands of the archive."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from importlib.metadata import version as installed_version
from pathlib import PurePath

import typer

from calib.photo import read_photo
from calib.records import Photo
from vision.archive import shelf
from vision.archive.files import load_picture, picture_path
from vision.archive.opening import Archive
from vision.cli.archives import units_of
from vision.judgement import HandEntries, inspect_row
from vision.output.overlay import draw_overlay
from vision.output.picture import encode_jpeg
from vision.records.judged import Outcome, Specification
from vision.records.kept import (
    Change,
    Handle,
    Inspection,
    Job,
    Kept,
    KeptPicture,
    Picture,
    Role,
)
from vision.records.measured import Row

ATTEMPTS = 5  # when others correct the same inspection at the same moment


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """What is different in a new version; None leaves it as it was."""

    change: Change
    note: str
    entries: HandEntries
    specification: Specification | None
    row: Row | None = None


def program_version() -> str:
    """Tell which Freestand this is."""
    return installed_version("freestand")


def now() -> datetime:
    """Read the clock."""
    return datetime.now(UTC)


def entries_of(inspection: Inspection) -> HandEntries:
    """Take out what a person entered."""
    return HandEntries(
        places=inspection.places,
        findings=inspection.findings,
        readings=inspection.readings,
    )


def judge(
    row: Row, job: Job, specification: Specification | None, entries: HandEntries
) -> Inspection:
    """Judge a row with today's program."""
    return inspect_row(row, job, specification, entries, program_version())


def correct(
    archive: Archive,
    entry: tuple[int, int | None],
    revise: Callable[[Kept], Revision],
) -> tuple[Handle, Inspection]:
    """Keep a new version of an inspection, judged and drawn again.

    When another version came in between and none was named, it is done once more on
    that one, so that nobody's entries are lost.
    """
    number, version = entry
    for attempt in range(1, ATTEMPTS + 1):
        base = shelf.load(archive, number, version)
        try:
            return keep_revision(archive, base, revise(base))
        except shelf.OvertakenError:
            if version is not None or attempt == ATTEMPTS:
                raise
    raise AssertionError  # the last attempt returns or raises


def draw(
    archive: Archive, inspection: Inspection, photos: tuple[Photo, ...]
) -> Picture:
    """Draw the overlay as a picture to be kept."""
    second = photos[1] if len(photos) > 1 else None
    units = units_of(archive, None)
    rgb = draw_overlay(photos[0], inspection, units, second)
    stem = PurePath(photos[0].name).stem
    return Picture(
        role=Role.OVERLAY,
        name=f"{stem}-overlay.jpg",
        content=encode_jpeg(rgb, inspection),
    )


def kept_photos(archive: Archive, kept: Kept) -> tuple[Photo, ...]:
    """Read the photos of the row, under the names that they had."""
    return tuple(
        kept_photo(archive, picture)
        for role in (Role.ROW, Role.TURNED)
        for picture in kept.pictures
        if picture.role is role
    )


def kept_photo(archive: Archive, picture: KeptPicture) -> Photo:
    """Read one kept picture; raises ArchiveError when it is missing or altered."""
    load_picture(archive.folder, picture)
    photo = read_photo(picture_path(archive.folder, picture))
    return replace(photo, name=picture.name)


def exit_code(inspection: Inspection) -> int:
    """Give 0 when every spring is accepted, 1 when one is rejected or undecided."""
    outcomes = [verdict.outcome for verdict in inspection.verdicts]
    return 0 if all(one is Outcome.ACCEPT for one in outcomes) else 1


def tell_kept(
    handle: Handle, inspection: Inspection, *, as_json: bool, quiet: bool
) -> None:
    """Say what was kept under which number."""
    from vision.cli.lists import kept_line, kept_object, print_object  # noqa: PLC0415

    if as_json:
        print_object(kept_object(handle, inspection))
    elif not quiet:
        typer.echo(kept_line(handle, inspection))


def keep_revision(
    archive: Archive, base: Kept, revision: Revision
) -> tuple[Handle, Inspection]:
    """Judge, draw and keep one revision."""
    before = base.inspection
    inspection = judge(
        revision.row or before.row,
        before.job,
        revision.specification,
        revision.entries,
    )
    overlay = draw(archive, inspection, kept_photos(archive, base))
    version = shelf.Version(
        inspection=inspection,
        given=base.given,
        pictures=(overlay,),
        change=revision.change,
        note=revision.note,
    )
    return shelf.follow(archive, base, version, added_at=now()), inspection
