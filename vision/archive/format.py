"""What an archive holds, as text: format 1.

An inspection is kept as two payloads, each one JSON text written by calib.codec and
named by the SHA-256 of that text: what was measured (row, calibration, what was
given), and what was judged (job, specification, places, findings, readings, verdicts,
sets, program). A correction keeps the measured payload and writes a new judged one,
so that the digest shows that the measurement was not touched.

A record may grow by fields that have a default; any other change of a record is a new
format: count FORMAT up, read the old one, and freeze an archive of it under
tests/cases/archives.
"""

from dataclasses import dataclass, field
from hashlib import sha256

from calib import quantity
from calib import records as seen
from calib.codec import read_json, write_json
from vision.records import judged, kept, measured
from vision.records.kept import Given, Inspection, Job, Place

FORMAT = 1
DATABASE_NAME = "inspections.sqlite"
SETTINGS_NAME = "archive.toml"
ORIGINALS = "originals"
OVERLAYS = "overlays"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Measured:
    """The payload of what was measured."""

    row: measured.Row
    given: Given


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """The payload of what was judged."""

    job: Job
    specification: judged.Specification | None
    places: dict[int, Place]
    findings: dict[int, judged.Findings]
    readings: dict[int, tuple[judged.Reading, ...]]
    verdicts: tuple[judged.SpringVerdict, ...]
    sets: tuple[judged.SetResult, ...]
    program_version: str
    hints: dict[int, str] = field(default_factory=dict)
    pairs: tuple[judged.PairLoad, ...] = ()


RECORDS: tuple[type, ...] = (
    Measured,
    Judged,
    quantity.Influence,
    quantity.Quantity,
    seen.Exif,
    seen.Lens,
    seen.TrySquare,
    seen.SquareCard,
    seen.Reference,
    seen.Camera,
    seen.Variant,
    seen.FocalCase,
    seen.Calibration,
    measured.Characteristic,
    measured.Reason,
    measured.Unmeasured,
    measured.Drawing,
    measured.SpringMeasurement,
    measured.Row,
    judged.Outcome,
    judged.Requirement,
    judged.Limit,
    judged.Load,
    judged.Requirements,
    judged.Specification,
    judged.Instrument,
    judged.Reading,
    judged.Finding,
    judged.Findings,
    judged.Decision,
    judged.SpringVerdict,
    judged.Standing,
    judged.Group,
    judged.LoadStanding,
    judged.LoadSet,
    judged.SetResult,
    judged.PairLoad,
    kept.Place,
    kept.Job,
    kept.Given,
)
"""Every class that a payload may hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Payload:
    """A text and its SHA-256."""

    sha256: str
    text: str


def measured_payload(inspection: Inspection, given: Given) -> Payload:
    """Write what was measured."""
    return _payload(Measured(row=inspection.row, given=given))


def judged_payload(inspection: Inspection) -> Payload:
    """Write what was judged."""
    return _payload(
        Judged(
            job=inspection.job,
            specification=inspection.specification,
            places=inspection.places,
            findings=inspection.findings,
            readings=inspection.readings,
            verdicts=inspection.verdicts,
            sets=inspection.sets,
            program_version=inspection.program_version,
            hints=inspection.hints,
            pairs=inspection.pairs,
        )
    )


def read_payloads(measured_text: str, judged_text: str) -> tuple[Inspection, Given]:
    """Make the inspection again; raises CodecError when a text is not as written."""
    first: Measured = read_json(measured_text, RECORDS)
    second: Judged = read_json(judged_text, RECORDS)
    inspection = Inspection(
        job=second.job,
        row=first.row,
        specification=second.specification,
        places=second.places,
        findings=second.findings,
        readings=second.readings,
        verdicts=second.verdicts,
        sets=second.sets,
        program_version=second.program_version,
        hints=second.hints,
        pairs=second.pairs,
    )
    return inspection, first.given


def digest_of(text: str) -> str:
    """SHA-256 of a payload's text."""
    return sha256(text.encode()).hexdigest()


def _payload(record: Measured | Judged) -> Payload:
    text = write_json(record, RECORDS)
    return Payload(sha256=digest_of(text), text=text)
