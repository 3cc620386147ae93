"""The sheet's figures say and draw what was measured."""

from dataclasses import replace
from math import atan2

import pytest

from calib.quantity import Influence, Quantity
from tests.factories import make_inspection, make_measurement, make_specification
from vision.output.sheet.content import compose_sheet
from vision.output.sheet.figure import Disc, Figure, Mark, Stroke, Word
from vision.output.sheet.ink import Ink
from vision.output.sheet.ladder import draw_ladder
from vision.output.sheet.loads import LoadLine, draw_loads
from vision.output.sheet.naming import outcomes_by_position, spring_labels
from vision.output.sheet.rose import draw_rose, heading_words, reach_of, read_lean
from vision.output.sheet.straightedge import draw_straightedge
from vision.records.judged import Limit, SetResult
from vision.records.kept import Inspection
from vision.records.measured import Characteristic, SpringMeasurement


def words_of(figure: Figure) -> list[str]:
    return [mark.text for mark in figure.marks if isinstance(mark, Word)]


def ladder(inspection: Inspection, limit: Limit | None) -> Figure:
    labels, outcomes = spring_labels(inspection), outcomes_by_position(inspection)
    return draw_ladder(inspection.sets[0], limit, labels, outcomes, "mm")


def leaning(
    right_deg: float, away_deg: float | None, gap_mm: float
) -> SpringMeasurement:
    def quantity(value: float, unit: str) -> Quantity:
        part = Influence(source="fit", label="fit", u=0.01)
        return Quantity(value=value, unit=unit, influences=(part,))

    spring = make_measurement(1)
    values = {**spring.values, Characteristic.SQUARENESS: quantity(gap_mm, "mm")}
    away = None if away_deg is None else quantity(away_deg, "deg")
    parts = (quantity(right_deg, "deg"), away)
    views = 1 if away is None else 2
    return replace(spring, values=values, lean_parts_deg=parts, views=views)


def test_ladder_puts_the_tallest_on_top() -> None:
    """Labels run down by rank; values are written beside them."""
    inspection = make_inspection()

    figure = ladder(inspection, None)

    labels = [word for word in words_of(figure) if " · " in word]
    assert labels[0] == "6 · 6I"
    assert labels[-1] == "2 · 2I"
    assert "48.20 ± 0.07" in words_of(figure)
    assert "2 · 2I 46.68 ± 0.07 mm" in figure.description


def test_ladder_marks_stand_at_their_heights() -> None:
    """Dots keep the distances of the heights, and bars are U long."""
    inspection = make_inspection()

    figure = ladder(inspection, None)

    ranked = inspection.sets[0].standings
    dots = [mark for mark in figure.marks if isinstance(mark, Disc)]
    places = [dot.centre[0] for dot in dots]
    heights = [standing.height for standing in ranked]
    span = places[0] - places[-1]
    per_mm = span / (heights[0].value - heights[-1].value)
    bars = [
        mark
        for mark in figure.marks
        if isinstance(mark, Stroke) and mark.width == 0.5 and mark.ink is Ink.TEXT
    ]
    for place, height, bar in zip(places, heights, bars, strict=True):
        away = (place - places[-1]) / per_mm
        assert away == pytest.approx(height.value - heights[-1].value, abs=1e-6)
        length = bar.points[1][0] - bar.points[0][0]
        assert length / per_mm == pytest.approx(2 * height.expanded, rel=1e-6)


def test_ladder_shows_limits_that_are_asked() -> None:
    """Each limit is named and drawn; without limits none is."""
    inspection = make_inspection()
    both = Limit(unit="mm", minimum=47.1, maximum=48.5)

    assert {"least", "most"} <= set(words_of(ladder(inspection, both)))
    assert not {"least", "most"} & set(words_of(ladder(inspection, None)))


def test_straightedge_has_the_tallest_at_the_ends() -> None:
    """Springs stand in the row's order; each names its gap."""
    inspection = make_inspection()
    result: SetResult = inspection.sets[0]

    figure = draw_straightedge(result, spring_labels(inspection), "mm")

    labels = [word for word in words_of(figure) if " · " in word]
    assert [int(label.split(" ")[0]) for label in labels] == list(result.row_order)
    assert "1.52" in words_of(figure)
    assert "touches" in words_of(figure)
    assert "2 · 2I gap 1.52 ± 0.05 mm" in figure.description


def test_straightedge_of_a_long_row_goes_on_below() -> None:
    """24 springs stand in strips that fit a page's width; every one is drawn once."""
    inspection = make_inspection(24)

    figure = draw_straightedge(inspection.sets[0], spring_labels(inspection), "in")

    labels = [word for word in words_of(figure) if " · " in word]
    assert figure.width <= 176.0
    assert [int(label.split(" ")[0]) for label in labels] == list(
        inspection.sets[0].row_order
    )


