"""A job whose texts try to be more than text."""

from dataclasses import replace

from tests.factories import make_inspection
from vision.records.kept import Inspection, Place

SCRIPT = "<script>alert('x')</script>"
HEBREW = "\u05e8\u05d0\u05e9 \u05de\u05e0\u05d5\u05e2"  # two words, right to left
OVERRIDE = "\u202e"
HOSTILE = f"{SCRIPT} {HEBREW} {OVERRIDE}txt&amp;\x00 ".ljust(200, "W")


def make_hostile_inspection() -> Inspection:
    """Put the hostile text wherever a person may write."""
    inspection = make_inspection(job=HOSTILE, engine=HOSTILE)
    places = {
        position: Place(word=HOSTILE, text=HOSTILE, kind=place.kind)
        for position, place in inspection.places.items()
    }
    findings = {
        position: replace(found, note=HOSTILE)
        for position, found in inspection.findings.items()
    }
    job = replace(inspection.job, note=HOSTILE)
    return replace(inspection, job=job, places=places, findings=findings)
