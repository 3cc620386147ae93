"""What is kept of an inspection, in the order it flows.

record          made by                read by
Place, Job      pipeline, cli          archive, output
Inspection      pipeline               archive, output, cli
Given           cli                    archive, cli
Picture         cli                    archive
Handle          archive                cli
KeptPicture     archive                cli
Kept            archive                cli, output
Entry           archive                cli
Figure          archive                cli
KeptSpring      archive                cli
Doubt           archive                cli
"""

from dataclasses import dataclass, field
from datetime import date, datetime
from enum import Enum
from hashlib import sha256

from calib.records import Lens
from vision.records.judged import (
    Findings,
    Outcome,
    PairLoad,
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

    ``places``, ``findings``, ``readings`` and ``hints`` go by position (1 is leftmost).
    A hint says where the picture suggests to look again; it is never a finding.
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
    hints: dict[int, str] = field(default_factory=dict)
    pairs: tuple[PairLoad, ...] = ()


class Change(Enum):
    """Why a version of an inspection was kept: key and plain name."""

    ADDED = ("added", "measured and judged")
    PLACES = ("places", "places corrected")
    FINDINGS = ("findings", "findings entered")
    READINGS = ("readings", "hand readings entered")
    JUDGED = ("judged", "judged again")
    REMEASURED = ("remeasured", "pictures measured again")

    def __init__(self, key: str, text: str) -> None:
        self.key = key
        self.text = text


class Role(Enum):
    """What a kept picture is to its inspection: key and plain name."""

    ROW = ("row", "photo of the row")
    TURNED = ("turned", "photo of the row after turning")
    REFERENCE = ("reference", "photo of the reference")
    OVERLAY = ("overlay", "overlay drawing")

    def __init__(self, key: str, text: str) -> None:
        self.key = key
        self.text = text


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What was given beside the pictures, so that they can be measured again.

    ``distance_mm`` is the taped distance to the camera.
    """

    lens: Lens | None = None
    distance_mm: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture file to be kept byte for byte."""

    role: Role
    name: str
    content: bytes

    @property
    def sha256(self) -> str:
        """Digest of the file's bytes."""
        return sha256(self.content).hexdigest()


@dataclass(frozen=True, slots=True, kw_only=True)
class Handle:
    """A version of an inspection, written '7.2'; '7' alone is the newest version."""

    number: int
    version: int

    @property
    def text(self) -> str:
        """As it is shown and typed."""
        return f"{self.number}.{self.version}"


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptPicture:
    """A picture file in the archive."""

    role: Role
    name: str
    sha256: str
    size_bytes: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One kept version as it stands in a list; ``tally`` counts springs by verdict."""

    handle: Handle
    previous: Handle | None
    change: Change
    note: str
    added_at: datetime
    program_version: str
    job: str
    engine: str
    started_on: date
    springs: int
    tally: dict[Outcome, int]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kept:
    """All of one kept version."""

    entry: Entry
    inspection: Inspection
    given: Given
    pictures: tuple[KeptPicture, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """A value and its expanded uncertainty (k = 2), without the budget behind it."""

    value: float
    expanded: float
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptSpring:
    """One spring of one version as it stands in a list; None was not measured.

    ``hand`` holds the hand readings in the order of entry.
    """

    handle: Handle
    job: str
    engine: str
    started_on: date
    position: int
    place: str
    place_text: str
    kind: str
    outcome: Outcome | None
    unmeasured: str
    free_height: Figure | None
    squareness: Figure | None
    lean: Figure | None
    hand: tuple[Reading, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """Something that ``verify`` found; a fault unless it is ``harmless``."""

    where: str
    what: str
    remedy: str
    harmless: bool = False

    @property
    def text(self) -> str:
        """One sentence for what is wrong, one for what to do."""
        return f"{self.where}: {self.what}. {self.remedy}."
