"""Widest points of coils in; total coils out, and whether they are of one wire.

Wire passes a flank every half turn, the left and the right in turn: between two widest
points lie whole half turns, odd in number from one flank to the other, even on one. How
far the wire goes on beyond the last of them is told by its height over the ground end:
the closed coil rises by its own thickness a turn, from a tip of a quarter of it (common
practice), and opens within half a turn to the pitch.
"""

from dataclasses import dataclass

import numpy as np

from calib.records import Floats
from vision.spring.axis import Axis

TIP = 0.25  # of the wire, left at the tip of a ground end
CLOSED_TURNS, OPENING_TURNS = 1.0, 0.5  # from the tip; then up to the full pitch
U_END = 0.115  # turns: tips are thicker or thinner, closed coils do not quite touch
SURE_TURNS, U_BEYOND = 0.8, 0.35  # of an end not seen nearer; per turn beyond that
U_UNSEEN = 0.08  # for each half turn that is only inferred
USUAL_MISFIT = 0.3  # half turns by which gaps differ from whole ones
LEAST_MIDWAY, PITCHES = 3, 1.25  # coils that tell; by which gaps may differ
# What chains of half turns cost, as squares of usual misfits.
UNSEEN_COST, STRAY_COST = 1.5, 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Coiling:
    """A spring's wire and pitch in mm, its height, and whether its top is open."""

    wire_mm: float
    pitch_mm: float
    height_mm: float
    is_open: bool = False

    def turns_to(self, rooms_mm: Floats) -> Floats:
        """Tell turns from the tip to where the wire is so far from the end (n,)."""
        pitch = max(self.pitch_mm, self.wire_mm)
        closed = (CLOSED_TURNS - TIP) * self.wire_mm
        opened = closed + OPENING_TURNS * (self.wire_mm + pitch) / 2
        whole = CLOSED_TURNS + OPENING_TURNS
        turns = CLOSED_TURNS + (rooms_mm - closed) / self.wire_mm
        opening = CLOSED_TURNS + OPENING_TURNS * (rooms_mm - closed) / (opened - closed)
        beyond = whole + (rooms_mm - opened) / pitch
        opened_turns = np.where(rooms_mm < opened, opening, beyond)
        return np.asarray(np.where(rooms_mm < closed, turns, opened_turns))

    def turns_at(self, heights_mm: Floats) -> Floats:
        """Tell turns from the lower tip to heights (n,), the upper end as the lower."""
        middle = self.turns_to(np.array([self.height_mm / 2]))
        from_top = 2 * middle - self.turns_up(heights_mm)
        is_low = 2 * heights_mm < self.height_mm
        return np.asarray(np.where(is_low, self.turns_to(heights_mm), from_top))

    def turns_up(self, heights_mm: Floats) -> Floats:
        """Tell turns up to the upper tip (n,); an open end rises to it by the pitch."""
        rooms_mm = self.height_mm - heights_mm
        if self.is_open:
            return np.asarray((rooms_mm - self.wire_mm / 2) / self.pitch_mm)
        return self.turns_to(rooms_mm)

    def half_turns(self, low_mm: Floats, high_mm: float) -> Floats:
        """Count half turns (n,) of the wire from heights (n,) to one above them."""
        rises = self.turns_to(np.append(low_mm, high_mm))
        falls = self.turns_up(np.append(low_mm, high_mm))
        is_low = low_mm + high_mm < self.height_mm
        turns = np.where(is_low, rises[-1] - rises[:-1], falls[:-1] - falls[-1])
        return np.asarray(2 * turns)


def count_coils(
    axis: Axis, wire_mm: float, height_mm: float, *, is_open: bool = False
) -> tuple[float, float]:
    """Count total coils nt, with u, from tip to tip; the upper end may be open."""
    order = np.argsort(axis.heights_mm)
    heights, sides = axis.heights_mm[order], axis.sides[order]
    coiling = _Coiling(
        wire_mm=wire_mm,
        pitch_mm=usual_pitch(axis),
        height_mm=height_mm,
        is_open=is_open,
    )
    first, last, halves, unseen = _likeliest_chain(heights, sides, coiling)
    ends = np.append(
        coiling.turns_to(heights[first : first + 1]),
        coiling.turns_up(heights[last : last + 1]),
    )
    beyond = U_BEYOND * np.maximum(ends - SURE_TURNS, 0.0)
    u = np.linalg.norm([U_END, U_END, *beyond, U_UNSEEN * unseen])
    return float(halves / 2 + ends.sum()), float(u)


