"""Adding and correcting keep what was entered, and nothing of a mistake."""

from dataclasses import replace
from io import BytesIO

import pytest
from PIL import Image

from calib.errors import ArchiveError
from tests.commands import Bench, bench, freestand
from vision.archive.files import load_picture
from vision.archive.opening import open_archive
from vision.cli import keeping
from vision.output.overlay import draw_overlay
from vision.records.judged import Finding, Findings, Instrument, Outcome
from vision.records.kept import Change, Kept, Role

__all__ = ["bench"]


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
        (("--date", "yesterday"), '"yesterday" is no day. Write it like 2026-11-28'),
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


def _interrupted(bench: Bench, entry: tuple[int, int | None]) -> str:
    """Enter a finding while another person enters one in the middle of it."""
    others = [("findings", "1", "2I", "crack")]

    def revise(kept: Kept) -> keeping.Revision:
        if others:
            bench.run(*others.pop())
        entries = keeping.entries_of(kept.inspection)
        fresh = {**entries.findings, 1: Findings(found=(Finding.NONE,))}
        return keeping.Revision(
            change=Change.FINDINGS,
            note="",
            entries=replace(entries, findings=fresh),
            specification=kept.inspection.specification,
        )

    archive = open_archive(bench.archive)
    handle, _inspection = keeping.correct(archive, entry, revise)
    return handle.text


def test_two_corrections_at_once_are_both_kept(bench: Bench) -> None:
    """The slower one is made again on top of the faster one."""
    bench.add()

    handle = _interrupted(bench, (1, None))

    found = bench.kept().inspection.findings
    assert handle == "1.3"
    assert found[1].found == (Finding.NONE,)
    assert found[2].found == (Finding.CRACK,)


def test_a_named_version_is_not_corrected_twice(bench: Bench) -> None:
    """Whoever names a version means that one; it is said that it has a follower."""
    bench.add()

    with pytest.raises(ArchiveError, match=r"newer version than 1\.1"):
        _interrupted(bench, (1, 1))
