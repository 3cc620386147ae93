"""What is kept of an inspection, in the order it flows.

record          made by                read by
Place, Job      pipeline, cli          archive, output
Inspection      pipeline               archive, output, cli
"""

from dataclasses import dataclass
from datetime import datetime

from vision.records.judged import (
    Findings,
    Reading,
    SetResult,
    Specification,
    SpringVerdict,
)
from vision.records.measured import Row


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a spring belongs: 'cylinder 1 intake outer'; ``word`` is '1IO'."""

    word: str
    text: str
    kind: str  # the specification kind it is held against


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """What the inspection is called and belongs to."""

    name: str
    engine: str
    started_at: datetime
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inspection:
    """One row of springs, measured, looked over, read by hand and judged.

    ``places``, ``findings`` and ``readings`` go by position (1 is leftmost).
    """

    job: Job
    row: Row
    specification: Specification | None
    places: dict[int, Place]
    findings: dict[int, Findings]
    readings: dict[int, tuple[Reading, ...]]
    verdicts: tuple[SpringVerdict, ...]
    sets: tuple[SetResult, ...]
    program_version: str
