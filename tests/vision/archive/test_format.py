"""The payloads name every record class and carry their own digest."""

from dataclasses import fields, is_dataclass
from enum import Enum
from typing import get_args, get_type_hints

from tests.factories import make_inspection
from vision.archive.format import (
    RECORDS,
    Judged,
    Measured,
    digest_of,
    judged_payload,
    measured_payload,
)
from vision.records.kept import Given


def _classes(kind: object) -> set[type]:
    """Find every record class and enum that a type mentions."""
    found: set[type] = set()
    if isinstance(kind, type) and (is_dataclass(kind) or issubclass(kind, Enum)):
        found.add(kind)
        if is_dataclass(kind):
            hints = get_type_hints(kind)
            for part in fields(kind):
                found |= _classes(hints[part.name])
    for part in get_args(kind):
        found |= _classes(part)
    return found


def test_every_class_that_can_occur_is_named() -> None:
    """A field of a new record class cannot be forgotten in the format."""
    assert _classes(Measured) | _classes(Judged) == set(RECORDS)


def test_a_payload_is_named_by_its_text() -> None:
    """The digest is that of the text, and the same for the same record."""
    first = measured_payload(make_inspection(2), Given())
    second = measured_payload(make_inspection(2), Given())

    assert first == second
    assert first.sha256 == digest_of(first.text)


def test_judging_again_leaves_what_was_measured_alone() -> None:
    """Another job name changes one payload and not the other."""
    first, second = make_inspection(2), make_inspection(2, job="other")

    assert measured_payload(first, Given()) == measured_payload(second, Given())
    assert judged_payload(first) != judged_payload(second)
