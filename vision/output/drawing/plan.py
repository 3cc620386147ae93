"""Where everything of one annotated photo goes, before anything is drawn."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import ceil, floor

import numpy as np
from numpy.typing import NDArray

from vision.output.drawing.box import Box
from vision.output.drawing.cards import (
    Card,
    Line,
    PlacedCard,
    full_lines,
    place_cards,
    short_lines,
)
from vision.output.drawing.facts import Facts
from vision.output.drawing.window import Window
from vision.output.show import Units
from vision.records.measured import Drawing, SpringMeasurement

Floats = NDArray[np.float64]
Edges = tuple[float, float, float, float]  # x_min, y_min, x_max, y_max

TALLEST_SPRING_PX = 760.0  # on the canvas
MOST_ENLARGED = 5.0
SIDE_MARGIN = 0.75  # of a spring's width, left and right of the row
FOOT_MARGIN = 0.24  # of a spring's height, below the plate
LEAD = 0.24  # of a spring's height, between spring and card
LEAST_LEAD_PX = 80.0
HEAD_MARGIN_PX = 26.0
TITLE_PX = 64.0  # above the cards, for the panel's title
SECOND_TITLE = "Second view: each spring turned a quarter turn"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sight:
    """What one photo shows: each spring's box, drawing and card, and the target."""

    title: str
    size_px: tuple[int, int]
    springs: tuple[Facts, ...]
    edges: tuple[Edges, ...]
    drawings: tuple[Drawing | None, ...]
    cards: tuple[tuple[Line, ...], ...]
    target_px: Floats | None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Plan:
    """The photo's window, the panel around it, and the cards."""

    sight: Sight
    window: Window
    panel: Box
    cards: tuple[PlacedCard, ...]
    spring_px: float  # usual height of a spring on the canvas


def first_sight(
    size_px: tuple[int, int],
    springs: Sequence[Facts],
    target_px: Floats | None,
    units: Units,
) -> Sight:
    """See the first photo, with the springs that could not be measured."""
    return Sight(
        title="",
        size_px=size_px,
        springs=tuple(springs),
        edges=tuple(facts.box_px for facts in springs),
        drawings=tuple(_drawing(facts, 0) for facts in springs),
        cards=tuple(full_lines(facts, units) for facts in springs),
        target_px=target_px,
    )


def second_sight(size_px: tuple[int, int], springs: Sequence[Facts]) -> Sight:
    """See the second photo, with the springs that were measured in it."""
    seen = [(facts, _drawing(facts, 1)) for facts in springs]
    known = [(facts, drawing) for facts, drawing in seen if drawing]
    return Sight(
        title=SECOND_TITLE,
        size_px=size_px,
        springs=tuple(facts for facts, _ in known),
        edges=tuple(drawing.box_px for _, drawing in known),
        drawings=tuple(drawing for _, drawing in known),
        cards=tuple(short_lines(facts) for facts, _ in known),
        target_px=None,
    )


def _drawing(facts: Facts, view: int) -> Drawing | None:
    if isinstance(facts.spring, SpringMeasurement):
        for drawing in facts.spring.drawings:
            if drawing.view == view:
                return drawing
    return None


def plan_view(sight: Sight, width_px: float, top_px: float) -> Plan:
    """Choose the part of the photo and its scale, and place the cards."""
    left, right, scale = _across(sight, width_px)
    shown = right - left
    box = Box(left=(width_px - shown * scale) / 2, top=0.0, right=0.0, bottom=0.0)
    window = Window(
        left_px=left,
        top_px=0,
        width_px=shown,
        height_px=sight.size_px[1],
        box=replace(
            box, right=box.left + shown * scale, bottom=sight.size_px[1] * scale
        ),
    )
    height = _usual(sight.edges, 1) * scale
    cards = _cards(sight, window, width_px)
    return _down(sight, window, cards, top_px, height)


