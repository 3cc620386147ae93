"""The overlay: what it shows, where it puts it, and that it can be read."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from tests.factories import make_inspection, make_photo
from vision.output.drawing.box import Box
from vision.output.drawing.facts import gather
from vision.output.drawing.margins import footnote
from vision.output.drawing.row import tags
from vision.output.overlay import WIDTH_PX, Layout, draw_overlay, lay_out
from vision.output.palette import COATS
from vision.records.judged import Outcome
from vision.records.kept import Inspection
from vision.records.measured import Drawing, SpringMeasurement


def bare(inspection: Inspection) -> Inspection:
    return replace(inspection, specification=None, places={}, verdicts=(), sets=())


def with_second_view(inspection: Inspection) -> Inspection:
    """Give each measured spring the same drawing in a second photo."""
    springs = tuple(
        replace(each, drawings=(*each.drawings, replace(each.drawings[0], view=1)))
        if isinstance(each, SpringMeasurement)
        else each
        for each in inspection.row.springs
    )
    return replace(inspection, row=replace(inspection.row, springs=springs))


def one_view(inspection: Inspection) -> Inspection:
    springs = tuple(
        replace(each, views=1, lean_parts_deg=(each.lean_parts_deg[0], None))
        if isinstance(each, SpringMeasurement)
        else each
        for each in inspection.row.springs
    )
    return replace(inspection, row=replace(inspection.row, springs=springs))


def moved_right(drawing: Drawing, share: float) -> Drawing:
    """Squeeze a drawing towards the photo's right side."""
    end = 2100.0

    def squeezed(points: np.ndarray) -> np.ndarray:
        return np.stack([end + share * (points[:, 0] - end), points[:, 1]], axis=1)

    x0, y0, x1, y1 = drawing.box_px
    names = ("outline", "axis", "square", "foot", "top", "height", "gap")
    lines = {f"{name}_px": squeezed(getattr(drawing, f"{name}_px")) for name in names}
    box = (end + share * (x0 - end), y0, end + share * (x1 - end), y1)
    return replace(drawing, **lines, box_px=box)


def label_boxes(layout: Layout) -> list[Box]:
    return [
        box
        for plan in layout.plans
        for box in (
            *(card.box for card in plan.cards),
            *(box for _, box in tags(plan)),
        )
    ]


def near(image: np.ndarray, colour: tuple[int, int, int], box: Box) -> int:
    """Count the pixels of exactly that colour in and round a box."""
    rows = slice(max(0, int(box.top) - 12), int(box.bottom) + 12)
    columns = slice(max(0, int(box.left) - 12), int(box.right) + 12)
    return int(np.all(image[rows, columns] == colour, axis=-1).sum())


@pytest.mark.parametrize("count", [1, 3, 8, 12, 24])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_labels_never_collide(count: int, units: str) -> None:
    """No card or dimension's name covers another, however long the row."""
    layout = lay_out([make_photo(count)], make_inspection(count), units)  # type: ignore[arg-type]

    boxes = label_boxes(layout)
    assert len(boxes) >= count
    assert not [pair for pair in combinations(boxes, 2) if pair[0].meets(pair[1])]


@pytest.mark.parametrize("count", [1, 12, 24])
def test_everything_lies_on_the_canvas(count: int) -> None:
    """Cards stay on their panel, cells and key below it, nothing is cut off."""
    layout = lay_out([make_photo(count)], make_inspection(count))

    (plan,) = layout.plans
    for card in plan.cards:
        assert card.box.left >= 0
        assert card.box.right <= WIDTH_PX
        assert plan.panel.top <= card.box.top
        assert card.box.bottom <= plan.panel.bottom
    tops = [cell.box.top for cell in layout.cells]
    assert min(tops) >= plan.panel.bottom
    assert max(cell.box.bottom for cell in layout.cells) <= layout.footer.top
    assert layout.footer.bottom <= layout.height_px
    pairs = combinations([cell.box for cell in layout.cells], 2)
    assert not [pair for pair in pairs if pair[0].meets(pair[1])]


