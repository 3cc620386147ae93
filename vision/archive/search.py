"""Lists and finds what is kept, one record at a time, newest first."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, exists, select

from vision.archive.listing import (
    ENTRY_COLUMNS,
    HAND_COLUMNS,
    PREVIOUS,
    SPRING_COLUMNS,
    to_entry,
    to_reading,
    to_spring,
)
from vision.archive.opening import Archive, reading
from vision.archive.rows import key_of
from vision.archive.tables import ENTRY, HAND, SPRING
from vision.records.judged import Outcome
from vision.records.kept import Entry, KeptSpring

CHUNK = 500  # rows fetched at a time, so that memory stays flat
ESCAPE = "\\"


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
    query = (
        select(*ENTRY_COLUMNS)
        .outerjoin_from(ENTRY, PREVIOUS, ENTRY.c.previous_id == PREVIOUS.c.id)
        .where(*_of_entry(wanted))
        .order_by(*_newest_first())
        .limit(limit)
    )
    of_spring = _of_spring(wanted)
    if of_spring:
        query = query.where(exists().where(SPRING.c.entry_id == ENTRY.c.id, *of_spring))
    yield from (to_entry(row) for row in _rows(archive, query))


def find_springs(
    archive: Archive, wanted: Wanted, *, limit: int | None = None
) -> Iterator[KeptSpring]:
    """List springs, each row of springs from left to right."""
    query = (
        select(*SPRING_COLUMNS)
        .join_from(SPRING, ENTRY)
        .where(*_of_entry(wanted), *_of_spring(wanted))
        .order_by(*_newest_first(), SPRING.c.position)
        .limit(limit)
    )
    yield from (to_spring(row) for row in _rows(archive, query))


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
    both = and_(
        HAND.c.entry_id == SPRING.c.entry_id, HAND.c.position == SPRING.c.position
    )
    query = (
        select(*SPRING_COLUMNS, *HAND_COLUMNS)
        .select_from(SPRING.join(ENTRY).outerjoin(HAND, both))
        .where(*asked)
        .order_by(
            ENTRY.c.engine_key,
            SPRING.c.place_key,
            ENTRY.c.started_at,
            ENTRY.c.number,
            SPRING.c.position,
            HAND.c.ordinal,
        )
    )
    rows = _rows(archive, query)
    for _key, group in groupby(rows, lambda row: (row.entry_id, row.position)):
        lines = list(group)
        hand = tuple(to_reading(row) for row in lines if row.instrument is not None)
        yield to_spring(lines[0], hand)


def engines(archive: Archive) -> list[str]:
    """Name the engines that the archive knows."""
    query = select(ENTRY.c.engine).distinct().order_by(ENTRY.c.engine)
    return [row.engine for row in _rows(archive, query)]


def _rows(archive: Archive, query: Select[Any]) -> Iterator[Any]:
    """Run a query and fetch its rows a few at a time."""
    with reading(archive) as connection:
        streamed = connection.execution_options(yield_per=CHUNK)
        yield from streamed.execute(query)


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
