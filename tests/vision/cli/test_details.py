"""One spring to the last figure."""

import re

from rich.console import Console

from tests.factories import make_inspection
from vision.cli.details import spring_lines
from vision.output.show import Units


def details(word: str, units: Units = "mm") -> str:
    """All that is told of a spring, on lines as wide as they like."""
    screen = Console(width=400, color_system=None)
    with screen.capture() as written:
        screen.print(*spring_lines(make_inspection(), word, units), sep="\n")
    return written.get()


def test_a_hint_is_told_as_a_hint() -> None:
    """Spring 3 looks redder; that is no finding and no line of the verdict."""
    told, verdict = details("3I").split("Verdict:")

    assert "hint of the picture, no finding: the wire looks redder" in told
    assert "redder" not in verdict
    assert "hint" not in details("1I")


def test_what_follows_from_readings_is_told_with_its_origin() -> None:
    """Rate from both loads, clearance and stress, each with U and where it is from."""
    told = details("1I")

    # (588 - 291) N over (38.9 - 30.1) mm
    assert re.search(r"computed: rate R 33\.8 ± [\d.]+ N/mm, from its own two", told)
    assert re.search(r"computed: shear stress in the wire \d+ ± \d+ MPa, at the", told)


def test_inches_are_told_throughout() -> None:
    """No figure is left in mm or N before its inches or lbf."""
    told = details("1I", "in")

    assert re.search(r"computed: rate R 193 ± \d+ lbf/in", told)
    assert re.search(r"shear stress in the wire \d+ ± \d+ ksi", told)
    assert "tester force at closed height (1.5315 in): 65.4 ± 0.9 lbf by hand" in told
