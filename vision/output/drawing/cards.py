"""The cards above the springs: number, verdict, height and gap; they never overlap."""

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from PIL import ImageDraw
from scipy.optimize import isotonic_regression

from vision.output.drawing.box import Box
from vision.output.drawing.facts import (
    GAP_SIGN,
    HEIGHT_SIGN,
    Facts,
    decided,
    value_lines,
)
from vision.output.drawing.lettering import Type, one_line, text_width, wrap, write_text
from vision.output.palette import INK, Colour, coat
from vision.output.show import Units
from vision.records.judged import Outcome, Requirement
from vision.records.measured import Characteristic, Unmeasured

Floats = NDArray[np.float64]

VALUES = (
    (
        Characteristic.FREE_HEIGHT,
        f"free height {HEIGHT_SIGN}",
        Requirement.FREE_HEIGHT,
    ),
    (Characteristic.SQUARENESS, f"gap {GAP_SIGN}", Requirement.SQUARENESS),
)
SHORT = MappingProxyType(
    {
        Requirement.CLOSED_LOAD: "load, closed",
        Requirement.OPEN_LOAD: "load, open",
        Requirement.PAIR_CLOSED_LOAD: "pair, closed",
        Requirement.PAIR_OPEN_LOAD: "pair, open",
        Requirement.COIL_BIND: "coil bind",
        Requirement.OUTSIDE_DIAMETER: "diameter De",
        Requirement.WIRE_DIAMETER: "wire d",
        Requirement.VISUAL: "visual",
    }
)
"""Names of what condemns a spring beside height and squareness, short for a card."""
LARGEST_PX = 62.0
SMALLEST_PX = 26.0
STEP = 0.94  # from one type size tried to the next
GAP_PX = 10.0  # between cards
MOST_TIERS = 4
REACH = 0.3  # of its width that a card may stand off its spring
PAD = 0.34  # of the type size, inside a card
MEASURING_PX = 100.0
BORDER_PX = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One line of a card; ``size`` is a share of the card's type size."""

    text: str
    size: float
    bold: bool = False
    head: bool = False  # stands in the coloured head

    def set_in(self, size_px: float, colour: Colour = INK) -> Type:
        """Set it in a type size."""
        return Type(size_px=size_px * self.size, bold=self.bold, colour=colour)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Card:
    """What stands above one spring, and the point it belongs to."""

    position: int
    outcome: Outcome | None
    lines: tuple[Line, ...]
    anchor_x: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlacedCard:
    """A card with its type size and its box."""

    card: Card
    size_px: float
    head_px: float  # height of the coloured head
    box: Box


def full_lines(facts: Facts, units: Units) -> tuple[Line, ...]:
    """Write a card: number and sign, verdict in words, place, height, gap."""
    outcome = facts.outcome
    lines = list(short_lines(facts))
    if outcome:
        lines += [
            Line(text=part, size=0.66, bold=True, head=True)
            for part in _halves(outcome.text)
        ]
    if facts.place:
        lines.append(Line(text=one_line(facts.place)[:12], size=0.66))
    return (*lines, *_measured(facts, units))


def short_lines(facts: Facts) -> tuple[Line, ...]:
    """Write a card with number and sign only."""
    sign = f" {facts.outcome.sign}" if facts.outcome else ""
    text = f"{facts.position}{sign}"
    return (Line(text=text, size=1.15, bold=True, head=True),)


def _measured(facts: Facts, units: Units) -> list[Line]:
    """Height and gap, or why there is neither."""
    if isinstance(facts.spring, Unmeasured):
        style = Type(size_px=MEASURING_PX * 0.5)
        reason = wrap(facts.spring.reason.value, style, 4.6 * MEASURING_PX)
        words = Line(text="not measured", size=0.6, bold=True)
        return [words, *(Line(text=part, size=0.5) for part in reason)]
    lines = [
        line
        for kind, words, requirement in VALUES
        for line in _value(facts, kind, units, (words, requirement))
    ]
    others = decided(facts, Outcome.REJECT) - {
        requirement for *_, requirement in VALUES
    }
    return lines + [
        Line(text=f"{Outcome.REJECT.sign} {SHORT[requirement]}", size=0.5, bold=True)
        for requirement in SHORT
        if requirement in others
    ]


def _value(
    facts: Facts,
    kind: Characteristic,
    units: Units,
    named: tuple[str, Requirement],
) -> list[Line]:
    """Set name, value and U below each other; a value that condemns has its sign."""
    value = value_lines(facts, kind, units)
    if not value:
        return []
    words, requirement = named
    condemns = requirement in decided(facts, Outcome.REJECT)
    sign = f"{Outcome.REJECT.sign} " if condemns else ""
    return [
        Line(text=words, size=0.44),
        Line(text=f"{sign}{value[0]}", size=1.0, bold=True),
        Line(text=value[1], size=0.66),
    ]


def _halves(text: str) -> tuple[str, ...]:
    """Break a verdict of several words into two lines of like length."""
    words = text.split()
    if len(words) < 2:  # noqa: PLR2004 - one word stays
        return (text,)
    cut = min(
        range(1, len(words)),
        key=lambda k: max(len(" ".join(words[:k])), len(" ".join(words[k:]))),
    )
    return " ".join(words[:cut]), " ".join(words[cut:])


