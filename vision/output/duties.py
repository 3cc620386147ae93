"""What is still missing for a spring, apart from what is to be checked by hand."""

from vision.records.judged import Outcome, SpringVerdict


def missing(verdict: SpringVerdict) -> tuple[str, ...]:
    """Name what nobody has measured or looked at; checks by hand are told apart."""
    waiting = {
        line.requirement.text
        for line in verdict.decisions
        if line.outcome is Outcome.CHECK_BY_HAND
    }
    return tuple(
        due
        for due in verdict.due
        if due.removesuffix(" (check by hand)") not in waiting
    )
