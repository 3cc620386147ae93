"""THE decision rule, and a spring's verdict line by line."""

from math import inf

from calib.quantity import Quantity
from vision.inspection.evidence import (
    Candidate,
    Case,
    Evidence,
    diameter_evidence,
    height_evidence,
    squareness_evidence,
)
from vision.inspection.hand import FORCES
from vision.inspection.loading import (
    coil_bind_evidence,
    installed_advice,
    load_evidence,
)
from vision.inspection.reasons import explain
from vision.inspection.remarks import (
    KEEP,
    ask_for_limits,
    ask_for_load,
    judge_findings,
)
from vision.inspection.wording import say
from vision.records.judged import (
    Decision,
    Findings,
    Limit,
    Outcome,
    Reading,
    Requirement,
    Requirements,
    SpringVerdict,
)
from vision.records.measured import SpringMeasurement, Unmeasured


def decide(value: Quantity, limit: Limit) -> Outcome:
    """Accept inside the limits by U, reject outside by U, else check by hand.

    The decision rule of ISO 14253-1 with U = k u, k = 2; a limit that is not given does
    not bind, and without any there is nothing to decide.
    """
    if value.unit != limit.unit:
        raise ValueError(f"a value in {value.unit} against a limit in {limit.unit}")
    lowest = -inf if limit.minimum is None else limit.minimum
    highest = inf if limit.maximum is None else limit.maximum
    unlimited = lowest == -inf and highest == inf
    if value.value < lowest - value.expanded or value.value > highest + value.expanded:
        return Outcome.REJECT
    if lowest + value.expanded <= value.value <= highest - value.expanded:
        return Outcome.CHECK_BY_HAND if unlimited else Outcome.ACCEPT
    return Outcome.CHECK_BY_HAND


ADD_LIMITS = "find the limits in the manual and add them to the specification"
FINER = "too close to the limit for this reading: measure it finer, or replace it"
LOADS = frozenset(
    {
        Requirement.CLOSED_LOAD,
        Requirement.OPEN_LOAD,
        Requirement.PAIR_CLOSED_LOAD,
        Requirement.PAIR_OPEN_LOAD,
    }
)


def judge_spring(
    measurement: SpringMeasurement | Unmeasured,
    requirements: Requirements | None,
    findings: Findings,
    readings: tuple[Reading, ...] = (),
    place: str = "",
    pair_lines: tuple[Decision, ...] = (),
) -> SpringVerdict:
    """Judge one spring: a line for each requirement, then the whole.

    ``pair_lines`` are what is asked of it and its partner together.

    Rejected if any line rejects; accepted only when every line accepts, with load and
    looking among them. Without requirements it stays due, whatever was measured.
    """
    looked = judge_findings(findings)
    if requirements is None:
        lines, advice = (*_unasked(readings), looked), ""
    else:
        case = Case(measured=measurement, requirements=requirements, readings=readings)
        own = tuple(judge_evidence(evidence) for evidence in _collect(case))
        judged = (*own, *pair_lines)
        unloaded = not LOADS & {line.requirement for line in judged}
        lines = (*judged, *((ask_for_load(),) if unloaded else ()), looked)
        advice = installed_advice(case)
    outcome = _whole(lines)
    return SpringVerdict(
        position=measurement.position,
        place=place,
        kind=requirements.kind if requirements else "",
        outcome=outcome,
        decisions=lines,
        due=_due(lines),
        actions=_actions(lines, outcome, advice),
    )


def _unasked(readings: tuple[Reading, ...]) -> tuple[Decision, ...]:
    """Say what a spring lacks that no specification speaks of."""
    loaded = any(reading.instrument in FORCES for reading in readings)
    return (ask_for_limits(),) if loaded else (ask_for_limits(), ask_for_load())


def _collect(case: Case) -> list[Evidence]:
    """Gather the evidence for everything that is asked."""
    asked = case.requirements
    found: list[Evidence] = []
    if asked.free_height:
        found.append(height_evidence(case, asked.free_height))
    if asked.squareness:
        found.append(squareness_evidence(case, asked.squareness))
    if asked.closed:
        found.append(load_evidence(case, Requirement.CLOSED_LOAD, asked.closed))
    if asked.open:
        found.append(load_evidence(case, Requirement.OPEN_LOAD, asked.open))
    if asked.coil_bind_clearance_min_mm is not None or asked.solid_height_mm:
        found.append(coil_bind_evidence(case, _clearance_limit(asked)))
    for requirement, limit in (
        (Requirement.OUTSIDE_DIAMETER, asked.outside_diameter),
        (Requirement.WIRE_DIAMETER, asked.wire_diameter),
    ):
        if limit:
            found.append(diameter_evidence(case, requirement, limit))
    return found


