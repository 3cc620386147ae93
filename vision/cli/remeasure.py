"""``freestand remeasure``: kept pictures, measured with today's program."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from vision.cli.archives import (
    ArchiveOption,
    DateOption,
    EngineOption,
    JobOption,
    JsonOption,
    UnitsOption,
    open_named,
    parse_entry,
    units_of,
    wanted_of,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    from vision.archive.opening import Archive
    from vision.archive.search import Wanted
    from vision.cli.measuring_again import Again, Pair
    from vision.output.show import Units

app = typer.Typer()

Numbers = Annotated[
    list[str] | None,
    typer.Argument(metavar="INSPECTION", help="Numbers, like 7 12; or --all."),
]
Everything = Annotated[
    bool, typer.Option("--all", help="All inspections that the options let through.")
]
Jobs = Annotated[int, typer.Option(min=1, help="Measure so many at once.")]
Keep = Annotated[
    bool, typer.Option("--keep", help="Keep each result as a new version.")
]


@app.command()
def remeasure(
    numbers: Numbers = None,
    archive: ArchiveOption = None,
    *,
    everything: Everything = False,
    job: JobOption = "",
    engine: EngineOption = "",
    date: DateOption = "",
    jobs: Jobs = 1,
    keep: Keep = False,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Measure kept pictures again and show old and new values side by side.

    What differs by more than the old U is marked. Nothing is kept unless --keep is
    given, and then as a new version beside the old one.

    Example: freestand remeasure --all --jobs 2
    """
    from vision.cli import lists  # noqa: PLC0415
    from vision.cli.measuring_again import measure_many  # noqa: PLC0415

    opened = open_named(archive)
    if bool(numbers) == everything:
        raise typer.BadParameter("name inspections, or give --all")
    wanted = wanted_of(
        job=job, engine=engine, date=date, place="", verdict="", versions=False
    )
    entries = _entries(opened, numbers or [], wanted)
    results = _with_progress(
        measure_many(opened.folder, entries, jobs=jobs, keep=keep), len(entries)
    )
    tally: list[Again] = []
    if as_json:
        objects = (_object(one) for one in _counted(results, tally))
        lists.print_stream({}, "inspections", objects)
    else:
        _print(_counted(results, tally), units_of(opened, units))
    if any(one.fault or one.differs for one in tally):
        raise typer.Exit(1)


def _entries(
    archive: "Archive", numbers: list[str], wanted: "Wanted"
) -> list[tuple[int, int | None]]:
    """Name what is measured: the numbers given, or all that fit."""
    from vision.archive.search import list_entries  # noqa: PLC0415

    if numbers:
        return [parse_entry(text) for text in numbers]
    return [(entry.handle.number, None) for entry in list_entries(archive, wanted)]


def _with_progress(results: "Iterator[Again]", count: int) -> "Iterator[Again]":
    """Show on the terminal how far it is; a pipe sees nothing of it."""
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import track  # noqa: PLC0415

    screen = Console(stderr=True)
    yield from track(
        results,
        "measuring again",
        total=count,
        console=screen,
        transient=True,
        disable=not screen.is_terminal,
    )


def _counted(results: "Iterator[Again]", tally: "list[Again]") -> "Iterator[Again]":
    from dataclasses import replace  # noqa: PLC0415

    for one in results:
        tally.append(replace(one, pairs=()))  # the outcome only: memory stays flat
        yield one


def _print(results: "Iterator[Again]", units: "Units") -> None:
    """Print a table for each inspection."""
    from vision.cli import lists, pages  # noqa: PLC0415

    for one in results:
        if one.fault:
            typer.echo(f"Inspection {one.entry} cannot be measured again.")
            typer.echo(f"  {lists.one_line(one.fault)}")
            continue
        then = f"by {one.old_version}, today by {one.new_version}"
        kept = f", kept as {one.kept_as}" if one.kept_as else ""
        typer.echo(lists.one_line(f"Inspection {one.entry}: {one.job}, {then}{kept}"))
        pages.print_pages(_columns(units), (_row(pair, units) for pair in one.pairs))
    typer.echo("! differs by more than the old U")


def _columns(units: "Units") -> dict[str, str]:
    from vision.cli import pages  # noqa: PLC0415

    return {
        "spring": pages.WRAPPED,
        f"L0 then {units}": pages.FIXED,
        f"L0 today {units}": pages.FIXED,
        " ": pages.FIXED,
        f"e1 then {units}": pages.FIXED,
        f"e1 today {units}": pages.FIXED,
        "": pages.FIXED,
    }


def _row(pair: "Pair", units: "Units") -> tuple[str, ...]:
    """Put then and today side by side."""
    from vision.cli import lists  # noqa: PLC0415

    return (
        pair.spring,
        lists.number_text(pair.old_height, units),
        lists.number_text(pair.new_height, units),
        "!" if pair.height_differs else "",
        lists.number_text(pair.old_squareness, units),
        lists.number_text(pair.new_squareness, units),
        "!" if pair.squareness_differs else "",
    )


def _object(one: "Again") -> dict[str, Any]:
    """Give one inspection's result for JSON."""
    from vision.cli.lists import figure_object  # noqa: PLC0415

    return {
        "inspection": one.entry,
        "job": one.job,
        "old_program_version": one.old_version,
        "program_version": one.new_version,
        "kept_as": one.kept_as or None,
        "fault": one.fault or None,
        "springs": [
            {
                "spring": pair.spring,
                "old": {
                    "free_height_mm": figure_object(pair.old_height),
                    "squareness_mm": figure_object(pair.old_squareness),
                    "unmeasured": pair.old_reason or None,
                },
                "new": {
                    "free_height_mm": figure_object(pair.new_height),
                    "squareness_mm": figure_object(pair.new_squareness),
                    "unmeasured": pair.new_reason or None,
                },
                "differs": pair.differs,
            }
            for pair in one.pairs
        ],
    }
