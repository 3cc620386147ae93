"""Lists, histories, checks and exports say what is kept."""

import json
from pathlib import Path

import pytest

from tests.commands import Bench, bench

__all__ = ["bench"]


def _wide(text: str) -> list[str]:
    return [line for line in text.splitlines() if len(line) > 80]


def test_lists_find_and_show_keep_to_80_columns(bench: Bench) -> None:
    """Whatever the names, in both units."""
    bench.add("--date", "2025-06-01", job="a job with a remarkably long name " * 3)
    bench.add("--finding", "1I=none", job="[bold]head\x1b[2J")
    bench.run("readings", "2", "1I", "closed_force", "291 N", "--at", "38.9 mm")

    for words in (
        ("list", "--versions"),
        ("find",),
        ("find", "--units", "in"),
        ("history", "1I"),
        ("history", "--engine", "Brook 1600", "--units", "in"),
        ("show", "2"),
        ("show", "2", "1I", "--units", "in"),
    ):
        ran = bench.run(*words)
        assert ran.code == 0
        assert _wide(ran.out) == []
        assert "\x1b[2J" not in ran.out
    assert "[bold]head" in bench.run("list").out


def test_lists_stop_at_the_limit_and_say_so(bench: Bench) -> None:
    """The newest come first; --all shows the rest."""
    for day in (1, 2, 3):
        bench.add("--date", f"2025-06-0{day}", job=f"job {day}")

    some, every = bench.run("list", "--limit", "2"), bench.run("list", "--all")

    assert "job 3" in some.out
    assert "job 1" not in some.out
    assert "There are more inspections" in some.out
    assert "job 1" in every.out
    assert "There are more" not in every.out


def test_find_narrows_down(bench: Bench) -> None:
    """Verdict, day and place are all asked for."""
    bench.add("--date", "2025-06-01", job="early")
    bench.add("--date", "2026-02-28T15:30", job="late")

    ran = bench.run("find", "--verdict", "reject", "--date", "2026-02", "--json")
    none = bench.run("find", "--place", "7E")

    (spring,) = json.loads(ran.out)["springs"]
    assert (spring["place"], spring["date"]) == ("2I", "2026-02-28")
    assert spring["free_height_mm"]["value"] == 46.68
    assert none.code == 0
    assert none.out == "No spring is kept that fits.\n"


@pytest.mark.parametrize("date", ["2026-13", "2026-02-30", "soon", "1..2..3"])
def test_dates_that_are_none_are_wrong_usage(bench: Bench, date: str) -> None:
    """They are said before anything is looked for."""
    bench.add()

    ran = bench.run("find", "--date", date)

    assert ran.code == 2
    assert "is no date" in ran.err


def test_history_shows_the_change_with_its_uncertainty(bench: Bench) -> None:
    """From 47.88 to 46.68 mm at place 2I, each with U 0.07 mm (JCGM 100, 5.1.2)."""
    bench.add("--date", "2025-06-01", job="early", places="8-1I")
    bench.add("--date", "2026-06-01", job="late")

    ran = bench.run("history", "2I")
    lines = json.loads(bench.run("history", "2I", "--json").out)["springs"]

    assert "−1.20 ± 0.09 !" in ran.out
    assert [line["position"] for line in lines] == [7, 2]
    assert lines[0]["change_mm"] is None
    assert lines[1]["change_mm"]["value"] == pytest.approx(46.68 - 47.88)
    both = [line["free_height_mm"]["expanded_uncertainty"] for line in lines]
    expected = (both[0] ** 2 + both[1] ** 2) ** 0.5
    assert lines[1]["change_mm"]["expanded_uncertainty"] == pytest.approx(expected)


def test_history_of_nothing_names_the_engines(bench: Bench) -> None:
    """A name typed in part is not taken for the whole."""
    bench.add()

    ran = bench.run("history", "2I", "--engine", "Brook")

    assert ran.code == 3
    assert "keeps nothing of 2I of Brook. Name a place like 2E" in ran.err
    assert "one of its engines: Brook 1600." in ran.err