def _clearance_limit(asked: Requirements) -> Limit | None:
    if asked.coil_bind_clearance_min_mm is None:
        return None
    return Limit(unit="mm", minimum=asked.coil_bind_clearance_min_mm)


def judge_evidence(evidence: Evidence) -> Decision:
    """Turn evidence into a decision with its figures and what to do."""
    if not evidence.candidates:
        return _line(evidence, Outcome.STILL_DUE, None, evidence.missing)
    candidate, outcome = _choose(evidence)
    said = f"{say(candidate.value)} {candidate.origin}"
    if evidence.conflict:
        return _line(evidence, Outcome.CHECK_BY_HAND, candidate, evidence.conflict)
    why = f"{said}; {explain(candidate, evidence.limit, outcome)}"
    return _line(evidence, outcome, candidate, why)


def _choose(evidence: Evidence) -> tuple[Candidate, Outcome]:
    """Let the surer value decide; where the photo cannot, the reading by hand does."""
    order = sorted(
        evidence.candidates, key=lambda each: (each.partial, each.value.expanded)
    )
    judged = [(each, _decide_one(each, evidence.limit)) for each in order]
    rejecting = [pair for pair in judged if pair[1] is Outcome.REJECT]
    by_hand = [pair for pair in judged if pair[0].by_hand]
    undecided = judged[0][1] is Outcome.CHECK_BY_HAND
    if undecided and not judged[0][0].by_hand and by_hand:
        return by_hand[0]
    return judged[0] if not undecided else (rejecting or judged)[0]


def _decide_one(candidate: Candidate, limit: Limit | None) -> Outcome:
    """Decide by one value; one that sees only part can reject and never accept."""
    if limit is None:
        return Outcome.CHECK_BY_HAND
    outcome = decide(candidate.value, limit)
    if candidate.partial and outcome is Outcome.ACCEPT:
        return Outcome.CHECK_BY_HAND
    return outcome


def _line(
    evidence: Evidence, outcome: Outcome, candidate: Candidate | None, why: str
) -> Decision:
    return Decision(
        requirement=evidence.requirement,
        outcome=outcome,
        value=candidate.value if candidate else None,
        limit=evidence.limit,
        why=why,
        action=_action(evidence, outcome, candidate),
    )


def _action(evidence: Evidence, outcome: Outcome, candidate: Candidate | None) -> str:
    match outcome:
        case Outcome.ACCEPT:
            return KEEP
        case Outcome.REJECT:
            return evidence.reject
        case Outcome.STILL_DUE:
            return evidence.remedy
        case Outcome.CHECK_BY_HAND:
            if evidence.conflict:
                return f"measure again: {evidence.check}"
            if _unlimited(evidence.limit):
                return ADD_LIMITS
            hand = candidate is not None and candidate.by_hand
            return FINER if hand else evidence.check


def _unlimited(limit: Limit | None) -> bool:
    return limit is None or limit.minimum is limit.maximum is None


def _whole(lines: tuple[Decision, ...]) -> Outcome:
    """Let the worst line speak: reject, check by hand, still due, accept."""
    outcomes = {line.outcome for line in lines}
    for outcome in (Outcome.REJECT, Outcome.CHECK_BY_HAND, Outcome.STILL_DUE):
        if outcome in outcomes:
            return outcome
    return Outcome.ACCEPT


def _due(lines: tuple[Decision, ...]) -> tuple[str, ...]:
    """Name what is missing, then what waits for a check by hand."""
    missing = [line for line in lines if line.outcome is Outcome.STILL_DUE]
    waiting = [line for line in lines if line.outcome is Outcome.CHECK_BY_HAND]
    return (
        *(_lacking(line) for line in missing),
        *(f"{line.requirement.text} (check by hand)" for line in waiting),
    )


def _lacking(line: Decision) -> str:
    """Name what a line waits for: a value, or the limits to hold a height against."""
    asked = line.requirement
    unlimited = asked is Requirement.FREE_HEIGHT and line.limit is None
    return f"limits of {asked.text}" if unlimited else asked.text


def _actions(
    lines: tuple[Decision, ...], outcome: Outcome, advice: str
) -> tuple[str, ...]:
    """List what to do, each once; a rejected spring needs only what rejects it."""
    open_lines = [line for line in lines if line.outcome is not Outcome.ACCEPT]
    if outcome is Outcome.REJECT:
        open_lines = [line for line in lines if line.outcome is Outcome.REJECT]
    listed = [line.action for line in open_lines] + ([advice] if advice else [])
    once = tuple(dict.fromkeys(listed))
    # 'replace it' is said already by 'replace it; where it must serve: ...'
    return tuple(
        each for each in once if not any(other.startswith(f"{each};") for other in once)
    )
