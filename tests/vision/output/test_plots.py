"""Plots: what they show is what the result file holds, in the chosen units."""

import json
from dataclasses import replace
from datetime import timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from matplotlib.figure import Figure
from PIL import Image

from calib.errors import OutputError
from tests.factories import STARTED_AT, make_inspection
from vision.output.data import save_json
from vision.output.palette import COATS, hexadecimal
from vision.output.plots.agreement import plot_agreement
from vision.output.plots.groups import plot_groups
from vision.output.plots.heights import plot_heights
from vision.output.plots.history import plot_history
from vision.output.plots.loads import plot_loads
from vision.output.plots.points import (
    ladders,
    load_lines,
    load_result,
    method_pairs,
    moments,
)
from vision.output.plots.style import SHAPES, save_figure
from vision.output.tree import to_data
from vision.records.compared import Agreement, Bound
from vision.records.judged import Outcome
from vision.records.measured import Characteristic


def texts(figure: Figure) -> list[str]:
    """Every text of a figure's axes."""
    (axes,) = figure.axes
    return [
        axes.get_title(loc="left"),
        axes.get_xlabel(),
        axes.get_ylabel(),
        *(text.get_text() for text in axes.texts),
        *(label.get_text() for label in axes.get_xticklabels()),
        *(label.get_text() for label in axes.get_yticklabels()),
    ]


def bars(figure: Figure) -> list[Any]:
    (axes,) = figure.axes
    return list(axes.containers)


def agreement() -> Agreement:
    """Make up five pairs in round figures."""

    def bound(value: float) -> Bound:
        return Bound(value=value, low=value - 0.01, high=value + 0.01)

    return Agreement(
        first="photo",
        second="caliper",
        unit="mm",
        factor=1.96,
        bias=bound(0.02),
        sd=0.03,
        lower=bound(0.02 - 1.96 * 0.03),
        upper=bound(0.02 + 1.96 * 0.03),
        means=(47.0, 47.2, 47.5, 47.9, 48.1),
        differences=(0.05, 0.0, -0.02, 0.04, 0.03),
    )


def test_heights_are_those_of_the_file() -> None:
    """Each measured spring has its point, its U and its limit; none is made up."""
    figure = plot_heights(ladders(to_data(make_inspection())))

    shown = bars(figure)
    assert len(shown) == 7
    first = shown[0].lines[0]
    assert first.get_ydata()[0] == pytest.approx(48.12)
    (segments,) = shown[0].lines[2]
    low, high = segments.get_segments()[0][:, 1]
    assert (high - low) / 2 == pytest.approx(0.0651, abs=1e-4)
    assert "at least 47.1 mm" in texts(figure)
    assert "not\nmeasured" in texts(figure)
    assert "48.12" in texts(figure)


def test_heights_in_inches() -> None:
    """Points, limits and axis go to inches together."""
    figure = plot_heights(ladders(to_data(make_inspection())), "in")

    assert bars(figure)[0].lines[0].get_ydata()[0] == pytest.approx(48.12 / 25.4)
    assert "at least 1.8543 in" in texts(figure)
    assert "free height L0, in" in texts(figure)


def test_outcomes_differ_in_shape_and_colour() -> None:
    """Each point has its outcome's own shape; the legend says sign and word."""
    figure = plot_heights(ladders(to_data(make_inspection())))

    second = bars(figure)[1].lines[0]
    assert second.get_marker() == SHAPES[Outcome.REJECT]
    assert second.get_markerfacecolor() == hexadecimal(COATS[Outcome.REJECT].fill)
    legend = figure.axes[0].get_legend()
    assert legend is not None
    words = [text.get_text() for text in legend.get_texts()]
    assert words == ["✓ accept", "✗ reject", "? check by hand", "… still due"]
    assert len({SHAPES[outcome] for outcome in Outcome}) == len(Outcome)


def test_kinds_have_panels_of_their_own() -> None:
    """Intake and exhaust springs are not mixed in one ladder."""
    inspection = make_inspection(4)
    places = {
        position: replace(place, kind="exhaust" if position > 2 else "intake")
        for position, place in inspection.places.items()
    }

    rows = ladders(to_data(replace(inspection, places=places)))

    assert [len(row.bars) for row in rows] == [2, 2]
    assert len(plot_heights(rows).axes) == 2


def test_groups_rise_from_below_and_mark_doubt() -> None:
    """Shortest below, groups named, a doubtful border marked and explained."""
    inspection = make_inspection()
    result = inspection.sets[0]
    doubt = tuple(replace(each, doubtful=each.positions[:1]) for each in result.groups)

    figure = plot_groups(
        ladders(to_data(replace(inspection, sets=(replace(result, groups=doubt),))))
    )

    labels = [label.get_text() for label in figure.axes[0].get_yticklabels()]
    assert labels[0] == "2 2I"
    assert labels[-1] == "6 6I ?"
    assert {"group 1", "group 2"} <= set(texts(figure))
    assert any("lies within U" in text for text in texts(figure))


