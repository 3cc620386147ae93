"""Lines that rest on no figure: what was looked for, and what nobody has asked."""

from vision.inspection.wording import join_words
from vision.records.judged import Decision, Finding, Findings, Outcome, Requirement

NO_LOAD = "a photo cannot see the load, and no specification asks for one"
LOOK = "look it over under good light for cracks, pitting, heat and worn ends"
KEEP = "nothing to do"


def judge_findings(findings: Findings) -> Decision:
    """Judge what was seen; nothing entered means that nobody has looked."""
    condemning = [each.text for each in findings.found if each.condemns]
    note = f" ({findings.note})" if findings.note else ""
    if condemning:
        outcome, why, action = (
            Outcome.REJECT,
            f"{join_words(condemning)} found{note}",
            "replace it",
        )
    elif Finding.NONE in findings.found:
        outcome, why, action = Outcome.ACCEPT, f"looked over, nothing found{note}", KEEP
    else:
        outcome, why, action = Outcome.STILL_DUE, f"not yet looked over{note}", LOOK
    return Decision(
        requirement=Requirement.VISUAL,
        outcome=outcome,
        value=None,
        limit=None,
        why=why,
        action=action,
    )


def ask_for_load() -> Decision:
    """Keep a spring due of which no load is asked, so that none was held to a limit."""
    return Decision(
        requirement=Requirement.CLOSED_LOAD,
        outcome=Outcome.STILL_DUE,
        value=None,
        limit=None,
        why=NO_LOAD,
        action="find the load in the manual and add [closed_load]",
    )


def ask_for_limits() -> Decision:
    """Keep a spring due that no specification speaks of."""
    return Decision(
        requirement=Requirement.FREE_HEIGHT,
        outcome=Outcome.STILL_DUE,
        value=None,
        limit=None,
        why="no specification to hold it against",
        action="give the maker's service limits with --spec",
    )
