"""Lists and finds what is kept, one record at a time, newest first."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, exists, select, tuple_

from vision.archive.listing import (
    ENTRY_COLUMNS,
    HAND_COLUMNS,
    PREVIOUS,
    SPRING_COLUMNS,
    SPRING_KEY,
    to_entry,
    to_reading,
    to_spring,
)
from vision.archive.opening import Archive, reading
from vision.archive.rows import key_of
from vision.archive.tables import ENTRY, HAND, SPRING
from vision.records.judged import Outcome
from vision.records.kept import Entry, KeptSpring

CHUNK = 500  # keys whose rows are fetched at a time, so that memory stays flat


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """What is looked for; what is empty or None is not asked.

    ``job`` and ``engine`` are parts of a name, ``place`` a whole word ('2E'), all
    without regard to case. Days are inclusive. ``superseded`` asks for versions that
    a newer one follows, too.
    """

    number: int | None = None
    job: str = ""
    engine: str = ""
    place: str = ""
    first_day: date | None = None
    last_day: date | None = None
    outcome: Outcome | None = None
    superseded: bool = False


def list_entries(
    archive: Archive, wanted: Wanted, *, limit: int | None = None
) -> Iterator[Entry]:
    """List inspections; of a spring's place and verdict any spring may match."""
    keys = (
        select(ENTRY.c.id)
        .where(*_of_entry(wanted))
        .order_by(*_newest_first())
        .limit(limit)
    )
    of_spring = _of_spring(wanted)
    if of_spring:
        keys = keys.where(ENTRY.c.id.in_(select(SPRING.c.entry_id).where(*of_spring)))
    rows = select(*ENTRY_COLUMNS).outerjoin_from(
        ENTRY, PREVIOUS, ENTRY.c.previous_id == PREVIOUS.c.id
    )
    yield from (to_entry(row) for ((row, *_),) in _fetched(archive, keys, rows))


def find_springs(
    archive: Archive, wanted: Wanted, *, limit: int | None = None
) -> Iterator[KeptSpring]:
    """List springs, each row of springs from left to right."""
    keys = (
        select(*SPRING_KEY)
        .join_from(SPRING, ENTRY)
        .where(*_of_entry(wanted), *_of_spring(wanted))
        .order_by(*_newest_first(), SPRING.c.position)
        .limit(limit)
    )
    rows = select(*SPRING_COLUMNS).join_from(SPRING, ENTRY)
    yield from (to_spring(row) for ((row, *_),) in _fetched(archive, keys, rows))


def trace_springs(
    archive: Archive, *, engine: str = "", place: str = ""
) -> Iterator[KeptSpring]:
    """Follow a place, or all places of an engine, from the first job to the last.

    Both are whole names, without regard to case. Places come one after another; only
    the newest version of each inspection counts. Hand readings come along.
    """
    asked = [_is_newest()]
    if engine:
        asked.append(ENTRY.c.engine_key == key_of(engine))
    if place:
        asked.append(SPRING.c.place_key == key_of(place))
    order = (ENTRY.c.engine_key, SPRING.c.place_key, ENTRY.c.started_at, *SPRING_KEY)
    keys = select(*SPRING_KEY).join_from(SPRING, ENTRY).where(*asked).order_by(*order)
    rows = select(*SPRING_COLUMNS).join_from(SPRING, ENTRY)
    hands = select(*HAND_COLUMNS).order_by(HAND.c.ordinal)
    for (line, *_), *found in _fetched(archive, keys, rows, hands):
        yield to_spring(line, tuple(to_reading(row) for row in found[0]))


def engines(archive: Archive) -> list[str]:
    """Name the engines that the archive knows."""
    query = select(ENTRY.c.engine).distinct().order_by(ENTRY.c.engine)
    with reading(archive) as connection:
        return list(connection.execute(query).scalars())


def _fetched(
    archive: Archive, keys: Select[Any], *queries: Select[Any]
) -> Iterator[tuple[list[Any], ...]]:
    """Give for each key, in order, the rows of each query that have it.

    The keys are one state of the archive. Their rows never change, so they are fetched
    a few at a time and no lock is held while they are looked at. Each query selects
    the key's columns first.
    """
    width = len(keys.selected_columns)
    with reading(archive) as connection:
        found = [tuple(key) for key in connection.execute(keys)]
    for some in batched(found, CHUNK):
        with reading(archive) as connection:
            groups = [_by_key(connection, query, width, some) for query in queries]
        yield from (tuple(group.get(key, []) for group in groups) for key in some)


def _by_key(
    connection: Connection, query: Select[Any], width: int, keys: Sequence[Any]
) -> dict[tuple[int, ...], list[Any]]:
    """Run a query for some keys, its first ``width`` columns."""
    columns = list(query.selected_columns)[:width]
    rows: dict[tuple[int, ...], list[Any]] = {}
    for row in connection.execute(query.where(tuple_(*columns).in_(keys))):
        rows.setdefault(row[:width], []).append(row)
    return rows


def batched(items: Sequence[Any], size: int) -> Iterator[Sequence[Any]]:
    """Cut a sequence into pieces."""
    for start in range(0, len(items), size):
        yield items[start : start + size]


def _newest_first() -> tuple[ColumnElement[Any], ...]:
    return (
        ENTRY.c.started_at.desc(),
        ENTRY.c.number.desc(),
        ENTRY.c.version.desc(),
    )


def _is_newest() -> ColumnElement[bool]:
    """Let through only versions that no other follows."""
    later = ENTRY.alias("later")
    return ~exists().where(
        later.c.number == ENTRY.c.number, later.c.version == ENTRY.c.version + 1
    )


def _of_entry(wanted: Wanted) -> list[ColumnElement[bool]]:
    """Ask what concerns the inspection."""
    asked = [] if wanted.superseded else [_is_newest()]
    if wanted.number is not None:
        asked.append(ENTRY.c.number == wanted.number)
    if wanted.job:
        asked.append(ENTRY.c.job_key.contains(key_of(wanted.job), autoescape=True))
    if wanted.engine:
        engine = key_of(wanted.engine)
        asked.append(ENTRY.c.engine_key.contains(engine, autoescape=True))
    if wanted.first_day:
        asked.append(ENTRY.c.started_on >= wanted.first_day.isoformat())
    if wanted.last_day:
        asked.append(ENTRY.c.started_on <= wanted.last_day.isoformat())
    return asked


def _of_spring(wanted: Wanted) -> list[ColumnElement[bool]]:
    """Ask what concerns the spring; a place is its word or its text."""
    asked: list[ColumnElement[bool]] = []
    if wanted.place:
        asked.append(SPRING.c.place_key == key_of(wanted.place))
    if wanted.outcome is not None:
        asked.append(SPRING.c.outcome == wanted.outcome.name)
    return asked
