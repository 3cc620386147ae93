"""The overlay's parts: type, colours, lines, windows, places of cards."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vision.output.drawing.box import Box
from vision.output.drawing.cards import GAP_PX, Card, Line, place_cards, spread
from vision.output.drawing.facts import GAP_SIGN, HEIGHT_SIGN
from vision.output.drawing.lettering import (
    Type,
    cut_to,
    fitted,
    load_face,
    one_line,
    text_width,
    wrap,
)
from vision.output.drawing.strokes import Stroke, draw_path, split
from vision.output.drawing.window import Window, show_window
from vision.output.palette import (
    COATS,
    DATUM,
    FAINT,
    HALO,
    INK,
    PAPER,
    PLAIN,
    SHADE,
    Coat,
    Colour,
    contrast,
)
from vision.records.judged import Outcome

TEXT_CONTRAST = 4.5  # WCAG 2.2, 1.4.3
LINE_CONTRAST = 3.0  # WCAG 2.2, 1.4.11
CLEARLY_APART = 15.0  # CIE 1976 colour difference; about 2.3 is just noticeable

# Colour-blind vision at full severity, on linear RGB: Machado, Oliveira and Fernandes
# 2009, table of simulation matrices; from memory.
COLOUR_BLIND = {
    "protan": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deutan": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritan": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
    "none": np.eye(3).tolist(),
}


def lab(colour: Colour, matrix: list[list[float]]) -> np.ndarray:
    """Give CIE L*a*b* (D65) of an sRGB colour as seen through a matrix."""
    level = np.array(colour) / 255
    linear = np.where(level <= 0.04045, level / 12.92, ((level + 0.055) / 1.055) ** 2.4)
    seen = np.clip(np.array(matrix) @ linear, 0, 1)
    to_xyz = [
        [0.4124, 0.3576, 0.1805],
        [0.2126, 0.7152, 0.0722],
        [0.0193, 0.1192, 0.9505],
    ]
    xyz = np.array(to_xyz) @ seen / [0.9505, 1.0, 1.089]
    f = np.where(xyz > 216 / 24389, np.cbrt(xyz), (24389 / 27 * xyz + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


@pytest.mark.parametrize("coat", [*COATS.values(), PLAIN])
def test_text_on_a_verdict_can_be_read(coat: Coat) -> None:
    """Text has the contrast that WCAG 2.2 asks, lines stand off their halo."""
    assert contrast(coat.fill, coat.text) >= TEXT_CONTRAST
    assert contrast(coat.line, HALO) >= TEXT_CONTRAST
    assert contrast(coat.line, SHADE) >= LINE_CONTRAST


def test_text_on_paper_can_be_read() -> None:
    """First and second rank text on paper and on shaded fields."""
    for ink in (INK, FAINT):
        for ground in (PAPER, SHADE, HALO):
            assert contrast(ink, ground) >= TEXT_CONTRAST
    assert contrast(DATUM, SHADE) >= LINE_CONTRAST


def test_contrast_of_black_on_white() -> None:
    """WCAG 2.2: contrast runs from 1 to 21."""
    assert contrast((0, 0, 0), (255, 255, 255)) == pytest.approx(21)
    assert contrast((90, 90, 90), (90, 90, 90)) == pytest.approx(1)


@pytest.mark.parametrize("eyes", COLOUR_BLIND)
@pytest.mark.parametrize("part", ["fill", "line"])
def test_outcomes_differ_for_colour_blind_eyes(eyes: str, part: str) -> None:
    """Any two outcomes stay clearly apart with each kind of colour blindness."""
    seen = {
        outcome: lab(getattr(coat, part), COLOUR_BLIND[eyes])
        for outcome, coat in COATS.items()
    }

    for first, second in combinations(seen, 2):
        apart = float(np.linalg.norm(seen[first] - seen[second]))
        assert apart > CLEARLY_APART, (first, second, apart)


def test_fills_differ_in_black_and_white() -> None:
    """Lightness alone tells the fields of the outcomes apart: reject is darkest."""
    lightness = {
        outcome: lab(coat.fill, COLOUR_BLIND["none"])[0]
        for outcome, coat in COATS.items()
    }

    order = sorted(lightness, key=lambda outcome: lightness[outcome])
    steps = np.diff([lightness[outcome] for outcome in order])
    assert order[0] is Outcome.REJECT
    assert steps.min() > 10


@pytest.mark.parametrize("bold", [False, True])
def test_the_typeface_has_every_sign(bold: bool) -> None:
    """None of the signs comes out as the box that stands for a missing one."""
    face = load_face(Type(size_px=40, bold=bold))
    missing = bytes(face.getmask("\U000e0fff"))
    signs = {outcome.sign for outcome in Outcome} | set("°±−×·…")

    for sign in signs | set(HEIGHT_SIGN) | set(GAP_SIGN):
        assert bytes(face.getmask(sign)) != missing, sign


def test_foreign_text_becomes_one_safe_line() -> None:
    """Control and direction marks go, white space becomes one space."""
    assert one_line("a\x00\u202eb\n\t c\u200f") == "ab c"
    assert one_line("עברית <b>") == "עברית <b>"


def test_long_text_is_cut_with_an_ellipsis() -> None:
    """What does not fit ends in an ellipsis and fits then."""
    style = Type(size_px=30)

    short = cut_to("x" * 200, style, 300)

    assert short.endswith("…")
    assert text_width(short, style) <= 300
    assert cut_to("short", style, 300) == "short"


def test_text_is_broken_at_spaces_only() -> None:
    """Lines fit, nothing is lost, and a number stays with its U."""
    style = Type(size_px=30)
    text = "De 27.60\u00a0±\u00a00.06\u00a0mm, d 3.80\u00a0±\u00a00.06\u00a0mm"

    lines = wrap(text, style, 320)

    assert len(lines) > 1
    assert " ".join(lines) == text
    assert all(text_width(line, style) <= 320 for line in lines)


def test_most_lines_are_kept() -> None:
    """Beyond the allowed lines the last one is cut."""
    lines = wrap("word " * 60, Type(size_px=30), 300, 3)

    assert len(lines) == 3
    assert lines[-1].endswith("…")


def test_type_is_reduced_to_fit() -> None:
    """A line that is too wide gets smaller type, a narrow one keeps its own."""
    style = Type(size_px=30)

    assert text_width("+0.42° ± 0.08°", fitted("+0.42° ± 0.08°", style, 120)) <= 120
    assert fitted("a", style, 120) is style


rows = st.lists(
    st.tuples(st.floats(0, 3200), st.floats(60, 200)), min_size=1, max_size=12
)


@given(rows)
def test_cards_move_apart_and_keep_their_order(row: list[tuple[float, float]]) -> None:
    """No two widths overlap after spreading; room permitting all stay in the span."""
    wanted = np.sort([at for at, _ in row])
    widths = np.array([width for _, width in row])

    centres = spread(wanted, widths, (0.0, 3200.0))

    gaps = np.diff(centres) - (widths[1:] + widths[:-1]) / 2
    assert np.all(gaps >= GAP_PX - 1e-6)
    if widths.sum() + GAP_PX * (len(row) - 1) <= 3200:
        assert centres[0] - widths[0] / 2 >= -1e-6
        assert centres[-1] + widths[-1] / 2 <= 3200 + 1e-6


def test_cards_with_room_stay_where_they_are() -> None:
    """Nothing moves that need not."""
    wanted = np.array([300.0, 900.0, 1500.0])

    assert np.array_equal(spread(wanted, np.full(3, 200.0), (0, 3200)), wanted)


@settings(deadline=None, max_examples=15)
@given(st.lists(st.floats(100, 3100), min_size=1, max_size=24))
def test_cards_never_meet_wherever_springs_stand(anchors: list[float]) -> None:
    """Springs may be bunched in any way: tiers and type size make room."""
    cards = [
        Card(
            position=number,
            outcome=Outcome.REJECT,
            lines=(Line(text="12 ✗", size=1.15, head=True), Line(text="48.12", size=1)),
            anchor_x=at,
        )
        for number, at in enumerate(sorted(anchors), start=1)
    ]

    placed = place_cards(cards, 0, 3200, 0)

    pairs = combinations([card.box for card in placed], 2)
    assert not [pair for pair in pairs if pair[0].meets(pair[1])]


def test_boxes_that_touch_do_not_meet() -> None:
    """Two boxes with a common edge share no pixel; one px more and they do."""
    left = Box(left=0, top=0, right=10, bottom=10)

    assert not left.meets(Box(left=10, top=0, right=20, bottom=10))
    assert left.meets(Box(left=9, top=9, right=20, bottom=20))


def test_dashes_follow_the_line() -> None:
    """Marks and gaps alternate along a bent line; the marks add up."""
    bent = np.array([[0.0, 0.0], [30.0, 0.0], [30.0, 30.0]])

    marks = split(bent, [10.0, 5.0])

    lengths = [np.hypot(*np.diff(mark, axis=0).T).sum() for mark in marks]
    assert lengths == pytest.approx([10, 10, 10, 10])
    assert np.array_equal(marks[2][0], [30, 0])


def test_lines_without_a_place_are_left_out() -> None:
    """Points that are not known draw nothing and break nothing."""
    canvas = np.full((20, 20, 3), 255, np.uint8)

    draw_path(canvas, np.array([[np.nan, 1.0], [5.0, 5.0]]), Stroke(width_px=3))
    draw_path(canvas, np.array([[5.0, 5.0]]), Stroke(width_px=3, pattern=(5.0, 3.0)))

    assert canvas.min() == 255


def test_a_photo_point_lands_on_its_pixel() -> None:
    """(0, 0) is the centre of the first pixel; enlarged thrice it is at (1, 1)."""
    box = Box(left=100, top=50, right=130, bottom=80)
    window = Window(left_px=2, top_px=4, width_px=10, height_px=10, box=box)
    photo = np.zeros((20, 20, 3), np.uint8)
    photo[9, 7] = 255
    canvas = np.zeros((200, 200, 3), np.uint8)

    show_window(canvas, photo, window)

    assert window.place(np.array([[2.0, 4.0]])).tolist() == [[101.0, 51.0]]
    x, y = window.place(np.array([[7.0, 9.0]]))[0]
    weights = canvas[..., 0].astype(float)
    rows, columns = np.mgrid[0:200, 0:200]
    assert (weights * columns).sum() / weights.sum() == pytest.approx(x, abs=0.05)
    assert (weights * rows).sum() / weights.sum() == pytest.approx(y, abs=0.05)