def test_cards_stand_over_their_springs() -> None:
    """Number, sign and words stand above the spring that they belong to."""
    layout = lay_out([make_photo()], make_inspection())

    for card in layout.plans[0].cards:
        assert card.box.left < card.card.anchor_x < card.box.right


def test_bunched_springs_get_cards_in_tiers() -> None:
    """Where springs crowd together, cards stand in tiers and lines lead down."""
    photo, inspection = make_photo(12), make_inspection(12)
    springs = tuple(
        replace(each, drawings=tuple(moved_right(d, 0.25) for d in each.drawings))
        if isinstance(each, SpringMeasurement)
        else each
        for each in inspection.row.springs
    )
    crowded = replace(inspection, row=replace(inspection.row, springs=springs))

    (plan,) = lay_out([photo], crowded).plans
    image = draw_overlay(photo, crowded)

    boxes = [card.box for card in plan.cards]
    assert len({box.bottom for box in boxes}) > 1
    assert not [pair for pair in combinations(boxes, 2) if pair[0].meets(pair[1])]
    assert image.shape[1] == WIDTH_PX


def test_every_card_says_its_verdict_in_word_and_sign() -> None:
    """Colour is never alone: the sign and the words are written on each card."""
    inspection = make_inspection()
    layout = lay_out([make_photo()], inspection)

    for card, facts in zip(layout.plans[0].cards, gather(inspection), strict=True):
        text = " ".join(line.text for line in card.card.lines)
        assert facts.outcome is not None
        assert facts.outcome.sign in text
        assert facts.outcome.text in text
        assert str(facts.position) in text


def test_a_value_that_condemns_is_marked() -> None:
    """The second spring is too short; its height carries the sign."""
    layout = lay_out([make_photo()], make_inspection())

    lines = [line.text for line in layout.plans[0].cards[1].card.lines]
    assert "✗ 46.68" in lines
    sixth = [line.text for line in layout.plans[0].cards[5].card.lines]
    assert "✗ visual" in sixth


def test_values_stand_with_uncertainty_and_unit() -> None:
    """Height and gap are followed by U and the chosen unit."""
    texts = {
        units: [
            line.text
            for line in lay_out([make_photo()], make_inspection(), units)
            .plans[0]
            .cards[0]
            .card.lines
        ]
        for units in ("mm", "in")
    }  # type: ignore[arg-type]

    assert texts["mm"][-5:] == ["48.12", "± 0.07 mm", "gap e₁", "0.35", "± 0.08 mm"]
    assert texts["in"][-5:] == [
        "1.8945",
        "± 0.0026 in",
        "gap e₁",
        "0.014",
        "± 0.004 in",
    ]


def test_outlines_are_drawn_in_the_colour_of_the_verdict() -> None:
    """Round each measured spring stand pixels of its outcome's line colour."""
    inspection, photo = make_inspection(), make_photo()
    image = draw_overlay(photo, inspection)

    (plan,) = lay_out([photo], inspection).plans
    for facts, edges in zip(plan.sight.springs, plan.sight.edges, strict=True):
        corners = plan.window.place(np.array([edges[:2], edges[2:]]))
        box = Box(
            left=corners[0, 0],
            top=corners[0, 1],
            right=corners[1, 0],
            bottom=corners[1, 1],
        )
        assert facts.outcome is not None
        assert near(image, COATS[facts.outcome].line, box) > 500


def test_drawing_twice_gives_the_same_picture() -> None:
    """Same input, same bytes out; the photo itself is left alone."""
    photo, inspection = make_photo(3), make_inspection(3)
    before = photo.rgb.copy()

    first, second = draw_overlay(photo, inspection), draw_overlay(photo, inspection)

    assert np.array_equal(first, second)
    assert np.array_equal(photo.rgb, before)


