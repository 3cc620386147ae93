"""The archive's commands say and keep what they should."""

import json
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from tests.commands import Bench, bench, freestand
from vision.archive.files import load_picture
from vision.archive.opening import open_archive
from vision.cli import keeping
from vision.output.overlay import draw_overlay
from vision.records.judged import Finding, Instrument, Outcome
from vision.records.kept import Change, Role

__all__ = ["bench"]


def _wide(text: str) -> list[str]:
    return [line for line in text.splitlines() if len(line) > 80]


def test_add_keeps_photo_overlay_and_verdicts(bench: Bench) -> None:
    """All that was given and made stands in the archive, and the line says so."""
    ran = bench.add("--note", "before machining", "--finding", "6I=crack")

    kept = bench.kept()
    assert ran.code == 1  # one is rejected, others are due
    assert ran.out.startswith("Kept as 1.1: head 12, Brook 1600; 8 springs: 2 reject")
    assert kept.inspection.job.note == "before machining"
    assert kept.inspection.places[6].text == "cylinder 6 intake"
    assert kept.inspection.findings[6].found == (Finding.CRACK,)
    assert kept.inspection.specification is not None
    assert kept.given.distance_mm == 700.0
    roles = {one.role: one for one in kept.pictures}
    archive = open_archive(bench.archive)
    original = load_picture(archive.folder, roles[Role.ROW])
    assert original == bench.photo.read_bytes()
    overlay = load_picture(archive.folder, roles[Role.OVERLAY])
    assert b"springs" in Image.open(BytesIO(overlay)).info["xmp"]


def test_the_kept_overlay_is_drawn_on_the_kept_photo(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a correction it is drawn anew from the archive's own original."""
    monkeypatch.setattr(keeping, "draw_overlay", draw_overlay)
    bench.add()
    bench.photo.unlink()

    bench.run("findings", "1", "1I", "crack")

    archive = open_archive(bench.archive)
    drawn = [
        load_picture(archive.folder, bench.kept(1, version).pictures[-1])
        for version in (1, 2)
    ]
    pictures = [Image.open(BytesIO(one)) for one in drawn]
    assert pictures[0].size[0] == pictures[1].size[0] == 3200
    assert drawn[0] != drawn[1]


def test_add_makes_nothing_when_it_cannot_judge(bench: Bench) -> None:
    """Wrong places are said before an archive comes to be."""
    ran = bench.add(places="1-4I")

    assert ran.code == 3
    assert "names 4 places" in ran.err
    assert not bench.archive.exists()


def test_add_refuses_a_photo_that_changed_meanwhile(bench: Bench) -> None:
    """What is kept are the bytes that were measured."""
    bench.photo.write_bytes(bench.photo.read_bytes() + b"!")

    ran = bench.add()

    assert ran.code == 3
    assert "changed while it was being measured" in ran.err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--calibration", "cal.json"), "either --reference or --calibration"),
        (("--job", "  "), "empty name"),
        (("--date", "yesterday"), "yesterday"),
    ],
)
def test_add_says_what_is_wrong_with_its_options(
    bench: Bench, words: tuple[str, ...], said: str
) -> None:
    """Wrong usage is exit code 2."""
    ran = bench.add(*words)

    assert ran.code == 2
    assert said in " ".join(ran.err.replace("│", " ").split())


@pytest.mark.usefixtures("bench")
def test_no_archive_named_is_wrong_usage() -> None:
    """The sentence names all three ways to name one."""
    ran = freestand("list")

    said = " ".join(ran.err.replace("│", " ").split())
    assert ran.code == 2
    assert "--archive" in said
    assert "FREESTAND_ARCHIVE" in said
    assert "settings.toml" in said


def test_the_settings_file_names_the_archive(bench: Bench) -> None:
    """One line there spares the option; a broken file is said."""
    bench.add()
    settings = bench.folder / "config" / "freestand" / "settings.toml"
    settings.parent.mkdir(parents=True)
    settings.write_text(f'archive = "{bench.archive.as_posix()}"\n')
    assert freestand("list").out.count("head 12") == 1

    settings.write_text("archive = ")
    broken = freestand("list")

    assert broken.code == 3
    assert "settings.toml: cannot be read as settings" in broken.err


def test_units_are_remembered_by_the_archive(bench: Bench) -> None:
    """--units given to add holds for the lists after it; one list can ask otherwise."""
    bench.add("--units", "in")

    assert "L0 in" in bench.run("find").out
    assert "L0 mm" in bench.run("find", "--units", "mm").out
    assert "L0 in" in bench.run("find").out


def test_findings_make_a_new_version(bench: Bench) -> None:
    """A crack rejects; the version before is as it was."""
    bench.add()

    ran = bench.run("findings", "1", "4I", "crack,heat", "--note", "third coil")

    old, new = bench.kept(1, 1).inspection, bench.kept().inspection
    assert ran.out.startswith("Kept as 1.2")
    assert new.findings[4].found == (Finding.CRACK, Finding.HEAT)
    assert new.findings[4].note == "third coil"
    assert new.verdicts[3].outcome is Outcome.REJECT
    assert old.findings == {}
    assert bench.kept().entry.change is Change.FINDINGS


