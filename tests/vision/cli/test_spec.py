"""The command: a specification file in, both units and doubts out."""

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from calib.errors import SpecError
from vision.cli.spec import app

SOUND = """
[specification]
name = "invented four"
[matching]
spread_max = "1.0 mm"
[free_height]
nominal = "48.0 mm"
limit = "47.1 mm"
[squareness]
max = "1.7 mm"
[closed_load]
height = "38.9 mm"
min = "257.9 N"
[open_load]
height = "30.1 mm"
force = "560 N"
tolerance = "10 %"
[rate]
nominal = "34 N/mm"
second = "40 N/mm"
[coil_bind]
solid_height = "27 mm"
clearance_min = "1.5 mm"
[outside_diameter]
nominal = "31 mm"
tolerance = "0.3 mm"
[wire_diameter]
nominal = "4.2 mm"
tolerance = "0.05 mm"
[valve]
lift = "8.8 mm"
[material]
name = "chrome-silicon"
shear_modulus = "78.5 GPa"
"""
DOUBTED = '[closed_load]\nheight = "35.55 mm (1.32 in)"\nmin = "340 N"\n'


@pytest.fixture
def spec_file(tmp_path: Path) -> Path:
    """Write a sound specification."""
    path = tmp_path / "SPEC.toml"
    path.write_text(SOUND, encoding="utf-8")
    return path


def run(*arguments: object) -> Result:
    """Run the command."""
    return CliRunner().invoke(app, [str(argument) for argument in arguments])


def test_a_sound_file_is_shown_in_both_units(spec_file: Path) -> None:
    """Exit code 0; each limit in mm and in, N and lbf."""
    result = run(spec_file)

    assert result.exit_code == 0
    assert "invented four" in result.stdout
    assert "at least 47.1 mm" in result.stdout
    assert "at least 1.8543 in" in result.stdout
    assert "at least 57.98 lbf" in result.stdout
    assert "No doubts about its figures." in result.stdout


def test_what_the_figures_imply_is_told(spec_file: Path) -> None:
    """Lean of the squareness limit, clearance left, a new spring's squareness."""
    text = " ".join(run(spec_file).stdout.split())

    assert "is a lean of 2.03°; the gap decides" in text
    assert "leaves 3.10 mm (0.1220 in) before coil bind" in text
    assert "after EN 15800 grade 2 (from memory): e1 to 2.40 mm" in text
    assert "square to 2.50° (p. 331, table 10)" in text
    assert "e2 to 0.93 mm" in text
    assert "mean diameter ± 0.40 mm" in text


def test_everything_fits_80_columns(spec_file: Path) -> None:
    """No line is longer than a terminal is wide."""
    lines = run(spec_file).stdout.splitlines() + run("--keys").stdout.splitlines()

    assert max(map(len, lines)) <= 80


@pytest.mark.parametrize(
    ("units", "shown", "hidden"),
    [("mm", "at least 47.1 mm", "1.8543"), ("in", "at least 1.8543 in", "47.1 mm")],
)
def test_one_unit_alone(spec_file: Path, units: str, shown: str, hidden: str) -> None:
    """--units leaves one column of limits."""
    result = run(spec_file, "--units", units)

    assert shown in result.stdout
    assert hidden not in result.stdout


def test_doubts_end_with_exit_code_1(tmp_path: Path) -> None:
    """A misprint is shown with both figures, below the specification."""
    path = tmp_path / "SPEC.toml"
    path.write_text(DOUBTED, encoding="utf-8")

    result = run(path)

    assert result.exit_code == 1
    text = " ".join(result.stdout.split())
    assert "Look these up in the manual again" in text
    assert "1.32 in is 33.53 mm and not 35.55 mm, which is used" in text


def test_unusable_file_raises_its_sentence(tmp_path: Path) -> None:
    """The error is left to the program's rim, which ends with exit code 3."""
    result = run(tmp_path / "none.toml")

    assert isinstance(result.exception, SpecError)
    assert "none.toml: no such file or directory" in str(result.exception)


def test_json_holds_every_figure(spec_file: Path) -> None:
    """In mm and N, with the digest and no table around it."""
    data = json.loads(run(spec_file, "--json").stdout)

    (kind,) = data["kinds"]
    assert data["format"] == 1
    assert data["spread_max_mm"] == 1.0
    assert kind["free_height"]["minimum"] == 47.1
    assert kind["closed"]["height_mm"] == 38.9
    assert kind["open"]["force"]["maximum"] == pytest.approx(616.0)
    assert len(data["sha256"]) == 64
    assert data["doubts"] == []
    assert any("coil bind" in note for note in kind["notes"])


def test_quiet_prints_nothing_and_keeps_the_exit_code(tmp_path: Path) -> None:
    """For scripts: only the exit code speaks."""
    path = tmp_path / "SPEC.toml"
    path.write_text(DOUBTED, encoding="utf-8")

    for more in ([], ["--json"]):
        result = run(path, "--quiet", *more)
        assert (result.exit_code, result.stdout) == (1, "")


def test_keys_lists_every_section_and_key() -> None:
    """The list needs no file."""
    result = run("--keys")

    assert result.exit_code == 0
    for word in (
        "[free_height]",
        "loss_max",
        "[coil_bind]",
        "spread_max",
        "[material]",
    ):
        assert word in result.stdout


def test_without_a_file_it_is_wrong_usage() -> None:
    """Exit code 2 and what to give."""
    result = run()

    assert result.exit_code == 2


def test_file_about_the_set_alone(tmp_path: Path) -> None:
    """Only [matching]: the set's table, no kinds."""
    path = tmp_path / "SPEC.toml"
    path.write_text('[matching]\ngroup_width = "0.5 mm"\n', encoding="utf-8")

    result = run(path)

    assert result.exit_code == 0
    assert "width of a group, at most" in result.stdout


def test_squareness_in_degrees_is_told_as_a_gap(tmp_path: Path) -> None:
    """2 deg over 48 mm is 1.68 mm, and the lean decides."""
    path = tmp_path / "SPEC.toml"
    path.write_text(
        '[free_height]\nmin = "48 mm"\n[squareness]\nmax = "2 deg"\n', encoding="utf-8"
    )

    text = " ".join(run(path).stdout.split())

    assert "is a gap of 1.68 mm (0.0660 in); the lean decides" in text
