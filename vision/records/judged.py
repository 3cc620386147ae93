"""What is asked of springs and what was decided, in the order they flow.

record              made by                read by
Limit, Load         inspection.spec        inspection, output
Requirements        inspection.spec        inspection, output
Specification       inspection.spec        pipeline, cli, archive
Reading             inspection.hand        inspection, output, archive
Findings            inspection.findings    inspection, output, archive
Decision            inspection.verdict     output, archive
SpringVerdict       inspection.verdict     output, archive
SetResult           inspection.matching    output, archive
LoadSet             inspection.load_set    output, archive
PairLoad            inspection.pairs       output, archive

Records of two methods or repeated pictures compared stand in compared.py.
"""

from dataclasses import dataclass
from enum import Enum

from calib.quantity import Quantity


class Outcome(Enum):
    """What a requirement or a spring comes to: a word and a sign, beside any colour."""

    ACCEPT = ("accept", "✓")
    REJECT = ("reject", "✗")
    CHECK_BY_HAND = ("check by hand", "?")
    STILL_DUE = ("still due", "…")

    def __init__(self, text: str, sign: str) -> None:
        self.text = text
        self.sign = sign


class Requirement(Enum):
    """What a specification can ask of one spring: key and plain name."""

    FREE_HEIGHT = ("free_height", "free height L0")
    SQUARENESS = ("squareness", "squareness e1")
    CLOSED_LOAD = ("closed_load", "load at closed height")
    OPEN_LOAD = ("open_load", "load at open height")
    PAIR_CLOSED_LOAD = ("pair_closed_load", "load of inner and outer, valve closed")
    PAIR_OPEN_LOAD = ("pair_open_load", "load of inner and outer, valve open")
    COIL_BIND = ("coil_bind", "coil-bind clearance at open height")
    OUTSIDE_DIAMETER = ("outside_diameter", "outside diameter De")
    WIRE_DIAMETER = ("wire_diameter", "wire diameter d")
    VISUAL = ("visual", "visual findings")

    def __init__(self, key: str, text: str) -> None:
        self.key = key
        self.text = text


@dataclass(frozen=True, slots=True, kw_only=True)
class Limit:
    """Limits in ``unit`` ('mm', 'deg', 'N', 'N/mm'); None is open.

    ``as_given`` is the specification's text. Where a wear limit decides, the range of
    a new spring is kept beside it in ``new_minimum`` and ``new_maximum``.
    """

    unit: str
    minimum: float | None = None
    maximum: float | None = None
    nominal: float | None = None
    as_given: str = ""
    new_minimum: float | None = None
    new_maximum: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Load:
    """A load in N asked at a height in mm."""

    height_mm: float
    force: Limit


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirements:
    """What is asked of one kind of spring ('' or 'intake', 'exhaust outer', ...)."""

    kind: str
    free_height: Limit | None = None
    squareness: Limit | None = None  # mm or deg, as the manual gives it
    closed: Load | None = None
    open: Load | None = None
    solid_height_mm: float | None = None
    coil_bind_clearance_min_mm: float | None = None
    outside_diameter: Limit | None = None
    wire_diameter: Limit | None = None
    material: str | None = None
    visual: bool = True
    rate: Limit | None = None  # N/mm; the first rate of a dual-rate spring
    second_rate_n_per_mm: float | None = None
    installed_height: Limit | None = None  # of the head, not of the spring
    lift_mm: float | None = None
    shear_modulus_mpa: float | None = None  # where the material's own is not wanted
    pair_closed: Load | None = None  # inner and outer together; height of the outer
    pair_open: Load | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Specification:
    """A service specification; ``doubts`` are possible misprints, each with figures."""

    name: str
    kinds: tuple[Requirements, ...]
    spread_max_mm: float | None
    group_width_mm: float | None
    doubts: tuple[str, ...] = ()
    sha256: str = ""
    source: str = ""


