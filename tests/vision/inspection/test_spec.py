"""Specification files: what they give, and one clear sentence for each that cannot."""

import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest

from calib.errors import SpecError
from vision.inspection.spec import find_requirements, load_specification
from vision.records.judged import Specification

Loading = Callable[[str], Specification]

FULL = """
[specification]
name = "invented four"
source = "invented for this test"

[matching]
spread_max = "1.0 mm"
group_width = "0.02 in"

[squareness]
max = "1.5 mm"
limit = "2.0 mm"

[intake.free_height]
nominal = "48.0 mm (1.890 in)"
tolerance = "+-0.4 mm"
limit = "47.1 mm"

[intake.closed_load]
height = "38.9 mm"
force = "296.2 N"
tolerance = "6 %"
limit = "257.9 N"

[exhaust.outer.free_height]
min = "1 27/32 in"

[exhaust.outer.squareness]
max = "2 deg"

[exhaust.inner.closed_load]
height = "1.570 in"
min = "95 lbf"
max = "100 lbf"
"""


@pytest.fixture
def load(tmp_path: Path) -> Loading:
    """Write a text as SPEC.toml and load it."""

    def write_and_load(text: str) -> Specification:
        path = tmp_path / "SPEC.toml"
        path.write_text(text, encoding="utf-8")
        return load_specification(path)

    return write_and_load


def test_reads_sections_for_each_kind_with_common_ones_as_default(
    load: Loading,
) -> None:
    """Three kinds come out, each with the common squareness or its own."""
    specification = load(FULL)

    assert [kind.kind for kind in specification.kinds] == [
        "intake",
        "exhaust inner",
        "exhaust outer",
    ]
    assert specification.name == "invented four"
    assert specification.spread_max_mm == 1.0
    assert specification.group_width_mm == pytest.approx(0.508, abs=1e-9)
    intake = find_requirements(specification, "intake")
    assert intake.squareness.maximum == 2.0
    assert intake.squareness.new_maximum == 1.5


def test_wear_limit_decides_and_the_new_range_is_kept(load: Loading) -> None:
    """47.1 mm decides, 47.6 to 48.4 mm describes a new spring."""
    height = find_requirements(load(FULL), "intake").free_height

    assert (height.minimum, height.new_minimum) == (47.1, 47.6)
    assert height.maximum == pytest.approx(48.4)
    assert height.nominal == 48.0
    assert height.as_given == (
        "nominal 48.0 mm (1.890 in), tolerance +-0.4 mm, limit 47.1 mm"
    )


def test_section_of_a_kind_replaces_the_common_one(load: Loading) -> None:
    """Exhaust outer springs are held to 2 deg, exhaust inner ones to 2.0 mm."""
    specification = load(FULL)

    outer = find_requirements(specification, "exhaust outer").squareness
    inner = find_requirements(specification, "exhaust inner").squareness
    assert (outer.unit, outer.maximum) == ("deg", 2.0)
    assert (inner.unit, inner.maximum) == ("mm", 2.0)


def test_inches_and_pounds_become_millimetres_and_newtons(load: Loading) -> None:
    """1.570 in is 39.878 mm and 95 lbf 422.58 N (exact definitions)."""
    closed = find_requirements(load(FULL), "exhaust inner").closed

    assert closed.height_mm == pytest.approx(39.878, abs=1e-9)
    assert closed.force.minimum == pytest.approx(95 * 4.4482216152605, abs=1e-9)


def test_per_cent_of_force_and_loss(load: Loading) -> None:
    """10 % loss from the middle of 285 to 323 N leaves 273.6 N."""
    specification = load(
        """
        [closed_load]
        height = "40.52 mm"
        min = "285 N"
        max = "323 N"
        loss_max = "10 %"
        [open_load]
        height = "29.74 mm"
        force = "912 N"
        tolerance = "+-10 %"
        """
    )

    kind = find_requirements(specification, "")
    assert kind.closed.force.minimum == pytest.approx(273.6, abs=1e-9)
    assert kind.closed.force.new_minimum == 285.0
    assert kind.open.force.maximum == pytest.approx(1003.2, abs=1e-9)