@pytest.mark.parametrize("count", [1, 2, 8, 24])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_no_mark_leaves_its_figure(count: int, units: str) -> None:
    """Lines and circles of every figure lie inside it, whatever the row."""
    sheet = compose_sheet(make_inspection(count), "in" if units == "in" else "mm")
    sets = [part for one in sheet.sets for part in (one.ladder, one.straightedge)]
    roses = [rose for part in sheet.leans for rose in part.roses]

    for figure in [*sets, *roses, *(part.figure for part in sheet.loads)]:
        assert figure is not None
        for mark in figure.marks:
            for x, y in places_of(mark):
                assert -0.01 <= x <= figure.width + 0.01, figure.title
                assert -0.01 <= y <= figure.height + 0.01, figure.title


def places_of(mark: Mark) -> tuple[tuple[float, float], ...]:
    match mark:
        case Stroke():
            return mark.points
        case Disc():
            (x, y), r = mark.centre, mark.radius
            return (x - r, y - r), (x + r, y + r)
        case Word():
            return (mark.at,)


@pytest.mark.parametrize(
    ("right", "away", "word"),
    [
        (1.0, 0.0, "to the right"),
        (0.0, 1.0, "away from the camera"),
        (-1.0, 1.0, "to the left and away from the camera"),
        (-1.0, 0.0, "to the left"),
        (0.0, -1.0, "toward the camera"),
        (1.0, -1.0, "to the right and toward the camera"),
    ],
)
def test_lean_is_named_by_its_direction(right: float, away: float, word: str) -> None:
    """The eight directions are told as the camera sees them."""
    lean = read_lean(leaning(right, away, 1.0), None)

    assert lean is not None
    assert heading_words(lean) == word


def test_lean_within_its_uncertainty_has_no_direction() -> None:
    """Where U is larger than the lean no direction is claimed."""
    lean = read_lean(leaning(0.01, 0.0, 0.015), None)

    assert lean is not None
    assert heading_words(lean) == "upright within U"


def test_rose_needle_points_to_where_the_top_leans() -> None:
    """To the right is right, away from the camera is up; length is by the ring."""
    limit = Limit(unit="mm", maximum=1.6)
    lean = read_lean(leaning(0.6, 0.8, 0.8), limit)
    assert lean is not None

    figure = draw_rose(lean, "1 · 1I", limit, 2.0, (None, "mm"))

    (tip,) = [m for m in figure.marks if isinstance(m, Disc) and m.radius == 1.1]
    (ring,) = [m for m in figure.marks if isinstance(m, Disc) and m.ink is Ink.DATUM]
    right, up = tip.centre[0] - 20.0, 18.5 - tip.centre[1]
    assert atan2(up, right) == pytest.approx(atan2(0.8, 0.6))
    assert (right**2 + up**2) ** 0.5 / ring.radius == pytest.approx(0.8 / 1.6)


def test_rose_of_one_view_claims_the_picture_plane_only() -> None:
    """One view leaves a dashed line of places and says so."""
    lean = read_lean(leaning(-0.5, None, 0.4), None)
    assert lean is not None

    figure = draw_rose(lean, "1 · 1I", None, 1.0, (None, "mm"))

    dashed = [m for m in figure.marks if isinstance(m, Stroke) and m.dashed]
    assert len(dashed) == 1
    assert "only the part in the picture plane" in figure.description
    assert heading_words(lean) == "to the left"


def test_rose_keeps_the_unit_of_the_limit() -> None:
    """A limit in degrees is held against the lean, not against the gap."""
    limit = Limit(unit="deg", maximum=2.0)

    lean = read_lean(make_measurement(3), limit)

    assert lean is not None
    assert lean.size.unit == "deg"
    assert reach_of([lean], limit) >= 2.2


def test_load_lines_join_free_height_closed_and_open() -> None:
    """A line runs through open and closed reading to the measured free height."""
    inspection = make_inspection()
    asked = make_specification().kinds[0]
    spring = inspection.row.springs[0]
    assert isinstance(spring, SpringMeasurement)
    height = spring.values[Characteristic.FREE_HEIGHT]
    one = LoadLine(label="1", free_height=height, readings=inspection.readings[1])

    figure = draw_loads([one], asked, "mm")

    assert figure is not None
    (drawn,) = [m for m in figure.marks if isinstance(m, Stroke) and len(m.points) == 3]
    (open_x, open_y), (closed_x, closed_y), (free_x, free_y) = drawn.points
    assert open_x < closed_x < free_x
    assert open_y < closed_y < free_y
    along = (height.value - 38.9) / (38.9 - 30.1)
    assert (free_x - closed_x) / (closed_x - open_x) == pytest.approx(along)
    assert (free_y - closed_y) / (closed_y - open_y) == pytest.approx(291 / (588 - 291))
    points = [m for m in figure.marks if isinstance(m, Disc)]
    assert [point.filled for point in points] == [True, False]


def test_no_load_asked_nor_read_gives_no_figure() -> None:
    """Nothing is drawn where there is nothing to draw."""
    line = LoadLine(label="1", free_height=None, readings=())

    assert draw_loads([line], None, "mm") is None
