"""What is missing is told apart from what waits for a check by hand."""

from vision.output.duties import missing
from vision.records.judged import Decision, Outcome, Requirement, SpringVerdict


def line(requirement: Requirement, outcome: Outcome) -> Decision:
    """A requirement that came to an outcome."""
    return Decision(
        requirement=requirement,
        outcome=outcome,
        value=None,
        limit=None,
        why="",
        action="",
    )


def test_checks_by_hand_are_not_missing() -> None:
    """Squareness waits for a check and is told there; the load is missing."""
    verdict = SpringVerdict(
        position=1,
        place="",
        kind="",
        outcome=Outcome.CHECK_BY_HAND,
        decisions=(
            line(Requirement.SQUARENESS, Outcome.CHECK_BY_HAND),
            line(Requirement.CLOSED_LOAD, Outcome.STILL_DUE),
        ),
        due=("load at closed height", "squareness e1 (check by hand)"),
        actions=(),
    )

    assert missing(verdict) == ("load at closed height",)