def place_cards(
    cards: Sequence[Card], left: float, right: float, bottom: float
) -> tuple[PlacedCard, ...]:
    """Find the largest type and the fewest tiers in which no two cards meet."""
    cards = sorted(cards, key=lambda card: card.anchor_x)
    widths = np.array([_natural_width(card) for card in cards])
    anchors = np.array([card.anchor_x for card in cards])
    for tiers in range(1, MOST_TIERS + 1):
        size_px = LARGEST_PX
        while size_px >= SMALLEST_PX:
            if _fits(anchors, widths * size_px, tiers, (left, right)):
                return _stacked(cards, (size_px, tiers), (left, right), bottom)
            size_px *= STEP
    return _stacked(cards, (SMALLEST_PX, MOST_TIERS), (left, right), bottom)


def _natural_width(card: Card) -> float:
    """Width per px of type size."""
    widest = max(
        text_width(line.text, line.set_in(MEASURING_PX)) for line in card.lines
    )
    return (widest * 1.02) / MEASURING_PX + 2 * PAD


def _fits(
    anchors: Floats, widths: Floats, tiers: int, span: tuple[float, float]
) -> bool:
    for tier in range(tiers):
        wanted, wide = anchors[tier::tiers], widths[tier::tiers]
        if len(wide) and wide.sum() + GAP_PX * (len(wide) - 1) > span[1] - span[0]:
            return False
        if np.any(np.abs(spread(wanted, wide, span) - wanted) > REACH * wide):
            return False
    return True


def spread(wanted: Floats, widths: Floats, span: tuple[float, float]) -> Floats:
    """Move centres as little as possible (least squares) so that widths do not overlap.

    ``wanted`` ascends; the first and last stay within ``span`` while there is room.
    """
    if len(wanted) == 0:
        return wanted
    steps = (widths[1:] + widths[:-1]) / 2 + GAP_PX
    offsets = np.concatenate([[0.0], np.cumsum(steps)])
    level = isotonic_regression(wanted - offsets).x
    lowest = span[0] + widths[0] / 2
    highest = span[1] - widths[-1] / 2 - offsets[-1]
    centres: Floats = np.clip(level, lowest, max(lowest, highest)) + offsets
    return centres


def _stacked(
    cards: Sequence[Card],
    setting: tuple[float, int],
    span: tuple[float, float],
    bottom: float,
) -> tuple[PlacedCard, ...]:
    """Set each tier above the one before it."""
    size_px, tiers = setting
    placed: list[PlacedCard] = []
    for tier in range(tiers):
        part = cards[tier::tiers]
        if not part:
            continue
        widths = np.array([_natural_width(card) * size_px for card in part])
        wanted = np.array([card.anchor_x for card in part])
        head = max(_parts(card, size_px)[0] for card in part)
        tallest = head + max(_parts(card, size_px)[1] for card in part)
        for card, x, width in zip(
            part, spread(wanted, widths, span), widths, strict=True
        ):
            box = Box(
                left=float(x - width / 2),
                top=bottom - tallest,
                right=float(x + width / 2),
                bottom=bottom,
            )
            placed.append(PlacedCard(card=card, size_px=size_px, head_px=head, box=box))
        bottom -= tallest + GAP_PX
    return tuple(sorted(placed, key=lambda each: each.card.position))


def _parts(card: Card, size_px: float) -> tuple[float, float]:
    """Heights of head and body."""
    pad = PAD * size_px * 0.7
    lines = [(line.head, line.set_in(size_px).line_px) for line in card.lines]
    head = sum(height for in_head, height in lines if in_head) + 2 * pad
    body = sum(height for in_head, height in lines if not in_head)
    return head, body + 2 * pad if body else 0.0


def draw_card(draw: ImageDraw.ImageDraw, placed: PlacedCard) -> None:
    """Draw head and body; the border tells the outcome once more, without colour."""
    card, box = placed.card, placed.box
    colours = coat(card.outcome)
    split = box.top + placed.head_px
    head = Box(left=box.left, top=box.top, right=box.right, bottom=split)
    body = Box(left=box.left, top=split, right=box.right, bottom=box.bottom)
    draw.rectangle(box.corners, fill=(255, 255, 255))
    draw.rectangle(head.corners, fill=colours.fill)
    width = 2 * BORDER_PX if card.outcome is Outcome.REJECT else BORDER_PX
    draw.rectangle(box.corners, outline=colours.line, width=width)
    _write_lines(draw, placed, head, [line for line in card.lines if line.head])
    _write_lines(draw, placed, body, [line for line in card.lines if not line.head])


def _write_lines(
    draw: ImageDraw.ImageDraw, placed: PlacedCard, part: Box, lines: list[Line]
) -> None:
    """Set the lines in the middle of the head, or down from the top of the body."""
    colours = coat(placed.card.outcome)
    types = [
        line.set_in(placed.size_px, colours.text if line.head else INK)
        for line in lines
    ]
    middle = (part.left + part.right) / 2
    spare = part.height - sum(style.line_px for style in types)
    in_head = any(line.head for line in lines)
    y = part.top + (spare / 2 if in_head else PAD * placed.size_px * 0.7)
    for line, style in zip(lines, types, strict=True):
        write_text(draw, (middle, y + style.line_px / 2), line.text, style, "mm")
        y += style.line_px