def test_kind_falls_back_on_the_more_general_section(load: Loading) -> None:
    """'intake inner' is held to [intake]; a kind that nothing fits has none."""
    specification = load(FULL)

    assert find_requirements(specification, "intake inner").kind == "intake"
    assert find_requirements(specification, "exhaust") is None


def test_common_free_height_serves_the_kinds_that_have_no_section(
    load: Loading,
) -> None:
    """With a common free height, only exhaust differs."""
    specification = load(
        '[free_height]\nmin = "47 mm"\n[exhaust.free_height]\nmin = "46 mm"\n'
    )

    assert find_requirements(specification, "intake").free_height.minimum == 47.0
    assert find_requirements(specification, "exhaust").free_height.minimum == 46.0


def test_digest_is_of_the_bytes(load: Loading) -> None:
    """The SHA-256 is that of the file's bytes."""
    text = '[free_height]\nmin = "47 mm"\n'

    assert load(text).sha256 == hashlib.sha256(text.encode()).hexdigest()


REFUSED = {
    "unknown key": (
        '[free_height]\nminimum = "47 mm"',
        "[free_height] minimum is not a known key. Did you mean min?",
    ),
    "unknown section": (
        '[freeheight]\nmin = "47 mm"',
        "[freeheight] is not a known section. Did you mean free_height?",
    ),
    "mass as a height": (
        '[free_height]\nmin = "48 kg"',
        '[free_height] min = "48 kg" is not a length',
    ),
    "mass as a force": (
        '[closed_load]\nheight = "38.9 mm"\nforce = "25 kg"',
        '[closed_load] force = "25 kg" is not a force. A force is given in N, kgf or',
    ),
    "missing unit": (
        '[free_height]\nmin = "47"',
        '[free_height] min = "47" has no unit',
    ),
    "bare number": (
        "[free_height]\nmin = 47.1",
        "[free_height] min = 47.1 has no unit",
    ),
    "negative": (
        '[free_height]\nmin = "-47 mm"',
        '[free_height] min = "-47 mm" is negative',
    ),
    "zero": ('[free_height]\nmin = "0 mm"', '[free_height] min = "0 mm" is zero'),
    "min above max": (
        '[intake.free_height]\nmin = "48.4 mm"\nmax = "47.6 mm"',
        "[intake.free_height] has min 48.4 mm above max 47.6 mm",
    ),
    "typing slip": (
        '[squareness]\nmax = "2.9 5 deg"',
        '[squareness] max = "2.9 5 deg" is not a number with a unit',
    ),
    "decimal comma": (
        '[free_height]\nmin = "47,1 mm"',
        "Write a decimal point instead of the comma",
    ),
    "not TOML": ("free height 47.1 mm", "it is not TOML"),
    "nothing asked": ('[material]\nname = "music-wire"', "it asks nothing of a spring"),
    "empty file": ("", "it asks nothing of a spring"),
    "empty section": ("[free_height]", "[free_height] is empty"),
    "section as a value": (
        'free_height = "47.1 mm"',
        "[free_height] is given as a value, free_height = 47.1 mm",
    ),
    "load without height": (
        '[closed_load]\nforce = "290 N"',
        "[closed_load] gives a force without the height it belongs to",
    ),
    "height without load": (
        '[closed_load]\nheight = "38.9 mm"',
        "[closed_load] gives a height without a force",
    ),
    "tolerance without nominal": (
        '[free_height]\ntolerance = "+-0.5 mm"',
        "[free_height] tolerance has no nominal value",
    ),
    "tolerance beside min": (
        '[free_height]\nnominal = "48 mm"\ntolerance = "0.5 mm"\nmin = "47 mm"',
        "[free_height] tolerance stands beside min or max",
    ),
    "tolerance as large as the value": (
        '[free_height]\nnominal = "48 mm"\ntolerance = "120 %"',
        'tolerance "120 %" is not less than "48 mm" itself',
    ),
    "wear limit above max": (
        '[free_height]\nmax = "48 mm"\nlimit = "49 mm"',
        "[free_height] limit 49 mm lies above max 48 mm",
    ),
    "wear limit and loss": (
        '[open_load]\nheight = "30 mm"\nforce = "9 N"\nlimit = "8 N"\nloss_max = "9 %"',
        "[open_load] loss_max stands beside limit",
    ),
    "loss of nothing known": (
        '[open_load]\nheight = "30 mm"\nmin = "9 N"\nloss_max = "10 %"',
        "[open_load] loss_max has no nominal force to start from",
    ),
    "whole loss": (
        '[open_load]\nheight = "30 mm"\nforce = "9 N"\nloss_max = "100 %"',
        "[open_load] loss_max 100 % leaves no force",
    ),
    "squareness of two kinds": (
        '[squareness]\nmax = "1.5 mm"\nlimit = "2 deg"',
        "of different kinds",
    ),
    "squareness limit below max": (
        '[squareness]\nmax = "2 mm"\nlimit = "1.5 mm"',
        '[squareness] limit "1.5 mm" lies below max "2 mm"',
    ),
    "matching under a kind": (
        '[intake.matching]\nspread_max = "1 mm"',
        "[intake.matching] stands under a kind of spring",
    ),
    "kind within a coil": (
        '[inner.intake.free_height]\nmin = "40 mm"',
        "[inner.intake] is not a known section",
    ),
    "unknown material": (
        '[free_height]\nmin = "40 mm"\n[material]\nname = "chrom-silicon"',
        "Did you mean chrome-silicon?",
    ),
    "name that is no text": (
        '[specification]\nname = 5\n[free_height]\nmin = "4 mm"',
        "[specification] name = 5 is not a short text",
    ),
    "endless text": (
        f'[free_height]\nmin = "{"9" * 5000} mm"',
        "[free_height] min has 5003 characters",
    ),
    "too deep": ("a = " + "[" * 5000, "it is not TOML"),
    "too long": ("# " + "x" * 300_000, "it has more than 262144 bytes"),
}


@pytest.mark.parametrize(("text", "words"), REFUSED.values(), ids=REFUSED.keys())
def test_refuses_with_file_key_and_remedy(load: Loading, text: str, words: str) -> None:
    """Each unusable file gets one line that names the file, the key and the fault."""
    with pytest.raises(SpecError) as refusal:
        load(text)

    message = str(refusal.value)
    assert "SPEC.toml: " in message
    assert words in message
    assert "\n" not in message
    assert refusal.value.remedy


def test_refuses_a_file_that_is_not_there(tmp_path: Path) -> None:
    """No such file is said in the system's words."""
    with pytest.raises(
        SpecError, match=r"none\.toml: no such file or directory\. Give"
    ):
        load_specification(tmp_path / "none.toml")


def test_refuses_a_folder(tmp_path: Path) -> None:
    """A folder is no specification."""
    with pytest.raises(SpecError, match="is a directory"):
        load_specification(tmp_path)


def test_refuses_bytes_that_are_no_text(tmp_path: Path) -> None:
    """A picture given as a specification is no text."""
    path = tmp_path / "row.jpg"
    path.write_bytes(b"\xff\xd8\xff\xe0")

    with pytest.raises(SpecError, match="it holds no plain text"):
        load_specification(path)


def test_refuses_a_targets_reference_file(tmp_path: Path) -> None:
    """The other file of a job, given in its stead, is not mended but named."""
    path = tmp_path / "row.reference.toml"
    path.write_text('kind = "try-square"\nblade_mm = 90.0\n', encoding="utf-8")

    with pytest.raises(SpecError, match=r"\[kind\] is not a known section"):
        load_specification(path)
