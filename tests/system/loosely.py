"""Compares printed text where figures may move a little and days come and go."""

import re

NUMBER = re.compile(r"([−+-]?\d+(?:\.\d+)?)")
MASKS = (
    (re.compile(r"\d{4}-\d{2}-\d{2}( \d{2}:\d{2})?"), "DAY"),
    (re.compile(r"\b[0-9a-f]{12}\.\.\."), "DIGEST"),
    (re.compile(r"─+"), "RULE"),
)
ABSOLUTE, RELATIVE = 0.06, 0.002
"""Less than the least U that is shown; more than another processor's rounding."""


def first_difference(shown: str, printed: str) -> str | None:
    """Say where two texts part: other words, or a number that is another."""
    ours, theirs = _pieces(shown), _pieces(printed)
    for index, (one, other) in enumerate(zip(ours, theirs, strict=False)):
        alike = _close(one, other) if index % 2 else one == other
        if not alike:
            return (
                f"{''.join(ours[max(0, index - 3) : index])}>>{one}<< not >>{other}<<"
            )
    return None if len(ours) == len(theirs) else f"{len(ours)}, {len(theirs)} pieces"


def _pieces(text: str) -> list[str]:
    """Split into words between numbers, and numbers; spaces do not count."""
    for pattern, word in MASKS:
        text = pattern.sub(word, text)
    return NUMBER.split(" ".join(text.split()))


def _close(one: str, other: str) -> bool:
    first, second = (float(text.replace("−", "-")) for text in (one, other))
    return abs(first - second) <= ABSOLUTE + RELATIVE * abs(first)
