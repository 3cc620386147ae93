"""Archives of every earlier format stay readable."""

import shutil
import tomllib
from pathlib import Path
from typing import Any

import pytest

from vision.archive import shelf
from vision.archive.check import verify
from vision.archive.format import FORMAT
from vision.archive.opening import Archive, open_archive
from vision.archive.search import Wanted, list_entries, trace_springs
from vision.records.judged import Instrument
from vision.records.measured import Characteristic, SpringMeasurement, Unmeasured

CASES = Path(__file__).parents[1] / "cases" / "archives"
EXPECTED = tomllib.loads((CASES / "expected.toml").read_text(encoding="utf-8"))


@pytest.fixture(params=sorted(EXPECTED))
def frozen(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Archive, Any]:
    """A copy of a frozen archive and what it must hold."""
    name: str = request.param
    shutil.copytree(CASES / name, tmp_path / name)
    return open_archive(tmp_path / name), EXPECTED[name]


def test_there_is_a_frozen_archive_of_each_format() -> None:
    """Counting FORMAT up without freezing one is noticed here."""
    assert sorted(EXPECTED) == [f"format-{number}" for number in range(1, FORMAT + 1)]


def test_a_frozen_archive_is_sound(frozen: tuple[Archive, Any]) -> None:
    """Digests, references and lists agree with today's reading of them."""
    archive, _expected = frozen

    assert list(verify(archive)) == []


def test_a_frozen_archive_holds_what_it_held(frozen: tuple[Archive, Any]) -> None:
    """Entries, values, verdicts, places and readings come out as they went in."""
    archive, expected = frozen

    entries = list_entries(archive, Wanted(superseded=True))
    named = [f"{entry.handle.text} {entry.job}" for entry in entries]
    kept = shelf.load(archive, 1, 1).inspection
    heights = [
        spring.values[Characteristic.FREE_HEIGHT].value
        for spring in kept.row.springs
        if isinstance(spring, SpringMeasurement)
    ]
    reasons = [
        spring.reason.value
        for spring in kept.row.springs
        if isinstance(spring, Unmeasured)
    ]
    assert named == expected["entries"]
    assert heights == expected["heights_mm"]
    assert reasons == [expected["unmeasured"]]
    outcomes = [verdict.outcome.text for verdict in kept.verdicts]
    assert outcomes == expected["verdicts"]
    words = [place.word for place in kept.places.values()]
    assert words == expected["places_first"]
    corrected = shelf.load(archive, 1).inspection.places.values()
    assert [place.word for place in corrected] == expected["places_corrected"]


def test_a_frozen_archive_can_be_followed_and_added_to(
    frozen: tuple[Archive, Any],
) -> None:
    """History reads it, and today's program can go on with it."""
    archive, expected = frozen
    kept = shelf.load(archive, 2)

    (line, *_) = trace_springs(archive, place="1I")
    again = shelf.Version(inspection=kept.inspection, given=kept.given, pictures=())
    handle = shelf.follow(archive, kept, again, added_at=kept.entry.added_at)

    caliper = [
        one.value for one in line.hand if one.instrument is Instrument.CALIPER_HEIGHT
    ]
    assert caliper == [expected["caliper_mm"]]
    assert handle.text == "2.2"
    assert list(verify(archive)) == []
