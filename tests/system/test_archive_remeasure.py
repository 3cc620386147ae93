"""Kept pictures are measured again with today's program, beside the old values."""

import json
from dataclasses import replace

import pytest

from calib.errors import TargetError
from calib.records import Calibration, Photo
from tests.commands import Bench, bench
from tests.factories import make_calibration, make_measurement, make_row
from vision.cli import adding, measuring_again
from vision.cli.inputs import Measured
from vision.records.kept import Change
from vision.records.measured import Row

__all__ = ["bench"]


def _today(photo: Photo, calibration: Calibration) -> Row:
    """Measure as a later program might: spring 3 is 0.2 mm taller, 5 is measured."""
    row = make_row()
    springs = list(row.springs)
    springs[2] = make_measurement(3, height_mm=48.16)
    springs[4] = make_measurement(5)
    assert calibration.residual_px == 0.5
    return replace(row, springs=tuple(springs), photo_names=(photo.name,))


def _calibrate(photo: Photo, *_: object, **given: object) -> Calibration:
    """Calibrate anew, with what was given when the picture was added."""
    assert photo.name == "invented-row.png"
    assert given == {"lens": None, "distance_mm": 700.0}
    return replace(make_calibration(), residual_px=0.5)


@pytest.fixture
def later(bench: Bench, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """The bench with a later program."""
    monkeypatch.setattr(measuring_again, "measure_row", _today)
    monkeypatch.setattr(measuring_again, "calibrate", _calibrate)
    monkeypatch.setattr(measuring_again.keeping, "program_version", lambda: "9.9")
    return bench


def test_what_differs_is_marked_and_nothing_is_kept(later: Bench) -> None:
    """Springs 3 and 5 differ; the archive stays as it was."""
    later.add()

    ran = later.run("remeasure", "1")
    data = json.loads(later.run("remeasure", "--all", "--json").out)

    (one,) = data["inspections"]
    assert ran.code == 1
    assert "47.96 ± 0.07" in ran.out
    assert "48.16 ± 0.07" in ran.out
    assert [row["spring"] for row in one["springs"] if row["differs"]] == [
        "3 3I",
        "5 5I",
    ]
    assert one["springs"][4]["old"]["unmeasured"] == "touches its neighbour"
    assert one["springs"][4]["new"]["unmeasured"] is None
    assert max(map(len, ran.out.splitlines())) <= 80
    assert later.kept().entry.handle.text == "1.1"


def test_kept_results_are_a_new_version(later: Bench) -> None:
    """The entries go along, the old values stay in the old version."""
    later.add("--finding", "3I=none")

    ran = later.run("remeasure", "1", "--keep")

    kept = later.kept()
    assert "kept as 1.2" in ran.out
    assert kept.entry.change is Change.REMEASURED
    assert kept.inspection.program_version == "9.9"
    assert kept.inspection.findings == later.kept(1, 1).inspection.findings
    assert kept.inspection.row.springs[2].position == 3
    old = later.kept(1, 1).inspection.row
    assert old.calibration.residual_px == 0.11
    assert kept.pictures[0] == later.kept(1, 1).pictures[0]


def test_the_kept_calibration_serves_where_its_photo_is_not_kept(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A target that stood in another photo cannot be measured again."""
    row = make_row()
    elsewhere = replace(row.calibration, photo_sha256="0" * 64, residual_px=0.5)
    measured = Measured(
        photos=adding.measure_photos(None, None, None, None).photos,
        row=replace(row, calibration=elsewhere),
    )
    monkeypatch.setattr(adding, "measure_photos", lambda *_: measured)
    monkeypatch.setattr(measuring_again, "measure_row", _today)
    bench.add()

    ran = bench.run("remeasure", "1")

    assert "48.16 ± 0.07" in ran.out


def test_one_fault_does_not_stop_the_others(
    later: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A picture that today's program refuses is named among the rest."""
    later.add(job="first")
    later.add(job="second")
    faults = [TargetError("invented-row.png", "shows no target", "Look again")]

    def refuse_once(photo: Photo, *rest: object, **given: object) -> Calibration:
        if faults:
            raise faults.pop()
        return _calibrate(photo, *rest, **given)

    monkeypatch.setattr(measuring_again, "calibrate", refuse_once)

    ran = later.run("remeasure", "2", "1")

    assert ran.code == 1
    assert "Inspection 2 cannot be measured again." in ran.out
    assert "shows no target. Look again." in ran.out
    assert "Inspection 1.1: first, by " in ran.out
    assert "48.16 ± 0.07" in ran.out


@pytest.mark.slow
def test_several_processes_give_the_results_in_order(bench: Bench) -> None:
    """Their faults come back as values, in the order that was asked for."""
    for job in ("first", "second", "third"):
        bench.add(job=job)
    (original,) = (bench.archive / "originals").rglob("*/*")
    original.write_bytes(b"altered")

    results = list(
        measuring_again.measure_many(
            bench.archive, [(3, None), (1, None), (2, 1)], jobs=2, keep=False
        )
    )

    assert [one.entry for one in results] == ["3", "1", "2.1"]
    assert all("was altered" in one.fault for one in results)


@pytest.mark.parametrize("words", [(), ("1", "--all")])
def test_what_to_measure_must_be_said(bench: Bench, words: tuple[str, ...]) -> None:
    """Numbers or --all, and not both."""
    bench.add()

    ran = bench.run("remeasure", *words)

    assert ran.code == 2
