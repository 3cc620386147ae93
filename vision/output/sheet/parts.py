"""What a sheet is made of, in the order in which it is read; all text is ready.

A text marked ``given`` came from a person or a file: it may hold anything, and each
format shows it as text.
"""

from dataclasses import dataclass

from vision.output.sheet.figure import Figure
from vision.records.judged import Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """A labelled line; ``code`` is set in fixed pitch."""

    label: str
    text: str
    given: bool = False
    code: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """A cell of a table: a text, what stands small below it, an outcome."""

    text: str
    below: str = ""
    outcome: Outcome | None = None
    by_hand: bool = False
    given: bool = False
    number: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table; the first cell of each row names it. ``shares`` are column widths."""

    caption: str
    columns: tuple[str, ...]
    shares: tuple[float, ...]
    rows: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How many springs came to an outcome (None: not judged) and which."""

    outcome: Outcome | None
    word: str
    positions: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringPart:
    """One spring: its verdict, each requirement's line, what is due and to do."""

    position: int
    label: str
    place: str
    outcome: Outcome | None
    word: str
    facts: tuple[Fact, ...]
    lines: Grid | None
    due: tuple[str, ...]
    actions: tuple[str, ...]
    notes: tuple[str, ...]
    hint: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SetPart:
    """One set held against itself, with its figures."""

    title: str
    outcome: Outcome | None
    facts: tuple[Fact, ...]
    remarks: tuple[str, ...]
    loads: tuple[Grid, ...]
    ladder: Figure | None
    straightedge: Figure | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LeanPart:
    """The roses of one kind of spring and what their rings mean."""

    title: str
    legend: str
    roses: tuple[Figure, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPart:
    """The load lines of one kind of spring."""

    title: str
    legend: str
    figure: Figure


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """The whole sheet in words and figures."""

    title: str
    job: tuple[Fact, ...]
    headline: str
    tallies: tuple[Tally, ...]
    picture_text: str
    by_place: Grid
    readings: Grid | None
    sets: tuple[SetPart, ...]
    leans: tuple[LeanPart, ...]
    loads: tuple[LoadPart, ...]
    pairs: Grid | None
    springs: tuple[SpringPart, ...]
    doubts: tuple[str, ...]
    warnings: tuple[str, ...]
    advice: tuple[str, ...]
    budget: Grid | None
    origin: tuple[Fact, ...]