class Instrument(Enum):
    """What was read by hand: key, plain name, unit."""

    CALIPER_HEIGHT = ("caliper_height", "free height by caliper", "mm")
    SQUARE_GAP = ("square_gap", "gap at the hand square", "mm")
    CLOSED_FORCE = ("closed_force", "tester force at closed height", "N")
    OPEN_FORCE = ("open_force", "tester force at open height", "N")
    SOLID_HEIGHT = ("solid_height", "solid height", "mm")
    INSTALLED_HEIGHT = ("installed_height", "installed height", "mm")
    CALIPER_OUTSIDE = ("caliper_outside", "outside diameter by caliper", "mm")
    CALIPER_WIRE = ("caliper_wire", "wire diameter by caliper", "mm")

    def __init__(self, key: str, text: str, unit: str) -> None:
        self.key = key
        self.text = text
        self.unit = unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A hand-entered value with the instrument's own U (k = 2).

    ``set_height_mm`` is the height at which a force was read. ``assumed`` says that no
    uncertainty was entered and the instrument's customary one stands in.
    """

    instrument: Instrument
    value: float
    unit: str
    expanded_uncertainty: float
    set_height_mm: float | None = None
    assumed: bool = False


class Finding(Enum):
    """What looking can find: key, plain name, whether it condemns the spring."""

    NONE = ("none", "nothing found", False)
    BREAK = ("break", "break", True)
    CRACK = ("crack", "crack", True)
    HEAT = ("heat", "heat discoloration", True)
    PITTING = ("pitting", "pitting or rust", True)
    END_WEAR = ("end-wear", "wear at the ends", True)
    COIL_CLASH = ("coil-clash", "coil clash marks", True)

    def __init__(self, key: str, text: str, condemns: bool) -> None:  # noqa: FBT001
        self.key = key
        self.text = text
        self.condemns = condemns


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What the person saw; empty ``found`` means not yet looked."""

    found: tuple[Finding, ...] = ()
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Decision:
    """One requirement's own line: value, limits, outcome, why, and what to do."""

    requirement: Requirement
    outcome: Outcome
    value: Quantity | None
    limit: Limit | None
    why: str
    action: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SpringVerdict:
    """A spring's verdict and the lines it rests on; ``due`` names what is missing."""

    position: int
    place: str
    kind: str
    outcome: Outcome
    decisions: tuple[Decision, ...]
    due: tuple[str, ...]
    actions: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A spring's place in its set: rank 1 is tallest; gap under the straightedge."""

    position: int
    rank: int
    height: Quantity
    straightedge_gap: Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Springs no farther apart in height than the group's width."""

    number: int
    positions: tuple[int, ...]
    lowest_mm: float
    highest_mm: float
    doubtful: tuple[int, ...]  # positions whose border to the next group is within U


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadStanding:
    """One spring's force at the set's common height.

    ``apart_percent`` is how far it lies above the others' median; below is negative.
    """

    position: int
    force: Quantity
    apart_percent: Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class LoadSet:
    """Forces of a set at one height, strongest first.

    ``weak`` are proven too far below the others; ``spread`` is strongest less weakest.
    """

    instrument: Instrument
    height_mm: float
    standings: tuple[LoadStanding, ...]
    spread: Quantity
    weak: tuple[int, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SetResult:
    """A set held against itself: heights, and forces where a tester read them."""

    kind: str
    standings: tuple[Standing, ...]
    row_order: tuple[int, ...]  # as set up under the straightedge, tallest at the ends
    spread: Quantity | None
    spread_limit_mm: float | None
    spread_outcome: Outcome
    groups: tuple[Group, ...]
    best_subset: tuple[int, ...]
    replace: tuple[int, ...]
    outliers: tuple[int, ...]
    remarks: tuple[str, ...]
    loads: tuple[LoadSet, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PairLoad:
    """What outer and inner spring of one valve press together, read by hand.

    ``positions`` and ``heights_mm`` (the length of each) go outer first. ``outcome`` is
    None where the specification asks nothing of a pair.
    """

    place: str  # 'cylinder 1 intake'
    requirement: Requirement
    positions: tuple[int, int]
    heights_mm: tuple[float, float]
    force: Quantity
    limit: Limit | None = None
    outcome: Outcome | None = None

    @property
    def valve(self) -> str:
        """Whether the valve is 'closed' or 'open' there."""
        closed = self.requirement is Requirement.PAIR_CLOSED_LOAD
        return "closed" if closed else "open"
