"""``freestand find``: single springs by engine, day, place and verdict."""

import typer

from vision.cli.archives import (
    AllOption,
    ArchiveOption,
    DateOption,
    EngineOption,
    JobOption,
    JsonOption,
    LimitOption,
    PlaceOption,
    UnitsOption,
    VerdictOption,
    VersionsOption,
    open_named,
    units_of,
    wanted_of,
)

app = typer.Typer()


@app.command()
def find(
    archive: ArchiveOption = None,
    *,
    job: JobOption = "",
    engine: EngineOption = "",
    date: DateOption = "",
    place: PlaceOption = "",
    verdict: VerdictOption = "",
    limit: LimitOption = 40,
    everything: AllOption = False,
    versions: VersionsOption = False,
    units: UnitsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Find springs in all inspections; what is asked must all be true.

    Example: freestand find --engine "Brook 1600" --place 2E --verdict reject
    """
    from vision.archive.search import find_springs  # noqa: PLC0415
    from vision.cli import lists, pages  # noqa: PLC0415

    kept = open_named(archive)
    wanted = wanted_of(
        job=job,
        engine=engine,
        date=date,
        place=place,
        verdict=verdict,
        versions=versions,
    )
    most = None if everything or as_json else limit + 1
    springs = find_springs(kept, wanted, limit=most)
    if as_json:
        lists.print_stream({}, "springs", map(lists.spring_object, springs))
        return
    chosen = units_of(kept, units)
    shown = springs if everything else lists.first(springs, limit)
    rows = (
        (
            spring.handle.text,
            spring.started_on.isoformat(),
            spring.engine,
            spring.place or f"spring {spring.position}",
            lists.height_text(spring, chosen),
            lists.number_text(spring.squareness, chosen),
            lists.outcome_text(spring.outcome),
        )
        for spring in shown
    )
    count = pages.print_pages(_columns(chosen), rows)
    lists.print_end(count, "spring", more=next(springs, None) is not None)


def _columns(units: str) -> dict[str, str]:
    from vision.cli import pages  # noqa: PLC0415

    return {
        "No.": pages.FIXED,
        "day": pages.FIXED,
        "engine": pages.WRAPPED,
        "place": pages.FIXED,
        f"L0 {units}": pages.FIXED,
        f"e1 {units}": pages.FIXED,
        "verdict": pages.FIXED,
    }
