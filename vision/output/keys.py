"""What each key of the JSON file and each column of the CSV file means.

The JSON file has ``format`` 1. Keys may be added without a new number; none is renamed,
removed or given another meaning without one. In the table below ``springs[]`` is one
entry of a list, and a row ending in ``_mm {}`` stands for the three keys of a measured
value: ``value``, ``expanded_uncertainty``, ``coverage_factor``.
"""

from enum import Enum

from vision.records.judged import Finding, Instrument, Outcome, Requirement
from vision.records.measured import Characteristic


def quantity_key(name: str, unit: str) -> str:
    """Name a value with its unit; counts carry theirs in the name already."""
    return name if name.endswith(unit) else f"{name}_{unit.replace('/', '_per_')}"


def limit_keys(unit: str) -> dict[str, str]:
    """Name and explain the keys of a limit."""
    return {
        quantity_key("minimum", unit): f"lower limit in {unit}, or null",
        quantity_key("maximum", unit): f"upper limit in {unit}, or null",
        quantity_key("new_minimum", unit): "lower limit of a new spring, or null",
        quantity_key("new_maximum", unit): "upper limit of a new spring, or null",
        "as_given": "the limit as the specification has it",
    }


def value_columns(kind: Characteristic) -> tuple[str, str]:
    """Name the CSV columns of a value and of its U."""
    if kind.unit == "coils":
        return kind.key, f"{kind.key}_U"
    return f"{kind.key}_{kind.unit}", f"{kind.key}_U_{kind.unit}"


def reading_columns(instrument: Instrument) -> tuple[str, str]:
    """Name the CSV columns of a hand reading and of its U."""
    name = f"hand_{instrument.key}"
    return f"{name}_{instrument.unit}", f"{name}_U_{instrument.unit}"


def apart_columns(instrument: Instrument) -> tuple[str, str]:
    """Name the CSV columns of a force against its set and of the U."""
    name = f"set_{instrument.key}_apart"
    return f"{name}_percent", f"{name}_U_percent"


def word(member: Enum) -> str:
    """Write an outcome as one word."""
    return member.name.lower()


def _words(texts: list[str]) -> str:
    return f"{', '.join(texts[:-1])} or {texts[-1]}"


def _pairs(columns: dict[tuple[str, str], str]) -> dict[str, str]:
    """Explain each value's column and its U's."""
    explained = {}
    for (name, u_name), text in columns.items():
        explained[name] = text
        explained[u_name] = f"U of {name}, k = 2"
    return explained


QUANTITY_KEYS: dict[str, str] = {
    "value": "the value, in the unit that ends the key it stands under",
    "expanded_uncertainty": "U of the value in the same unit",
    "coverage_factor": "k = 2, about 95 %",
    "influences": "only when asked for: what makes up the uncertainty, as a list",
    "influences[].source": "influences of one source are fully correlated",
    "influences[].label": "the influence in plain words",
    "influences[].u": "signed standard uncertainty, in the unit of the value",
    "influences[].share": "part of the variance, 0 to 1",
}
"""Within every key that carries a measured value."""