def test_a_16_bit_photo_looks_the_same() -> None:
    """Sixteen bits of the same picture give the same overlay."""
    photo, inspection = make_photo(2), make_inspection(2)
    deep = replace(photo, rgb=photo.rgb.astype(np.uint16) * 257)

    assert np.array_equal(
        draw_overlay(deep, inspection), draw_overlay(photo, inspection)
    )


def test_a_row_without_specification_has_no_verdicts() -> None:
    """Measured and not judged: the values, and no outcome's colour or word."""
    inspection, photo = bare(make_inspection(3)), make_photo(3)
    image = draw_overlay(photo, inspection)

    cards = lay_out([photo], inspection).plans[0].cards
    words = " ".join(line.text for card in cards for line in card.card.lines)
    assert not any(outcome.text in words for outcome in Outcome)
    reject = COATS[Outcome.REJECT].fill
    assert not np.all(image == reject, axis=-1).any()


def test_a_row_without_springs_is_drawn() -> None:
    """An empty row still gives a picture, with the target in it."""
    inspection = bare(make_inspection(2))
    empty = replace(inspection, row=replace(inspection.row, springs=()))

    assert draw_overlay(make_photo(2), empty).shape[1] == WIDTH_PX


def test_the_second_photo_has_its_own_panel() -> None:
    """With a quarter turn both photos are shown, the second below the first."""
    inspection, photo = with_second_view(make_inspection(3)), make_photo(3)
    turned = replace(photo, sha256="0" * 64)

    image = draw_overlay(photo, inspection, "mm", turned)

    first, second = lay_out([photo, turned], inspection).plans
    assert second.panel.top > first.panel.bottom
    assert len(second.cards) == 2  # the third spring was not measured
    assert second.sight.target_px is None  # another photo shows no target
    assert image.shape[0] > draw_overlay(photo, inspection).shape[0]


def test_one_view_says_what_it_cannot_tell() -> None:
    """A single view can reject squareness and never accept it; the note says so."""
    inspection = make_inspection()

    assert "never accept" in footnote(one_view(inspection), "mm")
    assert "never accept" not in footnote(inspection, "mm")
    assert "10 times" in footnote(inspection, "mm")
    cells = lay_out([make_photo()], one_view(inspection)).cells
    assert {len(cell.panels) for cell in cells} == {0, 1}


def test_extreme_values_do_not_stop_the_drawing() -> None:
    """A lean or height that cannot be right is drawn as far as the panel goes."""
    inspection = make_inspection(2)
    first = inspection.row.springs[0]
    assert isinstance(first, SpringMeasurement)
    wild = tuple(
        replace(part, value=value)
        for part, value in zip(first.lean_parts_deg, (89.9, float("nan")), strict=True)
        if part is not None
    )
    springs = (replace(first, lean_parts_deg=wild), *inspection.row.springs[1:])
    row = replace(inspection.row, springs=springs)

    image = draw_overlay(make_photo(2), replace(inspection, row=row))

    assert image.shape[1] == WIDTH_PX


@pytest.mark.parametrize("size_px", [(500, 300), (300, 900), (8000, 1000)])
def test_photos_of_any_shape_fit(size_px: tuple[int, int]) -> None:
    """Small, upright and wide photos all give a canvas of the usual width."""
    photo, inspection = make_photo(2), make_inspection(2)
    shape = (size_px[1], size_px[0], 3)
    odd = replace(photo, rgb=np.full(shape, 128, np.uint8))

    assert draw_overlay(odd, inspection).shape[1] == WIDTH_PX


def test_hostile_names_are_drawn_as_text() -> None:
    """Markup, direction marks, control characters and length do no harm."""
    inspection = make_inspection(2)
    name = "<script>\u202e\x00\n" + "רכב " * 60
    places = {
        position: replace(place, word=name)
        for position, place in inspection.places.items()
    }
    job = replace(inspection.job, name=name, engine=name)

    image = draw_overlay(make_photo(2), replace(inspection, job=job, places=places))

    assert image.shape[1] == WIDTH_PX
