"""How commands name an archive, an inspection in it, days and units."""

import tomllib
from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from calib.errors import ArchiveError

if TYPE_CHECKING:
    from vision.archive.opening import Archive
    from vision.archive.search import Wanted
    from vision.output.show import Units
    from vision.records.judged import Outcome

ArchiveOption = Annotated[
    Path | None,
    typer.Option(
        "--archive",
        envvar="FREESTAND_ARCHIVE",
        help="Folder of the archive; without it the one named in settings.toml.",
        show_default=False,
    ),
]
UnitsOption = Annotated[
    Literal["mm", "in"] | None,
    typer.Option(
        help="Show mm and N, or in and lbf; without it as the archive remembers.",
        show_default=False,
    ),
]
EntryArgument = Annotated[
    str,
    typer.Argument(
        metavar="INSPECTION", help="Its number, like 7; 7.2 is its second version."
    ),
]
JsonOption = Annotated[bool, typer.Option("--json", help="Print JSON (mm and N).")]
QuietOption = Annotated[bool, typer.Option("--quiet", help="Print nothing.")]
JobOption = Annotated[str, typer.Option(help="Part of the job's name.")]
EngineOption = Annotated[str, typer.Option(help="Part of the engine's name.")]
DateOption = Annotated[
    str, typer.Option(help="2026-03-14, 2026-03, 2026, or from..to with either open.")
]
PlaceOption = Annotated[str, typer.Option(help="A place, like 2E or 1Io.")]
VerdictOption = Annotated[
    str, typer.Option(help="accept, reject, check-by-hand or still-due.")
]
LimitOption = Annotated[int, typer.Option(min=1, help="Show so many, newest first.")]
AllOption = Annotated[bool, typer.Option("--all", help="Show all.")]
VersionsOption = Annotated[
    bool, typer.Option("--versions", help="Versions that a newer one follows, too.")
]
SETTINGS_FILE = "settings.toml"


def open_named(given: Path | None) -> "Archive":
    """Open the archive that the command or the settings name."""
    from vision.archive.opening import open_archive  # noqa: PLC0415

    return open_archive(archive_folder(given))


def archive_folder(given: Path | None) -> Path:
    """Find the archive's folder; wrong usage when nothing names one."""
    if given is not None:
        return given
    settings = settings_path()
    named = _setting(settings, "archive") if settings.is_file() else None
    if named is None:
        raise typer.BadParameter(
            f'name a folder, set FREESTAND_ARCHIVE, or write archive = "..." in'
            f" {settings}",
            param_hint="--archive",
        )
    return settings.parent / Path(named).expanduser()


def settings_path() -> Path:
    """Tell where a user's settings stand."""
    from platformdirs import user_config_path  # noqa: PLC0415

    return user_config_path("freestand", appauthor=False) / SETTINGS_FILE


def units_of(archive: "Archive", given: "Units | None") -> "Units":
    """Take the units asked for, else those that the archive remembers."""
    remembered: Units = "in" if archive.settings.units == "in" else "mm"
    return given or remembered


def parse_entry(text: str) -> tuple[int, int | None]:
    """Read '7' or '7.2'."""
    number, dot, version = text.strip().partition(".")
    plain = number.isdecimal() and (not dot or version.isdecimal())
    if not plain or int(number) < 1 or (dot and int(version) < 1):
        raise typer.BadParameter(
            f'"{text}" is no inspection; write 7, or 7.2 for its second version',
            param_hint="INSPECTION",
        )
    return int(number), int(version) if dot else None


def parse_days(text: str) -> tuple[date | None, date | None]:
    """Read a day, a month, a year, or two of them with '..' between.

    >>> parse_days("2024-02")
    (datetime.date(2024, 2, 1), datetime.date(2024, 2, 29))
    """
    if not text.strip():
        return None, None
    first, dots, last = (part.strip() for part in text.partition(".."))
    if not dots:
        last = first
    try:
        return _first_day(first), _last_day(last)
    except ValueError:
        raise typer.BadParameter(
            f'"{text}" is no date; write 2026-03-14, 2026-03, 2026 or from..to',
            param_hint="--date",
        ) from None


def parse_verdict(text: str) -> "Outcome | None":
    """Read a verdict as it is shown or as one word."""
    from vision.records.judged import Outcome  # noqa: PLC0415

    if not text.strip():
        return None
    word = text.strip().lower().replace("-", " ").replace("_", " ")
    for outcome in Outcome:
        if word == outcome.text:
            return outcome
    names = ", ".join(outcome.text.replace(" ", "-") for outcome in Outcome)
    raise typer.BadParameter(
        f'"{text}" is no verdict; known are {names}', param_hint="--verdict"
    )


def wanted_of(
    *, job: str, engine: str, date: str, place: str, verdict: str, versions: bool
) -> "Wanted":
    """Gather what is looked for."""
    from vision.archive.search import Wanted  # noqa: PLC0415

    first_day, last_day = parse_days(date)
    return Wanted(
        job=job,
        engine=engine,
        place=place,
        first_day=first_day,
        last_day=last_day,
        outcome=parse_verdict(verdict),
        superseded=versions,
    )


def _first_day(text: str) -> date | None:
    return _whole(text, lambda begin, _end: begin)


def _last_day(text: str) -> date | None:
    return _whole(text, lambda _begin, end: end - timedelta(days=1))


def _whole(text: str, pick: Callable[[date, date], date]) -> date | None:
    """Give the first or last day of a day, month or year; None for an open end."""
    if not text:
        return None
    parts = [int(part) for part in text.split("-")]
    match parts:
        case [year]:
            return pick(date(year, 1, 1), date(year + 1, 1, 1))
        case [year, month]:
            following = date(year + month // 12, month % 12 + 1, 1)
            return pick(date(year, month, 1), following)
        case [year, month, day]:
            return date(year, month, day)
        case _:
            raise ValueError(text)


def preferred_units(given: "Units | None") -> "Units":
    """Take the units asked for, else those of the settings, else mm."""
    if given is not None:
        return given
    settings = settings_path()
    named = _setting(settings, "units") if settings.is_file() else None
    if named not in {None, "mm", "in"}:
        fault = f'units = "{named}" is neither "mm" nor "in"'
        raise ArchiveError(str(settings), fault, "Correct it")
    return "in" if named == "in" else "mm"


def _setting(path: Path, key: str) -> str | None:
    """Read one of the user's settings."""
    try:
        named = tomllib.loads(path.read_text(encoding="utf-8")).get(key)
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        fault = f"cannot be read as settings ({error})"
        remedy = 'Write lines like archive = "folder" and units = "in"'
        raise ArchiveError(str(path), fault, remedy) from error
    return named if isinstance(named, str) and named else None