def usual_pitch(axis: Axis) -> float:
    """Give the usual rise of the wire in a turn, in mm."""
    return _pitch(*_by_side(axis))


def last_gap(axis: Axis) -> float:
    """Give the nearer of both flanks' two highest coils, per pitch; they close up."""
    left, right = _by_side(axis)
    nearer = min(float(each[-1] - each[-2]) for each in (left, right))
    return nearer / _pitch(left, right)


def out_of_turn(axis: Axis, wire_mm: float, height_mm: float) -> float:
    """How far coils stray from midway between two of the other flank, in turns.

    Those of one wire lie half a turn apart, in height less where its ends close. The
    median; 0 where too few show.
    """
    left, right = _by_side(axis)
    pitch = _pitch(left, right)
    coiling = _Coiling(wire_mm=wire_mm, pitch_mm=pitch, height_mm=height_mm)
    pairs = ((left, right), (right, left))
    away = np.concatenate([_off_midway(*each, coiling) for each in pairs])
    return float(np.median(away)) if len(away) >= LEAST_MIDWAY else 0.0


def _by_side(axis: Axis) -> tuple[Floats, Floats]:
    """Heights of the widest points, left and right, lowest first."""
    left, right = (np.sort(axis.heights_mm[side * axis.sides > 0]) for side in (-1, 1))
    return left, right


def _pitch(left: Floats, right: Floats) -> float:
    """Give the usual rise from one widest point of a flank to the next."""
    return float(np.median(np.concatenate([np.diff(left), np.diff(right)])))


def _off_midway(heights: Floats, others: Floats, coiling: _Coiling) -> Floats:
    """How far heights lie from midway between two others, in shares of the turn.

    Only between two a pitch apart: farther apart one was not seen between them, nearer
    to each other they are of a closing end.
    """
    gaps, pitch = np.diff(others), coiling.pitch_mm
    above = np.searchsorted(others, heights)
    within = (above > 0) & (above < len(others))
    below = above[within] - 1
    near = (gaps[below] < PITCHES * pitch) & (gaps[below] > pitch / PITCHES)
    turned, at = coiling.turns_at(others), coiling.turns_at(heights[within])
    share = (at - turned[below]) / np.diff(turned)[below]
    return np.asarray(np.abs(share - 0.5)[near])


def _likeliest_chain(
    heights_mm: Floats, sides: Floats, coiling: _Coiling
) -> tuple[int, int, float, float]:
    """Join widest points, lowest first, by whole half turns; strays are left out.

    Gives the first and the last that count, the half turns between them, and how many
    widest points were not seen there.
    """
    count = len(heights_mm)
    cost, before = STRAY_COST * np.arange(count), np.arange(count)
    halves, unseen = np.zeros(count), np.zeros(count)
    for place in range(1, count):
        seen = coiling.half_turns(heights_mm[:place], heights_mm[place])
        whole = _whole(seen, odd=sides[:place] != sides[place])
        misfit = (seen - whole) / USUAL_MISFIT
        tried = cost[:place] + misfit**2 / (1 + 0.25 * (whole - 1))
        tried += UNSEEN_COST * (whole - 1) + STRAY_COST * np.arange(place - 1, -1, -1)
        best = int(np.argmin(tried))
        if tried[best] < cost[place]:
            cost[place], before[place] = tried[best], before[best]
            halves[place] = halves[best] + whole[best]
            unseen[place] = unseen[best] + whole[best] - 1
    last = int(np.argmin(cost + STRAY_COST * np.arange(count - 1, -1, -1)))
    return int(before[last]), last, float(halves[last]), float(unseen[last])


def _whole(halves: Floats, *, odd: Floats) -> Floats:
    """Round to odd numbers (n,) or to even ones, at least 1 or 2."""
    least = np.where(odd, 1.0, 2.0)
    return np.asarray(least + 2 * np.maximum(np.rint((halves - least) / 2), 0.0))
