"""What is put into an archive comes out the same; nothing is overwritten."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import select
from sqlalchemy.exc import DBAPIError

from calib.codec import write_json
from calib.errors import ArchiveError
from tests.shelving import NOON, make_version, new_archive
from vision.archive import shelf
from vision.archive.check import verify
from vision.archive.files import load_picture
from vision.archive.format import RECORDS
from vision.archive.opening import Archive, reading, writing
from vision.archive.tables import ENTRY, HAND, METADATA, PICTURE
from vision.records.judged import Outcome
from vision.records.kept import Change, Handle, Place, Role


def test_an_inspection_comes_out_as_it_went_in(archive: Archive) -> None:
    """Every record, array and picture is the same to the last bit."""
    version = make_version(8)

    handle = shelf.add(archive, version, added_at=NOON)
    kept = shelf.load(archive, handle.number)

    before, after = version.inspection, kept.inspection
    assert handle == Handle(number=1, version=1)
    assert after.verdicts == before.verdicts
    assert after.specification == before.specification
    assert after.readings == before.readings
    assert write_json(after.row, RECORDS) == write_json(before.row, RECORDS)
    assert kept.given.distance_mm == 700.0
    first = before.row.springs[0], after.row.springs[0]
    outlines = [spring.drawings[0].outline_px for spring in first]
    assert np.array_equal(*outlines)
    for picture, file in zip(version.pictures, kept.pictures, strict=True):
        assert load_picture(archive.folder, file) == picture.content
        assert (file.role, file.name) == (picture.role, picture.name)


def test_the_list_entry_repeats_the_inspection(archive: Archive) -> None:
    """Job, engine, day and the tally of verdicts stand in the entry."""
    shelf.add(archive, make_version(8), added_at=NOON)

    entry = shelf.load(archive, 1).entry

    assert (entry.job, entry.engine) == ("head 12", "Brook 1600 (invented)")
    assert entry.started_on == NOON.date()
    assert entry.added_at == NOON
    assert entry.springs == 8
    assert entry.tally == dict.fromkeys(Outcome, 2)
    assert entry.previous is None


def test_a_picture_stands_under_its_digest(archive: Archive) -> None:
    """The original is a plain file whose path is its SHA-256."""
    version = make_version()

    shelf.add(archive, version, added_at=NOON)

    digest = version.pictures[0].sha256
    path = archive.folder / "originals" / digest[:2] / digest
    assert path.read_bytes() == version.pictures[0].content


def test_a_correction_is_a_new_version_that_names_the_old(archive: Archive) -> None:
    """New places leave the old version and what was measured untouched."""
    version = make_version()
    shelf.add(archive, version, added_at=NOON)
    base = shelf.load(archive, 1)
    place = Place(word="4E", text="cylinder 4 exhaust", kind="exhaust")
    moved = replace(base.inspection, places={1: place})
    second = shelf.Version(
        inspection=moved,
        given=base.given,
        pictures=(),
        change=Change.PLACES,
        note="read the head the wrong way round",
    )

    handle = shelf.follow(archive, base, second, added_at=NOON + timedelta(hours=1))

    old, new = shelf.load(archive, 1, 1), shelf.load(archive, 1)
    assert handle == Handle(number=1, version=2) == new.entry.handle
    assert new.entry.previous == old.entry.handle
    assert new.entry.change is Change.PLACES
    assert old.inspection.places == version.inspection.places
    assert new.inspection.places == {1: place}
    assert new.pictures == old.pictures
    with reading(archive) as connection:
        digests = connection.execute(select(ENTRY.c.measured_sha256)).scalars().all()
    assert len(set(digests)) == 1


def test_a_correction_can_bring_a_new_overlay(archive: Archive) -> None:
    """The new version shows the new drawing, the old one keeps its own."""
    shelf.add(archive, make_version(), added_at=NOON)
    base = shelf.load(archive, 1)
    overlay = replace(make_version().pictures[1], content=b"drawn again")
    second = shelf.Version(
        inspection=base.inspection, given=base.given, pictures=(overlay,)
    )

    shelf.follow(archive, base, second, added_at=NOON)

    old, new = shelf.load(archive, 1, 1).pictures, shelf.load(archive, 1).pictures
    assert [one.role for one in new] == [Role.ROW, Role.OVERLAY]
    assert new[0] == old[0]
    assert load_picture(archive.folder, new[1]) == b"drawn again"
    assert load_picture(archive.folder, old[1]) == b"drawn 'head 12'"


def test_two_corrections_of_one_version_are_not_both_kept(archive: Archive) -> None:
    """The second person is told of the first one's version."""
    shelf.add(archive, make_version(), added_at=NOON)
    base = shelf.load(archive, 1)
    again = shelf.Version(inspection=base.inspection, given=base.given, pictures=())
    shelf.follow(archive, base, again, added_at=NOON)

    with pytest.raises(ArchiveError, match=r"newer version than 1\.1"):
        shelf.follow(archive, base, again, added_at=NOON)


def test_the_database_refuses_to_change_what_is_kept(archive: Archive) -> None:
    """Neither UPDATE nor DELETE gets past the tables' guards."""
    shelf.add(archive, make_version(), added_at=NOON)

    for table in METADATA.sorted_tables:
        column = next(iter(table.primary_key.columns))
        for statement in (table.update().values({column.name: column}), table.delete()):
            with (
                archive.engine.connect() as connection,
                pytest.raises(DBAPIError, match="what is kept is never changed"),
            ):
                connection.execute(statement)


def test_photos_that_were_not_measured_are_refused(archive: Archive) -> None:
    """A file that changed while it was measured is not kept in its place."""
    version = make_version()
    other = replace(version.pictures[0], content=b"another picture")

    with pytest.raises(ArchiveError, match=r"row.*changed while it was being measured"):
        shelf.add(archive, replace(version, pictures=(other,)), added_at=NOON)

    assert not (archive.folder / "originals").exists()


@pytest.mark.parametrize(
    ("number", "version", "words"),
    [
        (2, None, "up to number 1, not 2"),
        (1, 3, "inspection 1 up to version 1, not 3"),
    ],
)
def test_what_is_not_there_is_said(
    archive: Archive, number: int, version: int | None, words: str
) -> None:
    """A wrong number names what there is."""
    shelf.add(archive, make_version(), added_at=NOON)

    with pytest.raises(ArchiveError, match=words):
        shelf.load(archive, number, version)


def test_an_error_inside_a_transaction_leaves_nothing(archive: Archive) -> None:
    """Rows that were inserted before the error are gone with it."""
    shelf.add(archive, make_version(), added_at=NOON)

    with pytest.raises(RuntimeError):
        _insert_then_fail(archive)

    assert len(shelf.load(archive, 1).pictures) == 2
    assert list(verify(archive)) == []


def test_names_that_no_column_holds_are_kept_all_the_same(archive: Archive) -> None:
    """A broken file name or a NUL in a note is no reason to lose an inspection."""
    version = make_version(job="head \udcff \0 12")

    shelf.add(archive, version, added_at=NOON)

    kept = shelf.load(archive, 1)
    assert kept.inspection.job.name == "head \udcff \0 12"
    assert kept.entry.job == "head ? ? 12"


def test_hand_readings_are_listed_in_the_order_of_entry(archive: Archive) -> None:
    """The searched rows hold what was read, with its own uncertainty."""
    version = make_version()
    shelf.add(archive, version, added_at=NOON)

    with reading(archive) as connection:
        rows = connection.execute(select(HAND).order_by(HAND.c.ordinal)).all()

    readings = version.inspection.readings[1]
    assert [row.value for row in rows] == [one.value for one in readings]
    expanded = [one.expanded_uncertainty for one in readings]
    assert [row.expanded_uncertainty for row in rows] == expanded


def test_two_archives_do_not_share_anything(tmp_path: Path) -> None:
    """Numbers start at 1 in each."""
    first, second = new_archive(tmp_path / "a"), new_archive(tmp_path / "b")

    handles = [shelf.add(one, make_version(), added_at=NOON) for one in (first, second)]

    assert [one.number for one in handles] == [1, 1]


def _insert_then_fail(archive: Archive) -> None:
    with writing(archive) as connection:
        row = connection.execute(select(PICTURE)).mappings().all()[0]
        more = dict(row) | {"ordinal": 9}
        connection.execute(PICTURE.insert(), more)
        raise RuntimeError
