"""Where springs belong, given left to right in one word: '1I,1E,2I,2E' or '1-4IE'.

A place is a cylinder number, a valve letter ``I`` or ``E`` and, for nested springs, the
coil in small letters, ``o`` outer or ``i`` inner: '3Eo' is cylinder 3 exhaust outer.
'1-4IE' runs through the cylinders, '4-1IE' backwards. A valve that comes twice is
numbered: '1-4IIEE' is intake 1, intake 2, exhaust 1, exhaust 2 of each; '1I2o' names
one of them.
"""

import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from calib.errors import SpecError
from vision.inspection.spec import find_requirements
from vision.records.judged import Requirements, Specification
from vision.records.kept import Place

OPTION = "--places"
ITEM = re.compile(r"(\d{1,2})(?:-(\d{1,2}))?([A-Za-z][A-Za-z0-9]*)", re.ASCII)
VALVES = {"I": "intake", "E": "exhaust"}
COILS = {"o": "outer", "i": "inner"}
EXAMPLE = 'Write it like "1I,1E,2I,2E" or "1-4IE", nested springs like "1-4IoIi"'


@dataclass(frozen=True, slots=True, kw_only=True)
class _Letters:
    """One place's letters without the cylinder."""

    valve: str
    number: str = ""
    coil: str = ""


def parse_places(text: str) -> tuple[Place, ...]:
    """Read the places in the order of the row; raise SpecError."""
    places: list[Place] = []
    for item in text.replace(" ", "").split(","):
        places += _read_item(item)
    counts = Counter(place.word for place in places)
    twice = [word for word, count in counts.items() if count > 1]
    if twice:
        raise SpecError(OPTION, f"place {twice[0]} comes twice", "Name each place once")
    return tuple(places)


def place_springs(text: str, count: int) -> dict[int, Place]:
    """Give each position, 1 leftmost, its place; raise SpecError on a wrong number."""
    places = parse_places(text)
    if len(places) != count:
        words = ", ".join(place.word for place in places)
        raise SpecError(
            OPTION,
            f'"{text}" names {len(places)} places ({words}), the row has {count}',
            "Name one place for each spring; a small i after a valve means inner",
        )
    return dict(enumerate(places, start=1))


def find_kind(specification: Specification, place: Place | None) -> Requirements | None:
    """Find what a spring is held to; raise SpecError where the file cannot say.

    Without a place the file must know one kind of spring only. None for a file that
    asks about the set alone.
    """
    known = ", ".join(kind.kind or "all others" for kind in specification.kinds)
    if not specification.kinds:
        return None
    if place is None:
        if len(specification.kinds) > 1:
            raise SpecError(
                specification.name,
                f"it has several kinds of spring ({known}) and the row has no places",
                'Give --places, like "1-4IE"',
            )
        return specification.kinds[0]
    found = find_requirements(specification, place.kind)
    if found is None:
        raise SpecError(
            specification.name,
            f"it asks nothing of {place.kind} springs ({place.word}), only of: {known}",
            "Correct --places or add the section",
        )
    return found


def assign_kinds(
    places: Mapping[int, Place], specification: Specification
) -> dict[int, Place]:
    """Name in each place the kind of the specification that it is held to."""
    assigned = {}
    for position, place in places.items():
        found = find_kind(specification, place)
        assigned[position] = replace(place, kind=found.kind) if found else place
    return assigned


def find_position(word: str, places: Mapping[int, Place]) -> int:
    """Find a spring by its position '3' or its place '2Io'; raise SpecError."""
    if word.strip().isdecimal():
        return int(word)
    wanted = parse_places(word)
    found = [at for at, place in places.items() if place.word == wanted[0].word]
    if len(wanted) != 1 or not found:
        names = ", ".join(place.word for place in places.values()) or "no places"
        raise SpecError(
            f'"{word}"', f"no spring of the row has this place ({names})", EXAMPLE
        )
    return found[0]


def _read_item(item: str) -> Iterator[Place]:
    match = ITEM.fullmatch(item)
    if match is None:
        raise SpecError(OPTION, f'"{item}" is not a place', EXAMPLE)
    first, last = int(match[1]), int(match[2] or match[1])
    if 0 in {first, last}:
        raise SpecError(OPTION, f'"{item}": cylinders count from 1', EXAMPLE)
    letters = _numbered(_read_letters(match[3], item))
    step = 1 if last >= first else -1
    for cylinder in range(first, last + step, step):
        for each in letters:
            yield _place(cylinder, each)


def _read_letters(text: str, item: str) -> list[_Letters]:
    """Read 'IoIi', 'IE', 'I2'; a small i after a valve without coil is its coil."""
    found: list[_Letters] = []
    for sign in text:
        last = found[-1] if found else None
        coil = sign.lower() if sign in "oOi" else ""
        if last and coil and not last.coil:
            found[-1] = replace(last, coil=coil)
        elif sign.upper() in VALVES:
            found.append(_Letters(valve=sign.upper()))
        elif last and sign in "123456789" and not last.number + last.coil:
            found[-1] = replace(last, number=sign)
        else:
            raise SpecError(OPTION, f'"{item}": "{sign}" fits nothing there', EXAMPLE)
    return found


def _numbered(letters: list[_Letters]) -> list[_Letters]:
    """Add numbers to the valves of one cylinder where a valve comes again."""
    counts = Counter((each.valve, each.coil, each.number) for each in letters)
    several = {valve for (valve, _, _), count in counts.items() if count > 1}
    seen: Counter[tuple[str, str]] = Counter()
    numbered = []
    for each in letters:
        seen[each.valve, each.coil] += 1
        auto = str(seen[each.valve, each.coil]) if each.valve in several else ""
        numbered.append(replace(each, number=each.number or auto))
    return numbered


def _place(cylinder: int, letters: _Letters) -> Place:
    valve, coil = VALVES[letters.valve], COILS.get(letters.coil, "")
    words = ["cylinder", str(cylinder), valve, letters.number, coil]
    return Place(
        word=f"{cylinder}{letters.valve}{letters.number}{letters.coil}",
        text=" ".join(word for word in words if word),
        kind=f"{valve} {coil}".strip(),
    )
