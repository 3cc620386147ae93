"""What the overlay says of each spring, gathered from the inspection as short texts."""

from collections import Counter
from dataclasses import dataclass

from vision.output.duties import missing
from vision.output.show import Units, show_limit, show_quantity, show_signed
from vision.records.judged import Decision, Outcome, Requirement, SpringVerdict
from vision.records.kept import Inspection
from vision.records.measured import (
    Characteristic,
    SpringMeasurement,
    Unmeasured,
)

HEIGHT_SIGN = "L₀"
GAP_SIGN = "e₁"
SIZE_SIGNS = (
    (Characteristic.OUTSIDE_DIAMETER, "De"),
    (Characteristic.WIRE_DIAMETER, "d"),
    (Characteristic.TOTAL_COILS, "nt"),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Facts:
    """One spring with what was decided on it."""

    spring: SpringMeasurement | Unmeasured
    verdict: SpringVerdict | None
    place: str

    @property
    def position(self) -> int:
        """Its number in the row."""
        return self.spring.position

    @property
    def outcome(self) -> Outcome | None:
        """None where it was not judged."""
        return self.verdict.outcome if self.verdict else None

    @property
    def box_px(self) -> tuple[float, float, float, float]:
        """Where it stands in the first photo."""
        match self.spring:
            case SpringMeasurement():
                return self.spring.drawings[0].box_px
            case Unmeasured():
                return self.spring.box_px


def gather(inspection: Inspection) -> tuple[Facts, ...]:
    """Put each spring of the row together with its verdict and place."""
    verdicts = {verdict.position: verdict for verdict in inspection.verdicts}
    words = {position: place.word for position, place in inspection.places.items()}
    return tuple(
        Facts(
            spring=spring,
            verdict=verdicts.get(spring.position),
            place=words.get(spring.position, ""),
        )
        for spring in inspection.row.springs
    )


def value_lines(
    facts: Facts, kind: Characteristic, units: Units
) -> tuple[str, str] | None:
    """Give a value and, for the next line, its U with the unit."""
    if isinstance(facts.spring, Unmeasured) or kind not in facts.spring.values:
        return None
    shown = show_quantity(facts.spring.values[kind], units)
    if not shown.uncertainty:
        return shown.value_with_unit, shown.origin
    return shown.value, shown.uncertainty_with_unit


def size_lines(facts: Facts, units: Units) -> tuple[str, ...]:
    """Give lean and sizes, one line each: 'De 27.60 ± 0.06 mm'."""
    if isinstance(facts.spring, Unmeasured):
        return ()
    values = facts.spring.values
    return tuple(
        f"{sign} {show_quantity(values[kind], units).text}"
        for kind, sign in SIZE_SIGNS
        if kind in values
    )


def lean_lines(spring: SpringMeasurement) -> tuple[str, str | None]:
    """Say which way the spring leans in the picture and, if known, in depth."""
    right, away = spring.lean_parts_deg
    first = show_signed(show_quantity(right)).text
    return first, None if away is None else show_signed(show_quantity(away)).text


def finding_lines(facts: Facts, units: Units) -> tuple[str, ...]:
    """Say why the spring is not simply accepted, most serious first."""
    lines = []
    if isinstance(facts.spring, Unmeasured):
        lines.append(not_measured(facts.spring))
    if facts.verdict is None:
        return tuple(lines)
    for outcome in (Outcome.REJECT, Outcome.CHECK_BY_HAND):
        lines += [
            f"{outcome.sign} {_against(decision, units)}"
            for decision in facts.verdict.decisions
            if decision.outcome is outcome
        ]
    due = ", ".join(missing(facts.verdict))
    if due and facts.outcome is not Outcome.REJECT:
        lines.append(f"{Outcome.STILL_DUE.sign} still due: {due}")
    return tuple(lines)


def not_measured(spring: Unmeasured) -> str:
    """Say why a spring has no values, with the figures where there are any."""
    parts = (spring.reason.value, spring.detail)
    return f"not measured: {'; '.join(part for part in parts if part)}"


def _against(decision: Decision, units: Units) -> str:
    """Hold the value against its limit and say what to do; without either, say why."""
    name = decision.requirement.text
    if decision.value is None or decision.limit is None:
        return f"{name}: {decision.why}"
    value = show_quantity(decision.value, units).text
    asked = show_limit(decision.limit, units)
    action = f"; {decision.action}" if decision.outcome is not Outcome.REJECT else ""
    return f"{name} {value}, asked {asked}{action}"


def decided(facts: Facts, outcome: Outcome) -> frozenset[Requirement]:
    """Tell which requirements came to an outcome."""
    return frozenset(
        decision.requirement
        for decision in (facts.verdict.decisions if facts.verdict else ())
        if decision.outcome is outcome
    )


def tally(facts: tuple[Facts, ...]) -> tuple[tuple[Outcome, int], ...]:
    """Count the outcomes, most serious first."""
    counts = Counter(each.outcome for each in facts)
    order = (
        Outcome.REJECT,
        Outcome.CHECK_BY_HAND,
        Outcome.STILL_DUE,
        Outcome.ACCEPT,
    )
    return tuple((outcome, counts[outcome]) for outcome in order if counts[outcome])
