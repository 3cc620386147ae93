"""Long lists are laid out within the terminal, and quickly."""

import time

import pytest
from rich.text import Text

from vision.cli.pages import FIXED, WRAPPED, print_pages

COLUMNS = {"No.": FIXED, "name": WRAPPED, "L0": FIXED}


def shown(
    capsys: pytest.CaptureFixture[str], *rows: tuple[str | Text, ...]
) -> list[str]:
    """What is printed of these rows, line by line."""
    print_pages(COLUMNS, rows)
    return capsys.readouterr().out.splitlines()


def test_columns_are_as_wide_as_what_they_hold(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Headings, a rule of the table's width, then a line a row."""
    lines = shown(capsys, ("1.1", "short", "47.8 ± 0.1"), ("12.1", "longer", "–"))

    assert lines == [
        "No.   name    L0",
        "─" * 24,
        "1.1   short   47.8 ± 0.1",
        "12.1  longer  –",
    ]


def test_names_give_way_before_numbers(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 30 cells the name goes on over several lines, the numbers stay whole."""
    monkeypatch.setenv("COLUMNS", "30")

    lines = shown(capsys, ("1.1", "a rather long name of a job", "47.8 ± 0.1"))

    assert all(len(line) <= 30 for line in lines)
    assert lines[2].startswith("1.1  a rather")
    assert lines[2].endswith("47.8 ± 0.1")
    assert len(lines) > 3


def test_no_terminal_is_too_narrow(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 12 cells numbers break, too, and nothing is lost."""
    monkeypatch.setenv("COLUMNS", "12")

    lines = shown(capsys, ("1.1", "name", "47.8 ± 0.1"))

    assert all(len(line) <= 12 for line in lines)
    assert "".join("".join(lines[2:]).split()).count("7") == 1


def test_wide_letters_take_two_cells(capsys: pytest.CaptureFixture[str]) -> None:
    """Columns line up behind a name of wide letters."""
    lines = shown(capsys, ("1", "発条", "x"), ("2", "abcd", "y"))

    assert lines[2] == "1    発条  x"
    assert lines[3] == "2    abcd  y"


def test_names_cannot_steer_the_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """Control characters of a name are replaced."""
    lines = shown(capsys, ("1", "a\x1b[31mb", "x"))

    assert "\x1b" not in lines[2]


def test_ten_thousand_rows_take_little_time(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Laid out at under 0.1 ms a row; a general layout engine took 0.6 ms."""
    rows = [(str(at), f"engine {at % 50}", "47.80 ± 0.10") for at in range(10_000)]
    begun = time.process_time()

    count = print_pages(COLUMNS, rows)

    took_s = time.process_time() - begun
    assert len(capsys.readouterr().out.splitlines()) > 10_000
    assert count == 10_000
    assert took_s < 1.0
