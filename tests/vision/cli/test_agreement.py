"""Photo against hand over an archive, and photos repeated."""

import json
from dataclasses import replace
from hashlib import sha256

import pytest

from tests.commands import Bench, bench
from tests.factories import make_measurement, make_row
from vision.cli import adding
from vision.cli.inputs import Measured

__all__ = ["bench"]


def _readings(bench: Bench, *lines: str) -> None:
    table = bench.folder / "readings.csv"
    head = "place_or_position,instrument,value,set_height,expanded_uncertainty"
    table.write_text("\n".join((head, *lines)) + "\n")
    bench.run("readings", "1", "--csv", table)


def _calipers(bench: Bench, offset_mm: float) -> None:
    """Enter caliper heights that differ from the photo's by an offset and a ripple."""
    row = json.loads(bench.run("find", "--json").out)["springs"]
    _readings(
        bench,
        *(
            f"{one['position']},caliper_height,"
            f"{one['free_height_mm']['value'] - offset_mm - 0.01 * (-1) ** at:.3f} mm,,"
            "0.05 mm"
            for at, one in enumerate(row)
            if one["free_height_mm"]
        ),
    )


def test_a_bias_between_photo_and_caliper_is_found(bench: Bench) -> None:
    """Seven springs whose caliper heights are 0.2 mm below the photo's."""
    bench.add()
    _calipers(bench, 0.2)

    ran = bench.run("agreement", "--json", "--matters", "0.1 mm")

    found = json.loads(ran.out)["free_height_mm"]
    assert ran.code == 0
    assert found["springs"] == 7
    assert found["bias"]["value"] == pytest.approx(0.2, abs=0.01)
    assert found["bias"]["low"] > 0.15
    assert found["lower_limit"]["value"] < 0.2 < found["upper_limit"]["value"]
    assert found["slope"]["low"] <= 1.0 <= found["slope"]["high"]
    assert "photo reads 0.20 mm" in found["sentence"]
    assert "may exceed 0.10 mm" in found["sentence"]


def test_the_last_reading_of_a_spring_counts(bench: Bench) -> None:
    """As for the verdict: a slip that was entered again does not count twice."""
    bench.add()
    _calipers(bench, 5.0)
    _calipers(bench, 0.0)

    found = json.loads(bench.run("agreement", "--json").out)["free_height_mm"]

    assert found["springs"] == 7
    assert abs(found["bias"]["value"]) < 0.01


def test_both_units_fit_the_terminal(bench: Bench) -> None:
    """Squareness takes two views, which the invented row has."""
    bench.add()
    _calipers(bench, 0.0)
    _readings(bench, *(f"{at},square_gap,0.{at} mm,,0.1 mm" for at in (1, 2, 3, 4)))

    for units in ("mm", "in"):
        ran = bench.run("agreement", "--units", units)

        assert ran.code == 0
        assert "7 springs" in ran.out
        assert ("in (" if units == "in" else "mm (") in ran.out.split("caliper is")[1]
        assert "−0.00 " not in ran.out
        assert "photo − hand square, 4 springs" in ran.out
        assert max(len(line) for line in ran.out.splitlines()) <= 80


def test_too_few_springs_are_refused_with_their_number(bench: Bench) -> None:
    """Two do not tell how far differences scatter."""
    bench.add()
    _readings(bench, "1I,caliper_height,47.9 mm,,", "2I,caliper_height,46.7 mm,,")

    ran = bench.run("agreement")

    assert ran.code == 3
    assert "2 springs have both" in ran.err
    assert "below 3" in ran.err


def test_the_plot_is_written(bench: Bench) -> None:
    """As the name asks."""
    bench.add()
    _calipers(bench, 0.0)

    ran = bench.run("agreement", "--plot", bench.folder / "plot.svg")

    assert "plot.svg" in ran.out
    assert b"<svg" in (bench.folder / "plot.svg").read_bytes()


def test_a_length_without_unit_is_refused(bench: Bench) -> None:
    """Nothing is guessed."""
    bench.add()

    ran = bench.run("agreement", "--matters", "0.2")

    assert ran.code == 3
    assert ran.err.startswith("--matters: difference")


def test_a_job_photographed_again_tells_how_photos_repeat(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Heights 0.04 mm apart have a standard deviation of 0.04 / sqrt(2) mm."""
    bench.add()
    _calipers(bench, 0.0)
    row = make_row()
    content = bench.photo.read_bytes() + b"another"
    again = replace(
        row,
        springs=tuple(
            make_measurement(at, height_mm=height + 0.04)
            for at, height in enumerate(_heights_mm(bench), start=1)
        ),
        photo_sha256=(sha256(content).hexdigest(),),
    )
    measured = Measured(photos=adding.measure_photos().photos, row=again)
    monkeypatch.setattr(adding, "measure_photos", lambda *_: measured)
    bench.photo.write_bytes(content)
    second = bench.add(places="1-4I,6-8I")

    (repeats,) = json.loads(bench.run("agreement", "--json").out)["repeats"]

    assert second.code == 1
    assert (repeats["springs"], repeats["photos"]) == (7, 2)
    assert repeats["repeatability_mm"] == pytest.approx(0.04 / 2**0.5, rel=1e-6)


def test_the_same_picture_twice_is_no_repeat(bench: Bench) -> None:
    """It would repeat perfectly."""
    bench.add()
    bench.add()
    _calipers(bench, 0.0)

    assert json.loads(bench.run("agreement", "--json").out)["repeats"] == []


def _heights_mm(bench: Bench) -> list[float]:
    springs = json.loads(bench.run("find", "--json").out)["springs"]
    heights = [one["free_height_mm"] for one in springs]
    return [height["value"] for height in heights if height]
