"""Which of the places that are tried count as targets."""

from dataclasses import replace

import pytest

from calib.camera import expected_intrinsics
from calib.target import likely
from calib.target.choose import MISSING_COST
from calib.target.level import Level, middle_copy, middle_level
from calib.target.likely import DOUBTFUL_EXCESS, GOOD_EXCESS, good_ones
from calib.target.search import Place, search_places
from calib.target.settle import Settled, settle_place
from calib.target.try_square import try_square_models
from tests.calib.scene import SQUARE, Scene, reference, take_photo

PHOTO = take_photo(Scene())
INNER = expected_intrinsics(PHOTO)


@pytest.fixture(scope="module")
def level() -> Level:
    return middle_level(PHOTO, middle_copy(PHOTO))


@pytest.fixture(scope="module")
def place() -> Place:
    models = try_square_models(reference(SQUARE))
    return search_places(middle_copy(PHOTO), PHOTO.size_px, models)[0]


@pytest.fixture(scope="module")
def whole(place: Place, level: Level) -> Settled:
    settled = settle_place(place, level, INNER)
    assert settled is not None
    assert not settled.missing
    return settled


def lacking(whole: Settled) -> Settled:
    """The same without its first side."""
    choice = whole.choice
    lines, cost = (None, *choice.lines[1:]), choice.cost + MISSING_COST
    return replace(whole, choice=replace(choice, lines=lines, cost=cost))


def settling(monkeypatch: pytest.MonkeyPatch, *answers: Settled) -> None:
    """Let places settle one after the other as given."""
    settled = iter(answers)
    monkeypatch.setattr(likely, "settle_place", lambda *_: next(settled, None))


@pytest.mark.parametrize("first_lacks", [True, False])
def test_a_place_that_lacks_a_side_gives_way_to_a_whole_one(
    whole: Settled,
    place: Place,
    level: Level,
    monkeypatch: pytest.MonkeyPatch,
    *,
    first_lacks: bool,
) -> None:
    """Settled from too far off the stock's upper edge was missed, from nearer seen."""
    lame = lacking(whole)
    settling(monkeypatch, *((lame, whole) if first_lacks else (whole, lame)))

    assert good_ones((place, place), level, INNER) == [whole]


def test_places_that_lack_a_side_alike_are_no_rivals(
    whole: Settled, place: Place, level: Level, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One target settled twice is one target."""
    lame = lacking(whole)
    settling(monkeypatch, lame, lacking(whole))

    assert good_ones((place, place), level, INNER) == [lame]


def test_what_is_doubtful_is_good_only_where_doubts_are_allowed(
    whole: Settled, place: Place, level: Level, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A thing before a side costs more than a sound target does."""
    cost = 0.5 * (GOOD_EXCESS + DOUBTFUL_EXCESS)
    hidden = replace(whole, choice=replace(whole.choice, cost=cost))

    settling(monkeypatch, hidden)
    assert good_ones((place,), level, INNER) == []
    settling(monkeypatch, hidden)
    assert good_ones((place,), level, INNER, DOUBTFUL_EXCESS) == [hidden]