def test_findings_for_all_spare_what_was_entered(bench: Bench) -> None:
    """ "all" means those that nobody looked at yet."""
    bench.add("--finding", "6I=crack")

    bench.run("findings", "1", "all", "none")

    found = bench.kept().inspection.findings
    assert found[6].found == (Finding.CRACK,)
    assert {found[at].found for at in (1, 2, 3, 4, 5, 7, 8)} == {(Finding.NONE,)}


def test_readings_lead_to_an_accepted_spring(bench: Bench) -> None:
    """With looking and load nothing is due any more; the old overlay is not the new."""
    bench.add("--finding", "1I=none")

    bench.run("readings", "1", "1I", "closed_force", "291 N", "--at", "38.9 mm")
    bench.run(
        *("readings", "1", "1I", "caliper_height", "48.1 mm"),
        *("--uncertainty", "0.05 mm"),
    )

    kept = bench.kept()
    instruments = [one.instrument for one in kept.inspection.readings[1]]
    assert instruments == [Instrument.CLOSED_FORCE, Instrument.CALIPER_HEIGHT]
    assert kept.inspection.verdicts[0].outcome is Outcome.ACCEPT
    assert bench.kept(1, 1).inspection.verdicts[0].outcome is Outcome.STILL_DUE
    assert kept.pictures[-1].sha256 != bench.kept(1, 1).pictures[-1].sha256


def test_readings_come_from_a_table(bench: Bench) -> None:
    """Each line goes to its place."""
    bench.add()
    table = bench.folder / "readings.csv"
    table.write_text(
        "place_or_position,instrument,value,set_height,expanded_uncertainty\n"
        "2I,caliper_height,46.7 mm,,0.05 mm\n"
        "3,closed_force,60 lbf,1.53 in,\n"
    )

    bench.run("readings", "1", "--csv", table)

    read = bench.kept().inspection.readings
    assert read[2][0].value == 46.7
    assert read[3][0].value == pytest.approx(60 * 4.4482216, rel=1e-6)
    assert bench.kept().entry.note == "readings.csv"


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("readings", "1"), 2, "SPRING, INSTRUMENT and VALUE, or --csv"),
        (("readings", "1", "9", "caliper_height", "48 mm"), 3, "no spring 9"),
        (("readings", "1", "1I", "ruler", "48 mm"), 3, "is no instrument"),
        (("findings", "1", "1E", "none"), 3, "no spring of the row has this place"),
        (("findings", "1", "1I", "dust"), 3, "is no finding"),
        (("findings", "9", "1I", "none"), 3, "up to number 1, not 9"),
        (("findings", "one", "1I", "none"), 2, "is no inspection"),
        (("places", "1", "1-4I"), 3, "names 4 places"),
        (("show", "1", "9I"), 3, "no spring of the row has this place"),
    ],
)
def test_wrong_entries_are_said_and_keep_nothing(
    bench: Bench, words: tuple[str, ...], code: int, said: str
) -> None:
    """No new version comes of a mistake."""
    bench.add()

    ran = bench.run(*words)

    assert ran.code == code
    assert said in " ".join(ran.err.replace("│", " ").split())
    assert bench.kept().entry.handle.text == "1.1"


def test_places_are_corrected_without_measuring(bench: Bench) -> None:
    """The row read from the wrong end: values stay with their springs."""
    bench.add("--finding", "1I=crack")

    bench.run("places", "1", "8-1I")

    old, new = bench.kept(1, 1).inspection, bench.kept().inspection
    assert new.places[1].word == "8I"
    assert new.findings[1].found == (Finding.CRACK,)
    heights = [row.springs[0].values for row in (old.row, new.row)]
    assert heights[0] == heights[1]


def test_judging_again_by_another_specification(bench: Bench) -> None:
    """What was rejected conforms to a wider limit."""
    bench.add()
    bench.spec.write_text('[free_height]\nmin = "46 mm"\n')

    bench.run("judge", "1", "--spec", bench.spec)

    old, new = bench.kept(1, 1).inspection, bench.kept().inspection
    assert old.verdicts[1].outcome is Outcome.REJECT
    assert new.verdicts[1].outcome is Outcome.STILL_DUE


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
    assert "keeps nothing of 2I of Brook. Its engines are: Brook 1600." in ran.err


def test_show_traces_a_verdict_to_its_figures(bench: Bench) -> None:
    """Value, limit, why and what to do stand together."""
    bench.add()

    ran = bench.run("show", "1", "2I")

    assert "Verdict: ✗ reject" in ran.out
    assert "free height L0; 46.68 ± 0.07 mm; asked at least 47.1 mm" in ran.out
    assert "to do: " in ran.out


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
