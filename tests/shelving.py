"""Archives and versions for tests, made of the invented inspection."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.factories import make_inspection, make_picture
from vision.archive import shelf
from vision.archive.opening import Archive, make_archive, writing
from vision.records.kept import Given, Handle, Picture, Role

NOON = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
FIRST_DAY = datetime(2024, 1, 1, 8, 0, tzinfo=UTC)
ENGINES = 50


def new_archive(folder: Path, database: str = "") -> Archive:
    """Make an archive in a new folder."""
    return make_archive(folder, made_at=NOON, database=database)


def make_version(
    count: int = 3, *, job: str = "head 12", day: int = 0
) -> shelf.Version:
    """Make a version with its photo and an overlay that is only invented bytes."""
    started_at = NOON + timedelta(days=day)
    inspection = make_inspection(count, job=job, started_at=started_at)
    return shelf.Version(
        inspection=inspection,
        given=Given(distance_mm=700.0),
        pictures=(
            Picture(role=Role.ROW, name="row.png", content=make_picture(count)),
            Picture(
                role=Role.OVERLAY, name="overlay.jpg", content=f"drawn {job!r}".encode()
            ),
        ),
    )


def fill(archive: Archive, count: int, *, springs: int = 8) -> None:
    """Add inspections without pictures, one a day, of fifty engines, in one go."""
    base = make_inspection(springs)
    with writing(archive) as connection:
        for index in range(count):
            job = replace(
                base.job,
                name=f"job {index}",
                engine=f"engine {index % ENGINES} (invented)",
                started_at=FIRST_DAY + timedelta(days=index),
            )
            inspection = replace(base, job=job)
            version = shelf.Version(inspection=inspection, given=Given(), pictures=())
            payloads = shelf._payloads(version)
            handle = Handle(number=index + 1, version=1)
            shelf._insert(connection, version, payloads, [], (handle, None, FIRST_DAY))
