"""Verdicts spring by spring: what speaks against it, what to do, what is due.

What holds for several springs alike is said once, below them.
"""

from collections.abc import Iterator, Sequence

from rich.console import RenderableType
from rich.padding import Padding
from rich.text import Text

from vision.output.duties import missing
from vision.output.plaintext import clean
from vision.output.table_style import STYLES, heading, named, signed
from vision.records.judged import Decision, Outcome, Requirement, SpringVerdict
from vision.records.kept import Inspection
from vision.records.measured import Unmeasured

TOLD = (Outcome.REJECT, Outcome.CHECK_BY_HAND)
LEAST_COMMON = 3  # springs of which a like check is said once
INDENT = (0, 0, 0, 5)

Likeness = tuple[Requirement, str]


def verdict_lines(inspection: Inspection) -> Iterator[RenderableType]:
    """Say of each spring what was decided and why."""
    if not inspection.verdicts:
        yield heading("Measured and not judged: no specification was given.")
        return
    yield heading("Verdicts")
    checks = _common_checks(inspection.verdicts)
    due = _common_due(inspection.verdicts)
    for verdict in inspection.verdicts:
        line = Text.assemble(named(inspection, verdict.position), "  ")
        yield line + signed(verdict.outcome)
        for part in _reasons(inspection, verdict, checks, due):
            yield Padding(part, INDENT)
    for (requirement, action), positions in checks.items():
        springs = ", ".join(map(str, positions))
        text = f"? {requirement.text} of springs {springs}: {clean(action)}"
        yield Text(text, style=STYLES[Outcome.CHECK_BY_HAND])
    if due:
        words = ", ".join(clean(part) for part in due)
        sign = Outcome.STILL_DUE.sign
        yield Text(f"{sign} still due for every spring not rejected: {words}")


def _common_checks(verdicts: Sequence[SpringVerdict]) -> dict[Likeness, list[int]]:
    """Find checks by hand that several springs need alike."""
    found: dict[Likeness, list[int]] = {}
    for verdict in verdicts:
        for decision in verdict.decisions:
            if decision.outcome is Outcome.CHECK_BY_HAND:
                found.setdefault(_likeness(decision), []).append(verdict.position)
    return {like: at for like, at in found.items() if len(at) >= LEAST_COMMON}


def _likeness(decision: Decision) -> Likeness:
    return decision.requirement, decision.action


def _common_due(verdicts: Sequence[SpringVerdict]) -> tuple[str, ...]:
    """Find what is due for every spring that is not rejected."""
    open_ones = [each for each in verdicts if each.outcome is not Outcome.REJECT]
    if len(open_ones) < 2:  # noqa: PLR2004 - of one spring it is said on its own line
        return ()
    first, *others = open_ones
    return tuple(
        part
        for part in missing(first)
        if all(part in missing(other) for other in others)
    )


def _reasons(
    inspection: Inspection,
    verdict: SpringVerdict,
    checks: dict[Likeness, list[int]],
    common_due: tuple[str, ...],
) -> Iterator[Text]:
    """Say what is this spring's own."""
    for spring in inspection.row.springs:
        if spring.position == verdict.position and isinstance(spring, Unmeasured):
            parts = (f"it {spring.reason.value}", clean(spring.detail))
            yield Text(f"not measured: {'; '.join(part for part in parts if part)}")
    for outcome in TOLD:
        for decision in verdict.decisions:
            if decision.outcome is outcome and _likeness(decision) not in checks:
                yield Text(_told(decision), style=STYLES[outcome])
    due = [clean(part) for part in missing(verdict) if part not in common_due]
    if due and verdict.outcome is not Outcome.REJECT:
        yield Text(f"{Outcome.STILL_DUE.sign} still due: {', '.join(due)}")


def _told(decision: Decision) -> str:
    name, why = decision.requirement.text, clean(decision.why)
    text = why if why.startswith(name) else f"{name}: {why}"
    action = f"; {clean(decision.action)}" if decision.action else ""
    return f"{decision.outcome.sign} {text}{action}"
