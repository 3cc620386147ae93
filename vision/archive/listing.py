"""Makes the records of lists from rows."""

from datetime import date, datetime
from enum import Enum
from typing import Any, TypeVar

from sqlalchemy import Row

from calib.errors import ArchiveError
from vision.archive.rows import TALLY
from vision.archive.tables import ENTRY, HAND, SPRING
from vision.records.judged import Instrument, Outcome, Reading
from vision.records.kept import Change, Entry, Figure, Handle, KeptSpring
from vision.records.measured import Reason

Kind = TypeVar("Kind", bound=Enum)

PREVIOUS = ENTRY.alias("previous")

ENTRY_COLUMNS = (
    ENTRY.c.id,
    ENTRY.c.number,
    ENTRY.c.version,
    PREVIOUS.c.number.label("previous_number"),
    PREVIOUS.c.version.label("previous_version"),
    ENTRY.c.change,
    ENTRY.c.note,
    ENTRY.c.added_at,
    ENTRY.c.program_version,
    ENTRY.c.job,
    ENTRY.c.engine,
    ENTRY.c.started_on,
    ENTRY.c.springs,
    *(ENTRY.c[name] for name in TALLY.values()),
)

SPRING_KEY = (SPRING.c.entry_id, SPRING.c.position)

SPRING_COLUMNS = (
    *SPRING_KEY,
    ENTRY.c.number,
    ENTRY.c.version,
    ENTRY.c.job,
    ENTRY.c.engine,
    ENTRY.c.started_on,
    *(column for column in SPRING.c if column not in set(SPRING_KEY)),
)

HAND_COLUMNS = (
    HAND.c.entry_id,
    HAND.c.position,
    HAND.c.instrument,
    HAND.c.value,
    HAND.c.unit,
    HAND.c.expanded_uncertainty,
    HAND.c.set_height_mm,
    HAND.c.assumed,
)


def to_entry(row: Row[*tuple[Any, ...]]) -> Entry:
    """Make an entry from a row of ENTRY_COLUMNS."""
    previous = None
    if row.previous_number is not None:
        previous = Handle(number=row.previous_number, version=row.previous_version)
    return Entry(
        handle=Handle(number=row.number, version=row.version),
        previous=previous,
        change=_member(Change, row.change),
        note=row.note,
        added_at=datetime.fromisoformat(row.added_at),
        program_version=row.program_version,
        job=row.job,
        engine=row.engine,
        started_on=date.fromisoformat(row.started_on),
        springs=row.springs,
        tally={
            outcome: getattr(row, column)
            for outcome, column in TALLY.items()
            if getattr(row, column)
        },
    )


def to_spring(row: Row[*tuple[Any, ...]], hand: tuple[Reading, ...] = ()) -> KeptSpring:
    """Make a spring from a row of SPRING_COLUMNS."""
    return KeptSpring(
        handle=Handle(number=row.number, version=row.version),
        job=row.job,
        engine=row.engine,
        started_on=date.fromisoformat(row.started_on),
        position=row.position,
        place=row.place,
        place_text=row.place_text,
        kind=row.kind,
        outcome=None if row.outcome is None else _member(Outcome, row.outcome),
        unmeasured=_member(Reason, row.unmeasured).value if row.unmeasured else "",
        free_height=_figure(row.free_height_mm, row.free_height_expanded_mm, "mm"),
        squareness=_figure(row.squareness_mm, row.squareness_expanded_mm, "mm"),
        lean=_figure(row.lean_deg, row.lean_expanded_deg, "deg"),
        hand=hand,
    )


def to_reading(row: Row[*tuple[Any, ...]]) -> Reading:
    """Make a hand reading from a row of HAND_COLUMNS."""
    return Reading(
        instrument=_member(Instrument, row.instrument),
        value=row.value,
        unit=row.unit,
        expanded_uncertainty=row.expanded_uncertainty,
        set_height_mm=row.set_height_mm,
        assumed=bool(row.assumed),
    )


def _member(kind: type[Kind], name: str) -> Kind:
    """Look an enum's member up; a newer program may have more of them."""
    if name not in kind.__members__:
        fault = f"holds the {kind.__name__.lower()} {name!r}, unknown to this program"
        raise ArchiveError("the archive", fault, "Update Freestand")
    return kind[name]


def _figure(value: float | None, expanded: float | None, unit: str) -> Figure | None:
    if value is None or expanded is None:
        return None
    return Figure(value=value, expanded=expanded, unit=unit)
