"""What looking found, and where the picture suggests to look again."""

from collections.abc import Mapping
from difflib import get_close_matches
from math import hypot, log
from statistics import median

from calib.errors import SpecError
from vision.records.judged import Finding, Findings

OPTION = "--finding"
MOST_NOTE = 500  # characters
KEYS = {finding.key: finding for finding in Finding}
LEAST_SPRINGS = 3  # of which a median colour says something
# In log ratios of the channels: clean sets scatter by 2 %, evenly rusty ones by 4 %.
COLOUR_STEP = 0.06
STRAY_FACTOR = 4.0  # times the set's own median distance


def parse_findings(text: str, note: str = "") -> Findings:
    """Read 'none' or 'crack,pitting'; raise SpecError."""
    words = [word.strip().lower() for word in text.split(",") if word.strip()]
    if not words:
        raise SpecError(OPTION, "nothing is named", f"Use {', '.join(KEYS)}")
    unknown = next((word for word in words if word not in KEYS), None)
    if unknown is not None:
        meant = _meant(unknown)
        raise SpecError(
            OPTION, f'"{unknown}" is no finding', f"{meant}Known are {', '.join(KEYS)}"
        )
    found = tuple(finding for key, finding in KEYS.items() if key in words)
    if Finding.NONE in found and len(found) > 1:
        raise SpecError(
            OPTION, f'"{text}" finds something and nothing', "Leave none away"
        )
    if len(note) > MOST_NOTE:
        raise SpecError(
            OPTION, f"the note has {len(note)} characters", f"Keep it to {MOST_NOTE}"
        )
    return Findings(found=found, note=note)


def _meant(word: str) -> str:
    """Suggest a finding that is spelt alike, or whose plain name holds the word."""
    close = get_close_matches(word, KEYS, n=1)
    named = [key for key, finding in KEYS.items() if word in finding.text.split()]
    return f"Did you mean {[*close, *named][0]}? " if close or named else ""


def split_finding(text: str) -> tuple[str, Findings]:
    """Read '3=crack,pitting' or '1Io=none'; return the spring's word and findings."""
    word, sign, rest = text.partition("=")
    if not sign or not word.strip():
        raise SpecError(
            OPTION, f'"{text}" names no spring', 'Write it like "3=crack" or "1I=none"'
        )
    return word.strip(), parse_findings(rest)


def colour_hints(colours: Mapping[int, tuple[float, float, float]]) -> dict[int, str]:
    """Name springs whose wire differs in colour from the set's own median.

    ``colours`` are linear r, g, b of the wire by position, under the picture's own
    light. A hint to look again at heat, rust or dirt; never a finding.
    """
    shades = {at: _shade(colour) for at, colour in colours.items() if min(colour) > 0.0}
    if len(shades) < LEAST_SPRINGS:
        return {}
    centre = tuple(median(shade[axis] for shade in shades.values()) for axis in (0, 1))
    offsets = {
        at: (shade[0] - centre[0], shade[1] - centre[1]) for at, shade in shades.items()
    }
    usual = median(hypot(*offset) for offset in offsets.values())
    limit = max(COLOUR_STEP, STRAY_FACTOR * usual)
    return {
        at: f"the wire looks {_tint(offset)} than the set: look again for heat or rust"
        for at, offset in offsets.items()
        if hypot(*offset) > limit
    }


def _shade(colour: tuple[float, float, float]) -> tuple[float, float]:
    """Red and blue against green; brightness drops out."""
    red, green, blue = colour
    return log(red / green), log(blue / green)


def _tint(offset: tuple[float, float]) -> str:
    red, blue = offset
    if abs(red) >= abs(blue):
        return "redder" if red > 0.0 else "less red"
    return "bluer" if blue > 0.0 else "yellower"