def test_loads_run_from_the_free_height() -> None:
    """The line begins at L0 with no force; limits stand at the asked heights."""
    (loads,) = load_lines(to_data(make_inspection()))

    assert [line.label for line in loads.lines] == ["1 1I", "7 7I"]
    heights = [point.height for point in loads.lines[0].points]
    assert heights == [48.12, 38.9, 30.1]
    assert [point.force for point in loads.lines[0].points] == [0.0, 291.0, 588.0]
    assert [(each.name, each.height) for each in loads.asked] == [
        ("closed", 38.9),
        ("open", 30.0),
    ]
    words = texts(plot_loads([loads], "in"))
    assert "force, lbf" in words
    assert any("hand-entered" in text for text in words)


def test_history_follows_a_place_in_order_of_time() -> None:
    """Later jobs come later, whatever the order of the files."""
    results = [
        to_data(make_inspection(2, started_at=STARTED_AT + timedelta(days=days)))
        for days in (300, 0, 90)
    ]

    found = moments(results, "1i")
    figure = plot_history("1I", found)

    assert [(moment.when - STARTED_AT).days for moment in found] == [0, 90, 300]
    assert len(bars(figure)) == 3
    assert moments(results, "nowhere") == ()
    assert moments(results, "cylinder 1 intake") == found


def test_agreement_shows_bias_and_limits() -> None:
    """Three lines with their values and confidence, and every pair."""
    figure = plot_agreement(agreement())

    words = texts(figure)
    assert "mean\n0.020 ± 0.010 mm" in words
    assert "mean + 1.96 s\n0.079 ± 0.010 mm" in words
    assert "mean − 1.96 s\n−0.039 ± 0.010 mm" in words
    assert any("5 pairs" in text for text in words)
    assert "photo − caliper, in" in texts(plot_agreement(agreement(), "in"))


def test_pairs_are_photo_and_hand() -> None:
    """Only springs with both count."""
    data = to_data(make_inspection())

    assert method_pairs([data], Characteristic.FREE_HEIGHT) == (
        (48.12, 48.12),
        (47.88, 47.88),
    )
    squareness = method_pairs([data, data], Characteristic.SQUARENESS)
    assert [hand for _, hand in squareness] == [0.4] * 4


def test_squareness_of_one_view_is_not_compared() -> None:
    """One view sees only a part of e1; the hand square reads the whole."""
    data = to_data(make_inspection())
    data["springs"][0]["views"] = 1

    assert len(method_pairs([data], Characteristic.SQUARENESS)) == 1
    assert len(method_pairs([data], Characteristic.FREE_HEIGHT)) == 2


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_the_same_plot_is_the_same_file(tmp_path: Path, ending: str) -> None:
    """Same input, same bytes out; the picture is of the kind that it is named."""
    rows = ladders(to_data(make_inspection(3)))

    for name in ("a", "b"):
        save_figure(tmp_path / f"{name}.{ending}", plot_heights(rows))

    first, second = (tmp_path / f"{name}.{ending}" for name in ("a", "b"))
    assert first.read_bytes() == second.read_bytes()
    if ending == "png":
        assert Image.open(BytesIO(first.read_bytes())).format == "PNG"
    else:
        assert first.read_text().lstrip().startswith("<?xml")


def test_another_ending_is_refused(tmp_path: Path) -> None:
    """Only PNG and SVG; nothing is written."""
    with pytest.raises(OutputError, match=r"needs \.png or \.svg"):
        save_figure(tmp_path / "a.pdf", plot_agreement(agreement()))
    assert list(tmp_path.iterdir()) == []


def test_hostile_names_are_drawn_as_text(tmp_path: Path) -> None:
    """A name that looks like a formula or markup does not stop the plot."""
    inspection = make_inspection(2)
    job = replace(inspection.job, name="$\\frac{1}{$ <b>&\x00\u202e" + "x" * 50)
    figure = plot_heights(ladders(to_data(replace(inspection, job=job))))

    save_figure(tmp_path / "a.svg", figure)

    assert "$\\frac{1}{$ <b>&" in texts(figure)[0]


@pytest.mark.parametrize(
    ("content", "words"),
    [
        ("not json", "is not JSON"),
        ("[]", "is no result file"),
        ('{"format": 1}', "is no result file"),
        ('{"format": 2, "springs": []}', "has format 2, this program reads 1"),
        ('{"format": 1, "springs": [{}]}', "is damaged or not complete"),
        ('{"format": 1, "springs": 3}', "is damaged or not complete"),
    ],
)
def test_what_is_no_result_is_refused(tmp_path: Path, content: str, words: str) -> None:
    """The file, what is wrong with it and what to give instead."""
    path = tmp_path / "a.json"
    path.write_text(content)

    with pytest.raises(OutputError, match=words) as caught:
        load_result(path)
    assert str(caught.value).startswith(str(path))


def test_a_missing_result_is_named(tmp_path: Path) -> None:
    """A file that is not there is an unusable input, not a fault of the program."""
    with pytest.raises(OutputError, match="cannot be read"):
        load_result(tmp_path / "missing.json")


def test_a_written_result_can_be_plotted(tmp_path: Path) -> None:
    """What save_json writes, load_result reads, bare rows as well."""
    bare = replace(
        make_inspection(2), verdicts=(), sets=(), places={}, specification=None
    )
    save_json(tmp_path / "a.json", bare)

    (row,) = ladders(load_result(tmp_path / "a.json"))

    assert row.minimum is None
    assert row.bars[0].outcome is None
    assert len(bars(plot_heights([row]))) == 1
    assert json.loads((tmp_path / "a.json").read_text())["format"] == 1
