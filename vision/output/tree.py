"""An inspection as plain data, ready for JSON; keys.py says what each key means."""

from vision.output.keys import quantity_key, word
from vision.output.tree_set import pair_data, set_data
from vision.output.tree_values import Data, K, finite, limit_data, quantity_data
from vision.records.judged import (
    Decision,
    Findings,
    Load,
    Reading,
    Requirements,
    Specification,
    SpringVerdict,
)
from vision.records.kept import Inspection, Place
from vision.records.measured import SpringMeasurement, Unmeasured

FORMAT = 1


def to_data(inspection: Inspection, *, influences: bool = False) -> Data:
    """Give an inspection as plain data, as it stands in the JSON file."""
    job, row = inspection.job, inspection.row
    return {
        "format": FORMAT,
        "program_version": inspection.program_version,
        "job": {
            "name": job.name,
            "engine": job.engine,
            "started_at": job.started_at.isoformat(),
            "note": job.note,
        },
        "photos": [
            {"name": name, "sha256": digest}
            for name, digest in zip(row.photo_names, row.photo_sha256, strict=True)
        ],
        "calibration": _calibration(inspection, influences=influences),
        "specification": _specification(inspection.specification),
        "springs": [
            _spring(inspection, spring, influences=influences) for spring in row.springs
        ],
        "set": {
            "kinds": [
                set_data(part, influences=influences) for part in inspection.sets
            ],
            "pairs": [
                pair_data(pair, influences=influences) for pair in inspection.pairs
            ],
        },
        "warnings": list(row.warnings),
        "advice": list(row.advice),
    }


def _calibration(inspection: Inspection, *, influences: bool) -> Data:
    calibration = inspection.row.calibration
    return {
        "photo": calibration.photo_name,
        "photo_sha256": calibration.photo_sha256,
        "px_per_mm": quantity_data(calibration.px_per_mm, influences=influences),
        "residual_px": finite(calibration.residual_px),
        "remarks": list(calibration.remarks),
    }


def _specification(specification: Specification | None) -> Data | None:
    if specification is None:
        return None
    return {
        "name": specification.name,
        "sha256": specification.sha256,
        "doubts": list(specification.doubts),
        "kinds": [_requirements(kind) for kind in specification.kinds],
    }


def _requirements(kind: Requirements) -> Data:
    """Give what is asked of heights and loads, as plots need it."""
    return {
        "kind": kind.kind,
        "free_height": limit_data(kind.free_height) or None,
        "closed": _load(kind.closed),
        "open": _load(kind.open),
        "pair_closed": _load(kind.pair_closed),
        "pair_open": _load(kind.pair_open),
        "solid_height_mm": finite(kind.solid_height_mm),
    }


def _load(load: Load | None) -> Data | None:
    if load is None:
        return None
    return {"height_mm": finite(load.height_mm)} | limit_data(load.force)


def _spring(
    inspection: Inspection,
    spring: SpringMeasurement | Unmeasured,
    *,
    influences: bool,
) -> Data:
    """Give one spring: who it is, its values or why it has none, what was decided."""
    position = spring.position
    data: Data = {"position": position} | _place(inspection.places.get(position))
    match spring:
        case SpringMeasurement():
            data |= _values(spring, influences=influences)
        case Unmeasured():
            data |= {"unmeasured": spring.why, "detail": spring.detail}
    data["findings"] = _findings(inspection.findings.get(position))
    data["hint"] = inspection.hints.get(position)
    readings = inspection.readings.get(position, ())
    data["readings"] = [_reading(reading) for reading in readings]
    verdicts = {verdict.position: verdict for verdict in inspection.verdicts}
    verdict = verdicts.get(position)
    data["verdict"] = verdict and _verdict(verdict, influences=influences)
    return data


def _place(place: Place | None) -> Data:
    return {
        "place": place.word if place else None,
        "place_text": place.text if place else None,
        "kind": place.kind if place else None,
    }


def _values(spring: SpringMeasurement, *, influences: bool) -> Data:
    """Give each value that was read under its name with its unit."""
    data: Data = {
        quantity_key(kind.key, kind.unit): quantity_data(value, influences=influences)
        for kind, value in spring.values.items()
    }
    right, away = spring.lean_parts_deg
    return data | {
        "lean_to_the_right_deg": quantity_data(right, influences=influences),
        "lean_away_deg": quantity_data(away, influences=influences),
        "views": spring.views,
        "remarks": list(spring.remarks),
    }


def _findings(findings: Findings | None) -> Data | None:
    if findings is None or not findings.found:
        return None
    return {"found": [one.key for one in findings.found], "note": findings.note}


def _reading(reading: Reading) -> Data:
    value = {
        "value": finite(reading.value),
        "expanded_uncertainty": finite(reading.expanded_uncertainty),
        "coverage_factor": K,
    }
    return {
        "instrument": reading.instrument.key,
        "entered_by_hand": True,
        f"value_{reading.unit}": value,
        "uncertainty_assumed": reading.assumed,
        "set_height_mm": finite(reading.set_height_mm),
    }


def _verdict(verdict: SpringVerdict, *, influences: bool) -> Data:
    return {
        "outcome": word(verdict.outcome),
        "due": list(verdict.due),
        "actions": list(verdict.actions),
        "decisions": [
            _decision(decision, influences=influences) for decision in verdict.decisions
        ],
    }


def _decision(decision: Decision, *, influences: bool) -> Data:
    data: Data = {
        "requirement": decision.requirement.key,
        "outcome": word(decision.outcome),
        "why": decision.why,
        "action": decision.action,
    }
    if decision.value is not None:
        key = quantity_key("value", decision.value.unit)
        data[key] = quantity_data(decision.value, influences=influences)
    return data | limit_data(decision.limit)
