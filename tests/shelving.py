"""Archives and versions for tests, made of the invented inspection."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import Table  # noqa: TC002

from tests.factories import make_inspection, make_picture
from vision.archive import shelf
from vision.archive.format import digest_of, judged_payload, measured_payload
from vision.archive.opening import Archive, make_archive, writing
from vision.archive.rows import entry_row, hand_rows, spring_rows
from vision.archive.tables import ENTRY, HAND, PAYLOAD, SPRING
from vision.records.kept import Change, Given, Job, Picture, Place, Role

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
    """Add inspections without pictures, one a day, of fifty engines, in one go.

    Each judged payload is the first one's text with another job in it, so that ten
    thousand springs are there in a moment.
    """
    base = make_inspection(springs, job="JOB", engine="ENGINE", started_at=FIRST_DAY)
    measured, text = measured_payload(base, Given()), judged_payload(base).text
    rows: dict[Table, list[dict[str, object]]] = {
        table: [] for table in (PAYLOAD, ENTRY, SPRING, HAND)
    }
    rows[PAYLOAD].append({"sha256": measured.sha256, "text": measured.text})
    of_springs, of_hands = spring_rows(base), hand_rows(base)
    for number in range(1, count + 1):
        job = _numbered(base.job, number)
        own = text
        for before, after in (
            ("JOB", job.name),
            ("ENGINE", job.engine),
            (FIRST_DAY.isoformat(), job.started_at.isoformat()),
        ):
            own = own.replace(before, after, 1)
        digest = digest_of(own)
        rows[PAYLOAD].append({"sha256": digest, "text": own})
        rows[ENTRY].append(
            entry_row(replace(base, job=job))
            | {"id": number, "number": number, "version": 1, "previous_id": None}
            | {"change": Change.ADDED.name, "note": "", "added_at": NOON.isoformat()}
            | {"measured_sha256": measured.sha256, "judged_sha256": digest}
        )
        rows[SPRING] += [{"entry_id": number} | row for row in of_springs]
        rows[HAND] += [{"entry_id": number} | row for row in of_hands]
    with writing(archive) as connection:
        for table, some in rows.items():
            connection.execute(table.insert(), some)


def _numbered(job: Job, number: int) -> Job:
    index = number - 1
    return replace(
        job,
        name=f"job {index}",
        engine=f"engine {index % ENGINES} (invented)",
        started_at=FIRST_DAY + timedelta(days=index),
    )


def freeze(folder: Path) -> None:
    """Make the archive that stands frozen under tests/cases/archives.

    Two invented jobs, the first corrected once; run it for a new format only.
    """
    archive = new_archive(folder)
    shelf.add(archive, make_version(3, job="first job"), added_at=NOON)
    shelf.add(archive, make_version(2, job="second job", day=90), added_at=NOON)
    base = shelf.load(archive, 1)
    place = Place(word="4E", text="cylinder 4 exhaust", kind="exhaust")
    corrected = replace(base.inspection, places={1: place})
    version = shelf.Version(
        inspection=corrected,
        given=base.given,
        pictures=(),
        change=Change.PLACES,
        note="4E",
    )
    shelf.follow(archive, base, version, added_at=NOON)
