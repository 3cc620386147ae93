"""What the plots show, taken from result files (the JSON of ``measure``)."""

import json
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any

from calib.errors import OutputError
from vision.output.keys import quantity_key
from vision.output.plaintext import clean
from vision.output.plots.series import (
    Asked,
    Band,
    Bar,
    Ladder,
    LoadLine,
    LoadPoint,
    Loads,
    Moment,
)
from vision.output.tree import FORMAT
from vision.output.tree_values import Data
from vision.records.judged import Instrument, Outcome
from vision.records.measured import Characteristic

PAIRED = {
    Characteristic.FREE_HEIGHT: Instrument.CALIPER_HEIGHT,
    Characteristic.SQUARENESS: Instrument.SQUARE_GAP,
}
"""What a photo and a hand instrument both read."""

REMEDY = "Give a file that freestand measure --json wrote"


def load_result(path: Path) -> Data:
    """Read a result file; raises OutputError when it is none, damaged or newer."""
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        fault = f"cannot be read ({error.strerror or error})"
        raise OutputError(str(path), fault, REMEDY) from error
    except ValueError as error:
        raise OutputError(str(path), f"is not JSON ({error})", REMEDY) from error
    if not isinstance(data, dict) or "springs" not in data or "format" not in data:
        fault = "is no result file: 'format' or 'springs' is missing"
        raise OutputError(str(path), fault, REMEDY)
    if data["format"] != FORMAT:
        fault = f"has format {data['format']!r}, this program reads {FORMAT}"
        raise OutputError(str(path), fault, "Use the program that wrote it")
    _try_all(path, data)
    return data


def _try_all(path: Path, data: Data) -> None:
    """Take everything from the file once, so that damage shows at the start."""
    try:
        ladders(data)
        load_lines(data)
        places = [spring["place"] or "" for spring in data["springs"]]
        for place in places:
            moments([data], place)
        for kind in PAIRED:
            method_pairs([data], kind)
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        fault = f"is damaged or not complete ({type(error).__name__}: {error})"
        raise OutputError(str(path), fault, REMEDY) from error


def ladders(data: Data) -> tuple[Ladder, ...]:
    """Give the heights of each kind of spring apart."""
    return tuple(
        Ladder(
            title=_title(data, kind),
            bars=tuple(_bar(spring) for spring in springs),
            minimum=_limit(springs, "minimum_mm"),
            maximum=_limit(springs, "maximum_mm"),
            bands=_bands(data, kind),
        )
        for kind, springs in _by_kind(data)
    )


def load_lines(data: Data) -> tuple[Loads, ...]:
    """Give the loads read by hand, each kind of spring apart; without any, nothing."""
    found = []
    for kind, springs in _by_kind(data):
        lines = tuple(_load_line(spring) for spring in springs)
        read = tuple(line for line in lines if len(line.points) > 1)
        if read:
            asked = _asked(data, kind)
            found.append(Loads(title=_title(data, kind), lines=read, asked=asked))
    return tuple(found)


def moments(results: Sequence[Data], place: str) -> tuple[Moment, ...]:
    """Follow a place through several results, from the first to the last."""
    found = [
        Moment(
            when=datetime.fromisoformat(data["job"]["started_at"]),
            job=clean(data["job"]["name"]),
            value=spring["free_height_mm"]["value"],
            expanded=spring["free_height_mm"]["expanded_uncertainty"],
            outcome=_outcome(spring),
        )
        for data in results
        for spring in data["springs"]
        if place.casefold() in _names(spring) and _height(spring) is not None
    ]
    return tuple(sorted(found, key=lambda moment: moment.when.timestamp()))


def method_pairs(
    results: Sequence[Data], kind: Characteristic
) -> tuple[tuple[float, float], ...]:
    """Pair photo and hand: values in mm of the springs that have both.

    Squareness from one view is only its part in the picture, so it takes two views.
    """
    least = 2 if kind is Characteristic.SQUARENESS else 1
    key = quantity_key(kind.key, kind.unit)
    return tuple(
        (photo, float(reading["value_mm"]["value"]))
        for data in results
        for spring in data["springs"]
        for reading in spring["readings"]
        if reading["instrument"] == PAIRED[kind].key
        and spring.get("views", 0) >= least
        and (photo := _value(spring, key)) is not None
    )


def _by_kind(data: Data) -> Iterator[tuple[str, list[Data]]]:
    kinds: dict[str, list[Data]] = {}
    for spring in data["springs"]:
        kinds.setdefault(spring["kind"] or "", []).append(spring)
    yield from kinds.items()


def _title(data: Data, kind: str) -> str:
    parts = (data["job"]["name"], kind)
    return ", ".join(clean(part) for part in parts if part)


def _bar(spring: Data) -> Bar:
    quantity = spring.get("free_height_mm") or {}
    word = clean(spring["place"] or "")[:8]
    return Bar(
        label=f"{spring['position']}\n{word}".rstrip(),
        position=spring["position"],
        value=_height(spring),
        expanded=quantity.get("expanded_uncertainty") or 0.0,
        outcome=_outcome(spring),
    )


def _height(spring: Data) -> float | None:
    return _value(spring, "free_height_mm")


def _value(spring: Data, key: str) -> float | None:
    quantity = spring.get(key) or {}
    value: float | None = quantity.get("value")
    return value


def _names(spring: Data) -> set[str]:
    names = (spring["place"], spring["place_text"])
    return {name.casefold() for name in names if name}


def _outcome(spring: Data) -> Outcome | None:
    verdict = spring["verdict"]
    return Outcome[verdict["outcome"].upper()] if verdict else None


def _limit(springs: list[Data], key: str) -> float | None:
    """Find the free height's limit, which springs of one kind share."""
    for spring in springs:
        for decision in (spring["verdict"] or {}).get("decisions", ()):
            if decision["requirement"] == "free_height":
                limit: float | None = decision.get(key)
                return limit
    return None


def _bands(data: Data, kind: str) -> tuple[Band, ...]:
    return tuple(
        Band(
            number=group["number"],
            low=group["lowest_mm"],
            high=group["highest_mm"],
            positions=tuple(group["positions"]),
            doubtful=tuple(group["doubtful"]),
        )
        for result in data["set"]["kinds"]
        if result["kind"] == kind
        for group in result["groups"]
    )


def _load_line(spring: Data) -> LoadLine:
    points = []
    free = _height(spring)
    if free is not None:
        points.append(LoadPoint(height=free, force=0.0, expanded=0.0))
    for reading in spring["readings"]:
        if "value_N" in reading and reading["set_height_mm"] is not None:
            force: dict[str, Any] = reading["value_N"]
            points.append(
                LoadPoint(
                    height=reading["set_height_mm"],
                    force=force["value"],
                    expanded=force["expanded_uncertainty"],
                )
            )
    label = f"{spring['position']} {clean(spring['place'] or '')[:8]}".rstrip()
    ordered = sorted(points, key=lambda point: -point.height)
    return LoadLine(label=label, outcome=_outcome(spring), points=tuple(ordered))


def _asked(data: Data, kind: str) -> tuple[Asked, ...]:
    specification = data["specification"] or {}
    return tuple(
        Asked(
            name=name,
            height=load["height_mm"],
            minimum=load.get("minimum_N"),
            maximum=load.get("maximum_N"),
        )
        for requirements in specification.get("kinds", ())
        if requirements["kind"] == kind
        for name in ("closed", "open")
        if (load := requirements[name]) is not None
    )
