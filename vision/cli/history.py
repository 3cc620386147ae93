"""``freestand history``: a place, or an engine's places, over the jobs."""

from collections.abc import Iterable, Iterator
from itertools import groupby
from math import hypot
from typing import TYPE_CHECKING, Annotated, Any

import typer

from calib.errors import ArchiveError
from vision.cli.archives import (
    ArchiveOption,
    JsonOption,
    UnitsOption,
    open_named,
    units_of,
)

if TYPE_CHECKING:
    from vision.archive.opening import Archive
    from vision.output.show import Units
    from vision.records.kept import Figure, KeptSpring

app = typer.Typer()

Place = Annotated[str, typer.Argument(help="A place, like 2E; without it all places.")]
Engine = Annotated[str, typer.Option(help="The engine's whole name.")]


@app.command()
def history(
    place: Place = "",
    archive: ArchiveOption = None,
    *,
    engine: Engine = "",
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Follow what stood in a place from job to job, oldest first.

    The change is against the job before, with its own U: beyond it, it is marked. The
    archive knows places; whether the same spring went back there, you must know.

    Example: freestand history 2E --engine "Brook 1600"
    """
    from vision.archive.search import trace_springs  # noqa: PLC0415
    from vision.cli import lists, pages  # noqa: PLC0415

    if not (place or engine):
        raise typer.BadParameter("name a place, an --engine, or both")
    kept = open_named(archive)
    springs = trace_springs(kept, engine=engine, place=place)
    if as_json:
        lists.print_stream({}, "springs", _objects(springs))
        return
    chosen = units_of(kept, units)
    known = False
    for (name, where), group in groupby(springs, lambda one: (one.engine, one.place)):
        known = True
        title = f"place {where}" if where else "springs without a place"
        typer.echo(lists.one_line(f"{title} of {name}"))
        pages.print_pages(_columns(chosen), _rows(group, chosen, placed=bool(where)))
    if not known:
        raise _nothing(kept, place, engine)
    typer.echo(f"{lists.LEGEND}\n! changed by more than U; loads are read by hand")


def changes(
    springs: "Iterable[KeptSpring]",
) -> "Iterator[tuple[KeptSpring, Figure | None]]":
    """Give each spring of one place with its change of height since the job before.

    U of the difference takes the two jobs as independent (JCGM 100:2008, 5.1.2).
    """
    from vision.records.kept import Figure  # noqa: PLC0415

    before: Figure | None = None
    for spring in springs:
        height = spring.free_height
        change = None
        if before is not None and height is not None:
            change = Figure(
                value=height.value - before.value,
                expanded=hypot(height.expanded, before.expanded),
                unit=height.unit,
            )
        before = height or before
        yield spring, change


def _rows(
    springs: "Iterable[KeptSpring]", units: "Units", *, placed: bool
) -> Iterator[tuple[Any, ...]]:
    from vision.cli import lists  # noqa: PLC0415

    for spring, change in changes(springs):
        yield (
            spring.handle.text,
            spring.started_on.isoformat(),
            lists.height_text(spring, units),
            _change_text(change, units) if placed else lists.NOTHING,
            lists.number_text(spring.squareness, units),
            _load_text(spring, units),
            lists.outcome_text(spring.outcome)[: 1 if units == "in" else None],
        )


def _change_text(change: "Figure | None", units: "Units") -> str:
    """Write the change with its sign, marked when it is beyond its U."""
    from vision.cli import lists  # noqa: PLC0415

    text = lists.number_text(change, units)
    if change is None:
        return text
    sign = "+" if change.value > 0 else ""
    mark = " !" if abs(change.value) > change.expanded else ""
    return f"{sign}{text}{mark}"


def _load_text(spring: "KeptSpring", units: "Units") -> str:
    """Write the last tester force at closed height."""
    from vision.cli import lists  # noqa: PLC0415
    from vision.records.judged import Instrument  # noqa: PLC0415

    forces = [one for one in spring.hand if one.instrument is Instrument.CLOSED_FORCE]
    if not forces:
        return lists.NOTHING
    return lists.number_text(lists.figure_of(forces[-1]), units)


def _columns(units: "Units") -> dict[str, str]:
    from vision.cli import pages  # noqa: PLC0415

    force = "lbf" if units == "in" else "N"
    return {
        "No.": pages.FIXED,
        "day": pages.FIXED,
        f"L0 {units}": pages.FIXED,
        f"change {units}": pages.FIXED,
        f"e1 {units}": pages.FIXED,
        f"load {force}": pages.FIXED,
        # inches leave room for the sign only; in mm the words may take a second line
        **({"": pages.FIXED} if units == "in" else {"verdict": pages.WRAPPED}),
    }


def _objects(springs: "Iterable[KeptSpring]") -> Iterator[dict[str, Any]]:
    """Give each spring with its change and hand readings for JSON."""
    from vision.cli import lists  # noqa: PLC0415

    for (_engine, where), group in groupby(
        springs, lambda one: (one.engine, one.place)
    ):
        for spring, change in changes(group):
            yield lists.spring_object(spring) | {
                "change_mm": lists.figure_object(change) if where else None,
                "readings": [lists.reading_object(one) for one in spring.hand],
            }


def _nothing(archive: "Archive", place: str, engine: str) -> ArchiveError:
    """Say which engines there are when nothing fits."""
    from vision.archive.search import engines  # noqa: PLC0415
    from vision.cli import lists  # noqa: PLC0415

    asked = " of ".join(part for part in (place, engine) if part)
    names = ", ".join(map(lists.one_line, engines(archive)[:8])) or "none"
    fault = f"keeps nothing of {asked}"
    remedy = f"Name a place like 2E, or with --engine one of its engines: {names}"
    return ArchiveError(str(archive.folder), fault, remedy)