KEYS: dict[str, str] = {
    "format": "number of this schema: 1",
    "program_version": "version of the program that measured",
    "job.name": "name of the job",
    "job.engine": "engine as entered",
    "job.started_at": "date and time, ISO 8601",
    "job.note": "note as entered",
    "photos[].name": "file name of the photo, first view first",
    "photos[].sha256": "SHA-256 of the photo's bytes",
    "calibration.photo": "file name of the photo that shows the target",
    "calibration.photo_sha256": "SHA-256 of its bytes",
    "calibration.px_per_mm": "scale in the plane of the springs' axes; a value with U",
    "calibration.residual_px": "root mean square misfit of the target's edges",
    "calibration.remarks[]": "what was noticed while calibrating",
    "specification": "null when the springs were measured and not judged",
    "specification.name": "name of the specification",
    "specification.sha256": "SHA-256 of the specification file",
    "specification.doubts[]": "possible misprints, with figures",
    "specification.kinds[].kind": "kind of spring, '' when there is one kind",
    "specification.kinds[].free_height": "its limits, or null when none is asked",
    "specification.kinds[].closed": "the load at closed height, or null",
    "specification.kinds[].open": "the load at open height, or null",
    **{
        f"specification.kinds[].{name}.height_mm": "height at which the load is asked"
        for name in ("closed", "open", "pair_closed", "pair_open")
    },
    **{
        f"specification.kinds[].{name}.{key}": text
        for name, unit in (
            ("free_height", "mm"),
            ("closed", "N"),
            ("open", "N"),
            ("pair_closed", "N"),
            ("pair_open", "N"),
        )
        for key, text in limit_keys(unit).items()
    },
    "specification.kinds[].pair_closed": "load asked of inner and outer, or null",
    "specification.kinds[].pair_open": "load asked of inner and outer, or null",
    "specification.kinds[].solid_height_mm": "solid height, or null",
    "springs[].position": "1 is leftmost in the first photo as seen upright",
    "springs[].place": "word for the place in the engine, or null",
    "springs[].place_text": "the place in full, or null",
    "springs[].kind": "kind of spring in the specification, or null",
    **{
        f"springs[].{quantity_key(kind.key, kind.unit)}": kind.text
        for kind in Characteristic
    },
    "springs[].lean_deg": (
        "lean off square. One view: signed, in the picture plane, positive to the "
        "right. Two views: the whole lean"
    ),
    "springs[].squareness_mm": "squareness e1. One view: only its part in the picture",
    "springs[].lean_to_the_right_deg": "part of the lean in the first picture's plane",
    "springs[].lean_away_deg": "part away from the camera; null with one view",
    "springs[].views": "number of photos that the values rest on: 1 or 2",
    "springs[].remarks[]": "what was noticed about this spring",
    "springs[].unmeasured": "why the spring has no values; absent when it has",
    "springs[].detail": "the figures behind it; absent when the spring was measured",
    "springs[].findings": "what a person saw; null means not yet looked",
    "springs[].findings.found[]": _words([each.key for each in Finding]),
    "springs[].findings.note": "note as entered",
    "springs[].hint": "where the picture suggests to look again, no finding; or null",
    "springs[].readings[].instrument": _words([each.key for each in Instrument]),
    "springs[].readings[].entered_by_hand": "always true",
    "springs[].readings[].value_mm": "a length read by hand; a value with U",
    "springs[].readings[].value_N": "a force read by hand; a value with U",
    "springs[].readings[].uncertainty_assumed": "no U entered; a usual one stands in",
    "springs[].readings[].set_height_mm": "height at which a force was read, or null",
    "springs[].verdict": "null when there is no specification",
    "springs[].verdict.outcome": _words([word(each) for each in Outcome]),
    "springs[].verdict.due[]": "what has to be done before it can be accepted",
    "springs[].verdict.actions[]": "what to do with this spring",
    "springs[].verdict.decisions[].requirement": _words(
        [each.key for each in Requirement]
    ),
    "springs[].verdict.decisions[].outcome": "as for the spring",
    "springs[].verdict.decisions[].why": "the reason in words",
    "springs[].verdict.decisions[].action": "what to do",
    **{
        f"springs[].verdict.decisions[].{key}": text
        for unit in ("mm", "deg", "N", "N/mm")
        for key, text in limit_keys(unit).items()
    },
    **{
        f"springs[].verdict.decisions[].{quantity_key('value', unit)}": (
            f"what was decided on in {unit}; a value with U"
        )
        for unit in ("mm", "deg", "N", "N/mm")
    },
    "set.kinds[].kind": "kind of spring that the set is of, '' when there is one kind",
    "set.kinds[].ranking[].position": "spring",
    "set.kinds[].ranking[].rank": "1 is the tallest",
    "set.kinds[].ranking[].height_mm": "free height",
    "set.kinds[].ranking[].straightedge_gap_mm": (
        "gap under a straightedge over the two tallest, set at the ends"
    ),
    "set.kinds[].straightedge_order[]": "positions as set up under the straightedge",
    "set.kinds[].spread_mm": "tallest minus shortest; null with fewer than two",
    "set.kinds[].spread_max_mm": "what the specification allows, or null",
    "set.kinds[].spread_outcome": "as for a spring",
    "set.kinds[].groups[].number": "1 has the shortest springs",
    "set.kinds[].groups[].positions[]": "springs of the group",
    "set.kinds[].groups[].lowest_mm": "its shortest free height",
    "set.kinds[].groups[].highest_mm": "its tallest free height",
    "set.kinds[].groups[].doubtful[]": "springs whose border is within U",
    "set.kinds[].best_subset[]": "most springs that match one another",
    "set.kinds[].replace[]": "springs to replace for the rest to match",
    "set.kinds[].outliers[]": "springs well below the set",
    "set.kinds[].remarks[]": "what was noticed about the set",
    "set.kinds[].loads[].instrument": "closed_force or open_force, read by hand",
    "set.kinds[].loads[].height_mm": "height that all forces are brought to",
    "set.kinds[].loads[].ranking[].position": "spring, strongest first",
    "set.kinds[].loads[].ranking[].force_N": "force at that height",
    "set.kinds[].loads[].ranking[].apart_percent": (
        "above the median of the others; below is negative"
    ),
    "set.kinds[].loads[].spread_N": "strongest less weakest",
    "set.kinds[].loads[].weak[]": "springs proven more than 10 % below the others",
    "set.kinds[].loads[].remarks[]": "what was noticed about the loads",
    "set.pairs[].place": "valve whose outer and inner spring press together",
    "set.pairs[].requirement": "pair_closed_load or pair_open_load",
    "set.pairs[].positions[]": "outer, then inner",
    "set.pairs[].heights_mm[]": "length of each, outer first",
    "set.pairs[].force_N": "both forces, read by hand, added",
    "set.pairs[].outcome": "as for a spring; null where nothing is asked of a pair",
    **{f"set.pairs[].{key}": text for key, text in limit_keys("N").items()},
    "warnings[]": "what limits the trust in this result",
    "advice[]": "what to do better in the next photo",
}
"""Path of each key, and what stands there."""

COLUMNS: dict[str, str] = {
    "position": "1 is leftmost in the first photo",
    "place": "word for the place in the engine",
    "kind": "kind of spring in the specification",
    **_pairs({value_columns(kind): kind.text for kind in Characteristic}),
    "views": "number of photos that the values rest on",
    "unmeasured": "why the spring has no values",
    "verdict": "the outcome as in the JSON file; empty when not judged",
    "due": "what has to be done before it can be accepted, joined by '; '",
    "actions": "what to do with this spring, joined by '; '",
    **_pairs(
        {reading_columns(each): f"{each.text}, entered by hand" for each in Instrument}
    ),
    "findings": "what a person saw, joined by '; '; empty means not yet looked",
    "hint": "where the picture suggests to look again; no finding",
    **_pairs(
        {
            apart_columns(each): f"{each.text} above the others' median; below is < 0"
            for each in (Instrument.CLOSED_FORCE, Instrument.OPEN_FORCE)
        }
    ),
}
"""Columns of the CSV file in their order: one line a spring, UTF-8, comma."""
