"""How springs are called and ordered on a sheet."""

import re
from collections.abc import Iterable

from vision.records.judged import (
    Outcome,
    Requirements,
    SpringVerdict,
)
from vision.records.kept import Inspection, Place
from vision.records.measured import SpringMeasurement

NOT_JUDGED = "not judged"
LONGEST_WORD = 5  # characters of a place that fit on a figure


def spring_label(position: int, places: dict[int, Place]) -> str:
    """Call a spring by its number in the row and its place: '3 · 2E'."""
    place = places.get(position)
    if place is None or not place.word:
        return str(position)
    word = place.word
    short = word if len(word) <= LONGEST_WORD else f"{word[: LONGEST_WORD - 1]}…"
    return f"{position} · {short}"


def spring_labels(inspection: Inspection) -> dict[int, str]:
    """Call every spring of the row."""
    places = inspection.places
    return {
        spring.position: spring_label(spring.position, places)
        for spring in inspection.row.springs
    }


def by_place(inspection: Inspection) -> tuple[int, ...]:
    """Order positions by place, numbers as numbers; those without one come last."""

    def key(position: int) -> tuple[bool, tuple[tuple[int, str], ...], int]:
        place = inspection.places.get(position)
        return place is None, _natural(place.word if place else ""), position

    return tuple(sorted((s.position for s in inspection.row.springs), key=key))


def verdicts_by_position(inspection: Inspection) -> dict[int, SpringVerdict]:
    """Find each spring's verdict."""
    return {verdict.position: verdict for verdict in inspection.verdicts}


def outcomes_by_position(inspection: Inspection) -> dict[int, Outcome]:
    """Find each spring's outcome."""
    return {verdict.position: verdict.outcome for verdict in inspection.verdicts}


def kind_of(position: int, inspection: Inspection) -> str:
    """Name the kind of spring that a place holds."""
    place = inspection.places.get(position)
    if place is not None:
        return place.kind
    verdict = verdicts_by_position(inspection).get(position)
    return verdict.kind if verdict else ""


def asked_of(kind: str, inspection: Inspection) -> Requirements | None:
    """Find what the specification asks of one kind."""
    if inspection.specification is None:
        return None
    kinds = inspection.specification.kinds
    return next((asked for asked in kinds if asked.kind == kind), None)


def kinds_in(inspection: Inspection) -> tuple[str, ...]:
    """List the kinds of the row in the order of their places."""
    kinds = (kind_of(position, inspection) for position in by_place(inspection))
    return tuple(dict.fromkeys(kinds))


def measured(inspection: Inspection) -> dict[int, SpringMeasurement]:
    """Find the springs that were measured."""
    return {
        spring.position: spring
        for spring in inspection.row.springs
        if isinstance(spring, SpringMeasurement)
    }


def numbers_text(positions: Iterable[int]) -> str:
    """Join spring numbers: '2, 5 and 7'."""
    words = [str(position) for position in positions]
    if len(words) < 2:  # noqa: PLR2004
        return "".join(words)
    return f"{', '.join(words[:-1])} and {words[-1]}"


def springs_text(positions: tuple[int, ...]) -> str:
    """Name springs by number: 'spring 2', 'springs 2, 5 and 7'."""
    noun = "spring" if len(positions) == 1 else "springs"
    return f"{noun} {numbers_text(positions)}"


def _natural(word: str) -> tuple[tuple[int, str], ...]:
    pieces = re.findall(r"(\d+)|(\D+)", word)
    return tuple((int(digits or 0), other) for digits, other in pieces)
