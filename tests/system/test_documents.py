"""README and DEVELOPERS.md say what is so."""

import re
import sys
from pathlib import Path

import pytest

from scripts.documents.console import find_commands, replace_outputs, run_command
from scripts.documents.mapping import KEYS, MAP, draw_keys, draw_map, replace_between
from tests.system.loosely import first_difference
from vision.cli.app import COMMANDS
from vision.output import keys

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
MOST_PICTURE_BYTES = 400_000
REFRESH = "run scripts/refresh_docs and read what changed"


def test_readme_shows_what_its_commands_print(tmp_path: Path) -> None:
    """Words are the same, figures close: see loosely.py for how close."""
    (tmp_path / "sample_images").symlink_to(ROOT / "sample_images")
    program = Path(sys.executable).with_name("freestand")

    commands = find_commands(README)

    assert len(commands) >= 5
    for shown in commands:
        printed = run_command(shown.command, tmp_path, program)
        difference = first_difference(shown.output, printed)
        assert difference is None, f"{shown.command}\n{difference}\n{REFRESH}"


def test_outputs_are_replaced_in_their_places() -> None:
    """The commands stay, and so does everything around them."""
    document = "a\n```console\n$ one \\\n  -x\nold\n$ two\n```\nb\n"

    renewed = replace_outputs(document, ["new\nline", ""])

    assert renewed == "a\n```console\n$ one \\\n  -x\nnew\nline\n$ two\n```\nb\n"
    assert [one.output for one in find_commands(renewed)] == ["new\nline", ""]


@pytest.mark.parametrize(
    ("printed", "same"),
    [
        ("L0 47.83 ± 0.11 mm, 2026-11-25", True),
        ("L0  47.80\n± 0.12 mm, 2027-01-02 09:30", True),
        ("L0 48.00 ± 0.11 mm, 2026-11-25", False),
        ("L0 47.80 ± 0.11 in, 2026-11-25", False),
        ("L0 47.80 ± 0.11 mm, 2026-11-25 and more", False),
    ],
)
def test_the_comparison_sees_words_and_large_steps(printed: str, same: bool) -> None:
    """Two tenths of a millimetre are not passed over."""
    shown = "L0 47.80 ± 0.11 mm, 2026-11-25"

    assert (first_difference(shown, printed) is None) is same


def test_the_map_is_as_the_modules_say() -> None:
    """Each line is the module's own first line."""
    assert replace_between(DEVELOPERS, MAP, draw_map(ROOT)) == DEVELOPERS, REFRESH


def test_every_key_is_documented() -> None:
    """README has the tables that the files are written by."""
    tables = {
        "JSON key": keys.KEYS,
        "within a measured value": keys.QUANTITY_KEYS,
        "CSV column": keys.COLUMNS,
    }

    assert replace_between(README, KEYS, draw_keys(tables)) == README, REFRESH


def test_readme_names_every_command() -> None:
    """None has to be found by chance."""
    missing = [
        name
        for name in COMMANDS
        if not re.search(rf"`(freestand )?{name}\b|freestand {name}\b", README)
    ]

    assert missing == []


@pytest.mark.parametrize("document", ["README.md", "DEVELOPERS.md"])
def test_links_lead_somewhere(document: str) -> None:
    """A link within the project names a file that is there."""
    text = (ROOT / document).read_text(encoding="utf-8")
    links = re.findall(r"\]\(([^)#]+)\)", text)

    assert [link for link in links if not (ROOT / link).exists()] == []


def test_the_picture_loads_at_once() -> None:
    """It is the program's drawing, small enough for a slow line."""
    picture = ROOT / "sample_images" / "overlay.jpg"

    assert 50_000 < picture.stat().st_size < MOST_PICTURE_BYTES