def _across(sight: Sight, width_px: float) -> tuple[int, int, float]:
    """Choose left and right in the photo and the scale (canvas px per photo px)."""
    photo_width = sight.size_px[0]
    x = [x for edges in sight.edges for x in (edges[0], edges[2])]
    if sight.target_px is not None:
        x += [float(at) for at in sight.target_px[:, 0]]
    if not x:
        return 0, photo_width, width_px / photo_width
    margin = SIDE_MARGIN * _usual(sight.edges, 0)
    left, right = max(0.0, min(x) - margin), min(photo_width, max(x) + margin)
    scale = min(
        width_px / (right - left),
        TALLEST_SPRING_PX / _usual(sight.edges, 1),
        MOST_ENLARGED,
    )
    shown = min(photo_width, floor(width_px / scale))
    middle = (left + right) / 2
    start = floor(min(max(middle - shown / 2, 0.0), photo_width - shown))
    return start, start + shown, scale


def _cards(sight: Sight, window: Window, width_px: float) -> tuple[PlacedCard, ...]:
    """Place the cards with their lowest edge at 0."""
    cards = [
        Card(
            position=facts.position,
            outcome=facts.outcome,
            lines=lines,
            anchor_x=float(window.place(_head(edges, drawing))[0, 0]),
        )
        for facts, lines, edges, drawing in zip(
            sight.springs, sight.cards, sight.edges, sight.drawings, strict=True
        )
    ]
    return place_cards(cards, HEAD_MARGIN_PX, width_px - HEAD_MARGIN_PX, 0.0)


def _down(
    sight: Sight,
    window: Window,
    cards: tuple[PlacedCard, ...],
    top_px: float,
    height: float,
) -> Plan:
    """Choose top and bottom; what the photo lacks above is added to the panel."""
    scale, photo_height = window.scale, sight.size_px[1]
    lead = max(LEAD * height, LEAST_LEAD_PX)
    needs = max((-card.box.top for card in cards), default=0.0) + HEAD_MARGIN_PX
    needs += TITLE_PX if sight.title else 0.0
    crown = min((edges[1] for edges in sight.edges), default=0.0)
    foot = max((edges[3] for edges in sight.edges), default=float(photo_height))
    wanted = crown - (needs + lead) / scale
    bottom = foot + FOOT_MARGIN * height / scale
    if sight.target_px is not None:
        wanted = min(wanted, float(sight.target_px[:, 1].min()) - 30 / scale)
        bottom = max(bottom, float(sight.target_px[:, 1].max()) + 30 / scale)
    top, bottom = max(0, floor(wanted)), min(photo_height, ceil(bottom))
    extra = max(0.0, -wanted) * scale
    box = replace(
        window.box,
        top=float(round(top_px + extra)),
        bottom=float(round(top_px + extra) + round((bottom - top) * scale)),
    )
    shown = replace(window, top_px=top, height_px=bottom - top, box=_whole(box))
    shift = float(shown.place(np.array([[0.0, crown]]))[0, 1]) - lead
    return Plan(
        sight=sight,
        window=shown,
        panel=Box(left=0, top=top_px, right=0, bottom=box.bottom),
        cards=tuple(_moved(card, shift) for card in cards),
        spring_px=height,
    )


def _moved(card: PlacedCard, down_px: float) -> PlacedCard:
    box = card.box
    moved = replace(box, top=box.top + down_px, bottom=box.bottom + down_px)
    return replace(card, box=moved)


def _whole(box: Box) -> Box:
    return Box(
        left=round(box.left),
        top=round(box.top),
        right=round(box.left) + round(box.width),
        bottom=round(box.top) + round(box.height),
    )


def _head(edges: Edges, drawing: Drawing | None) -> Floats:
    """Give the middle of the top, (1, 2)."""
    if drawing is not None and len(drawing.top_px):
        middle: Floats = drawing.top_px.mean(axis=0, keepdims=True)
        return middle
    return np.array([[(edges[0] + edges[2]) / 2, edges[1]]])


def _usual(edges: Sequence[Edges], axis: int) -> float:
    """Give the median extent of the springs along an axis."""
    if not edges:
        return 1.0
    return float(np.median([max(each[axis + 2] - each[axis], 1.0) for each in edges]))