def test_show_traces_a_verdict_to_its_figures(bench: Bench) -> None:
    """Value, limit, why and what to do stand together."""
    bench.add()

    ran = bench.run("show", "1", "2I")

    assert "Verdict: ✗ reject" in ran.out
    assert "free height L0; 46.68 ± 0.07 mm; asked at least 47.1 mm" in ran.out
    assert "to do: " in ran.out


def test_show_names_no_spring_that_is_not_there(bench: Bench) -> None:
    """Of a ninth spring in a row of eight nothing is shown, not even a heading."""
    bench.add()

    ran = bench.run("show", 1, 9)

    assert (ran.code, ran.out) == (3, "")
    assert "there is no spring 9: the row has 8" in ran.err


def test_show_as_json_holds_everything(bench: Bench) -> None:
    """Versions, pictures and the budget of each value."""
    bench.add()
    bench.run("findings", "1", "all", "none")

    data = json.loads(bench.run("show", "1", "--json").out)

    assert [one["inspection"] for one in data["versions"]] == ["1.2", "1.1"]
    assert [one["role"] for one in data["pictures"]] == ["row", "overlay"]
    height = data["result"]["springs"][0]["free_height_mm"]
    assert {part["source"] for part in height["influences"]} == {
        "scale",
        "free_height 1",
    }


def test_verify_tells_sound_from_altered(bench: Bench) -> None:
    """An altered byte is exit code 3 and names the file."""
    bench.add()
    sound = bench.run("verify")
    original = next(path for path in (bench.archive / "originals").rglob("*/*"))
    original.write_bytes(original.read_bytes()[:-1] + b"?")

    altered = bench.run("verify")
    data = json.loads(bench.run("verify", "--json").out)
    correction = bench.run("findings", "1", "1I", "none")

    assert sound.code == 0
    assert sound.out.startswith("All is as it was kept. Inspections 1, versions 1,")
    assert altered.code == 3
    assert f"FAULT  {original}: was altered" in altered.out
    assert data["sound"] is False
    assert data["doubts"][0]["where"] == str(original)
    assert correction.code == 3
    assert "was altered" in correction.err


def test_export_writes_what_stands_alone(bench: Bench) -> None:
    """CSV and JSON over all inspections, and a folder for each."""
    bench.add(job="head 12 / left: =1+1")
    bench.add(job="=1+1")
    paths = [bench.folder / name for name in ("all.csv", "all.json", "out")]

    ran = bench.run(
        "export", "--csv", paths[0], "--json", paths[1], "--folder", paths[2]
    )

    assert ran.code == 0
    lines = paths[0].read_text(encoding="utf-8-sig").splitlines()
    assert len(lines) == 17
    assert lines[1].startswith("2.1,'=1+1,Brook 1600,")
    listed = json.loads(paths[1].read_text())["inspections"]
    assert [one["entry"]["inspection"] for one in listed] == ["2.1", "1.1"]
    names = sorted(path.name for path in paths[2].iterdir())
    assert names == ["1.1-head-12-left-1-1", "2.1-1-1"]
    files = {path.name for path in (paths[2] / "2.1-1-1").iterdir()}
    assert {"invented-row.png", "sheet.html", "springs.csv", "SHA256SUMS"} <= files


def test_export_overwrites_nothing(bench: Bench) -> None:
    """What stands there stays, and no part of a file is left."""
    bench.add()
    target = bench.folder / "all.csv"
    target.write_text("mine")

    ran = bench.run("export", "--csv", target)
    none = bench.run("export")
    lost = bench.run("export", "--csv", bench.folder / "no" / "all.csv")

    assert ran.code == 3
    assert "not overwritten" in ran.err
    assert target.read_text() == "mine"
    assert none.code == 2
    assert lost.code == 3
    assert [path for path in bench.folder.iterdir() if path.suffix == ".part"] == []


def test_reading_an_archive_changes_no_file(bench: Bench) -> None:
    """Lists and checks leave every byte as it was."""
    bench.add()
    before = _bytes_of(bench.archive)

    for words in (("list",), ("find",), ("history", "1I"), ("show", "1"), ("verify",)):
        assert bench.run(*words).code == 0

    assert _bytes_of(bench.archive) == before


def _bytes_of(folder: Path) -> dict[str, bytes]:
    return {
        str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }
