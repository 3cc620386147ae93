"""Places in one word: what they name, and clear refusals."""

from pathlib import Path

import pytest

from calib.errors import SpecError
from vision.inspection.places import (
    assign_kinds,
    find_kind,
    find_position,
    parse_places,
    place_springs,
)
from vision.inspection.spec import load_specification
from vision.records.judged import Specification

TWO_KINDS = (
    '[intake.free_height]\nmin = "47 mm"\n[exhaust.free_height]\nmin = "46 mm"\n'
)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1I,1E,2I,2E", "1I 1E 2I 2E"),
        ("1i, 1e", "1I 1E"),
        ("1-4IE", "1I 1E 2I 2E 3I 3E 4I 4E"),
        ("1-2EI", "1E 1I 2E 2I"),
        ("4-1I", "4I 3I 2I 1I"),
        ("1-2IoIi", "1Io 1Ii 2Io 2Ii"),
        ("1-2IOEO", "1Io 1Eo 2Io 2Eo"),
        ("1-2ioii", "1Io 1Ii 2Io 2Ii"),
        ("1IIEE", "1I1 1I2 1E1 1E2"),
        ("1I1,1I2", "1I1 1I2"),
        ("1I2o,1I2i", "1I2o 1I2i"),
        ("1IoIiIoIi", "1I1o 1I1i 1I2o 1I2i"),
        ("12E,11E", "12E 11E"),
        ("1-3I,1E", "1I 2I 3I 1E"),
    ],
)
def test_reads_places_in_the_order_of_the_row(text: str, words: str) -> None:
    """Singly, in runs, backwards, nested, and several valves to a cylinder."""
    assert " ".join(place.word for place in parse_places(text)) == words


def test_place_says_itself_in_words() -> None:
    """'1Io' is cylinder 1 intake outer, held to 'intake outer'."""
    outer, second = parse_places("1Io,3E2")

    assert (outer.text, outer.kind) == ("cylinder 1 intake outer", "intake outer")
    assert (second.text, second.kind) == ("cylinder 3 exhaust 2", "exhaust")


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("", '"" is not a place'),
        ("1", '"1" is not a place'),
        ("I1", '"I1" is not a place'),
        ("1X", '"X" fits nothing there'),
        ("1o", '"o" fits nothing there'),
        ("1Ioo", '"o" fits nothing there'),
        ("1I0", '"0" fits nothing there'),
        ("0I", "cylinders count from 1"),
        ("1-0I", "cylinders count from 1"),
        ("1I,1I", "place 1I comes twice"),
        ("1I,,2I", '"" is not a place'),
        ("1-4", '"1-4" is not a place'),
    ],
)
def test_refuses_what_is_no_place(text: str, fault: str) -> None:
    """Each fault names what does not fit and how to write it."""
    with pytest.raises(SpecError) as refusal:
        parse_places(text)

    assert str(refusal.value).startswith("--places: ")
    assert fault in str(refusal.value)


def test_positions_run_from_one() -> None:
    """Four places for four springs."""
    places = place_springs("1-2IE", 4)

    assert [places[position].word for position in (1, 2, 3, 4)] == [
        "1I",
        "1E",
        "2I",
        "2E",
    ]


def test_refuses_a_number_of_places_that_is_not_the_rows() -> None:
    """A small i read as inner halves the number, and is refused with a hint."""
    with pytest.raises(SpecError, match=r"names 2 places \(1Ei, 2Ei\), the row has 4"):
        place_springs("1-2ei", 4)


@pytest.fixture
def two_kinds(tmp_path: Path) -> Specification:
    """Load a specification for intake and exhaust."""
    path = tmp_path / "SPEC.toml"
    path.write_text(TWO_KINDS, encoding="utf-8")
    return load_specification(path)


def test_places_take_the_specifications_kind(two_kinds: Specification) -> None:
    """An outer intake spring is held to [intake]."""
    places = assign_kinds(place_springs("1Io,1E", 2), two_kinds)

    assert [place.kind for place in places.values()] == ["intake", "exhaust"]


def test_several_kinds_need_places(two_kinds: Specification) -> None:
    """Without a place nobody knows which limits hold."""
    with pytest.raises(SpecError, match=r"several kinds of spring \(intake, exhaust\)"):
        find_kind(two_kinds, None)


def test_place_that_the_specification_does_not_know_is_refused(tmp_path: Path) -> None:
    """Exhaust springs against a file for intake only."""
    path = tmp_path / "SPEC.toml"
    path.write_text('[intake.free_height]\nmin = "47 mm"\n', encoding="utf-8")
    specification = load_specification(path)

    with pytest.raises(SpecError, match=r"asks nothing of exhaust springs \(1E\)"):
        find_kind(specification, parse_places("1E")[0])


def test_one_kind_serves_springs_without_places(tmp_path: Path) -> None:
    """A plain file holds for every spring of the row."""
    path = tmp_path / "SPEC.toml"
    path.write_text('[free_height]\nmin = "47 mm"\n', encoding="utf-8")

    assert find_kind(load_specification(path), None).free_height.minimum == 47.0


def test_file_about_the_set_alone_asks_nothing_of_a_spring(tmp_path: Path) -> None:
    """Only [matching]: no requirements for a single spring."""
    path = tmp_path / "SPEC.toml"
    path.write_text('[matching]\nspread_max = "1 mm"\n', encoding="utf-8")
    specification = load_specification(path)

    assert find_kind(specification, None) is None
    assert assign_kinds(place_springs("1I", 1), specification)[1].kind == "intake"


def test_finds_a_spring_by_position_or_place() -> None:
    """'3' and '2i' name the third spring of 1I, 1E, 2I, 2E."""
    places = place_springs("1-2IE", 4)

    assert find_position("3", places) == 3
    assert find_position("2i", places) == 3


@pytest.mark.parametrize("word", ["3I", "1-2I"])
def test_refuses_a_place_that_is_not_in_the_row(word: str) -> None:
    """Cylinder 3, or two places at once, name no spring."""
    with pytest.raises(
        SpecError, match=r"no spring of the row has this place \(1I, 1E"
    ):
        find_position(word, place_springs("1-2IE", 4))
