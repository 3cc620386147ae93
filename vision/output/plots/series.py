"""What a plot shows, in mm and N.

record            made by   shown by
Bar, Band         points    heights, groups
Ladder            points    heights, groups
LoadPoint, Asked  points    loads
LoadLine, Loads   points    loads
Moment            points    history
"""

from dataclasses import dataclass
from datetime import datetime

from vision.records.judged import Outcome


@dataclass(frozen=True, slots=True, kw_only=True)
class Bar:
    """A free height in mm with its U; None values are springs without one."""

    label: str
    position: int
    value: float | None
    expanded: float
    outcome: Outcome | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A group of springs by height, in mm."""

    number: int
    low: float
    high: float
    positions: tuple[int, ...]
    doubtful: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ladder:
    """The springs of one kind: heights, limits (None is open) and groups."""

    title: str
    bars: tuple[Bar, ...]
    minimum: float | None
    maximum: float | None
    bands: tuple[Band, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadPoint:
    """A force in N at a height in mm."""

    height: float
    force: float
    expanded: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """A load that the specification asks: limits in N (None is open) at a height."""

    name: str
    height: float
    minimum: float | None
    maximum: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadLine:
    """One spring from its free height through the loads read by hand."""

    label: str
    outcome: Outcome | None
    points: tuple[LoadPoint, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Loads:
    """The load lines of one kind of spring and what is asked of them."""

    title: str
    lines: tuple[LoadLine, ...]
    asked: tuple[Asked, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Moment:
    """A free height in mm of one place at one time."""

    when: datetime
    job: str
    value: float
    expanded: float
    outcome: Outcome | None
