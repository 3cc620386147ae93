"""Every input ends in a result or in one clear sentence, and never in a traceback."""

import json
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from PIL import Image

from vision.cli import app as command_line
from vision.cli import archives

SAMPLES = Path(__file__).resolve().parents[2] / "sample_images"
ALONE = SAMPLES / "square_alone"
ROW = SAMPLES / "harrow_row"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """Exit code and what was printed."""

    code: int
    out: str
    err: str


Freestand = Callable[..., Ran]


@pytest.fixture
def freestand(
    capfd: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> Freestand:
    """Run the program's own entry in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("FREESTAND_ARCHIVE", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))

    def run(*words: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["freestand", *map(str, words)])
        with pytest.raises(SystemExit) as ended:
            command_line.main()
        printed = capfd.readouterr()
        code = ended.value.code
        return Ran(
            code=code if isinstance(code, int) else 0,
            out=printed.out,
            err=printed.err,
        )

    return run


def _outputs() -> tuple[str, ...]:
    return ("--json", "out.json", "--csv", "out.csv", "--overlay", "out.png")


def _refused(ran: Ran, file: str, *words: str) -> None:
    """One line on stderr that names the file; exit code 3; nothing else."""
    assert ran.code == 3, ran.err
    assert ran.out == ""
    assert ran.err.count("\n") == 1
    assert ran.err.startswith(file)
    assert ran.err.endswith(".\n")
    for word in words:
        assert word in ran.err
    assert not [path for path in Path().iterdir() if path.name.startswith("out")]


def test_a_good_row_without_limits_ends_with_0(freestand: Freestand) -> None:
    """Everything was measured and nothing is asked; the files are there."""
    ran = freestand(
        *("measure", ROW / "row.jpg", "--reference", ROW / "row.reference.toml"),
        *("--json", "out.json", "--csv", "out.csv"),
    )

    result = json.loads(Path("out.json").read_text(encoding="utf-8"))
    assert ran.code == 0, ran.err
    assert [one["position"] for one in result["springs"]] == list(range(1, 9))
    assert result["format"] == 1
    assert result["springs"][0]["free_height_mm"]["coverage_factor"] == 2
    assert len(Path("out.csv").read_text(encoding="utf-8").splitlines()) == 9
    assert "free height" in ran.out
    assert max(len(line) for line in ran.out.splitlines()) <= 80


def test_the_camera_calibrated_before_serves_the_row(freestand: Freestand) -> None:
    """Target and row in two photos; a rejected spring ends with exit code 1."""
    first = freestand(
        *("calibrate", ALONE / "square.jpg", "--out", "cal.json"),
        *("--reference", ALONE / "square.reference.toml"),
    )
    second = freestand(
        *("measure", ALONE / "row.jpg", "--calibration", "cal.json", "--quiet"),
        *("--spec", ALONE / "row.spec.toml", "--overlay", "out.jpg"),
    )
    other = freestand("measure", ROW / "row.jpg", "--calibration", "cal.json")

    assert first.code == 0, first.err
    assert "px/mm" in first.out
    assert second.code == 1, second.err
    assert second.out == ""
    with Image.open("out.jpg") as drawn:
        assert drawn.width == 3200
    Path("out.jpg").unlink()
    _refused(other, "row.jpg: ", "focal length")


def test_a_file_that_is_not_there_is_refused(freestand: Freestand) -> None:
    """It is named."""
    ran = freestand(
        *("measure", "no-such.jpg", "--reference", ROW / "row.reference.toml"),
        *_outputs(),
    )

    _refused(ran, "no-such.jpg")


@pytest.mark.parametrize("content", [b"", b"a note, not a picture\n", b"\xff\xd8\xff"])
def test_a_file_that_is_no_picture_is_refused(
    freestand: Freestand, content: bytes
) -> None:
    """Empty, text, or the first bytes of a JPEG."""
    Path("notes.jpg").write_bytes(content)

    ran = freestand(
        *("measure", "notes.jpg", "--reference", ROW / "row.reference.toml"),
        *_outputs(),
    )

    _refused(ran, "notes.jpg")


def test_a_row_without_springs_is_refused(freestand: Freestand) -> None:
    """The target alone is no row."""
    ran = freestand(
        *("measure", ALONE / "square.jpg", *_outputs()),
        *("--reference", ALONE / "square.reference.toml"),
    )

    _refused(ran, "square.jpg: ", "no spring")


def test_a_row_without_target_is_refused(freestand: Freestand) -> None:
    """Nothing gives the scale."""
    ran = freestand(
        *("measure", ALONE / "row.jpg", *_outputs()),
        *("--reference", ALONE / "square.reference.toml"),
    )

    _refused(ran, "row.jpg: ", "target")


def test_sizes_that_the_picture_contradicts_are_refused(freestand: Freestand) -> None:
    """The blade is 90 mm long and 55 mm the stock, not the other way."""
    Path("ref.toml").write_text(
        'kind = "try-square"\nblade_mm = 55.0\nstock_mm = 90.0\n'
        "blade_width_mm = 16.0\nstock_width_mm = 16.0\n",
        encoding="utf-8",
    )

    ran = freestand("measure", ROW / "row.jpg", "--reference", "ref.toml", *_outputs())

    _refused(ran, "row.jpg: ")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ('kind = "try-square"\nblade_mm = 90.0\n', "stock_mm is missing"),
        ('kind = "ruler"\n', "kind is 'ruler'"),
        ("blade_mm = ", "is not TOML"),
        ('kind = "square-card"\nside_mm = -5\nbottom_margin_mm = 1\n', "side_mm = -5"),
        (
            'kind = "square-card"\nside_mm = 50\nbottom_margin_mm = 9\ncolour = 1\n',
            "colour",
        ),
    ],
)
def test_a_reference_that_cannot_be_is_refused(
    freestand: Freestand, content: str, said: str
) -> None:
    """Before any picture is looked at."""
    Path("ref.toml").write_text(content, encoding="utf-8")

    ran = freestand("measure", ROW / "row.jpg", "--reference", "ref.toml", *_outputs())

    _refused(ran, "ref.toml", said)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        ('[free_height]\nmin = "48 mm"\nmax = "47 mm"\n', "48"),
        ('[free_height]\nleast = "48 mm"\n', "least"),
        ('[free_heigth]\nmin = "48 mm"\n', "free_heigth"),
        ('[free_height]\nmin = "48 kg"\n', "kg"),
        ('[free_height]\nmin = "48 furlong"\n', "furlong"),
        ("[free_height]\nmin = 48\n", "no unit"),
        ('[squareness]\nmax = "2 N"\n', "2 N"),
        ("[free_height\n", "TOML"),
    ],
)
def test_a_specification_that_cannot_be_is_refused(
    freestand: Freestand, content: str, said: str
) -> None:
    """By spec and by measure alike, before any picture is looked at."""
    Path("limits.toml").write_text(content, encoding="utf-8")

    checked = freestand("spec", "limits.toml")
    measured = freestand(
        *("measure", ROW / "row.jpg", "--reference", ROW / "row.reference.toml"),
        *("--spec", "limits.toml", *_outputs()),
    )

    _refused(checked, "limits.toml", said)
    assert (measured.code, measured.err) == (3, checked.err)


def test_a_specification_without_doubts_ends_with_0(freestand: Freestand) -> None:
    """The demonstration's own limits agree with one another."""
    ran = freestand("spec", SAMPLES / "harrow_job" / "spec.toml")

    assert ran.code == 0
    assert "No doubts" in ran.out


@pytest.mark.parametrize(
    "words",
    [
        ("measure",),
        ("measure", "row.jpg"),
        ("measure", "row.jpg", "--reference", "r.toml", "--calibration", "c.json"),
        ("measure", "row.jpg", "again.jpg", "--reference", "r.toml"),
        ("measure", "row.jpg", "--reference", "r.toml", "--quarter-turn"),
        ("measure", "row.jpg", "--reference", "r.toml", "--units", "furlong"),
        ("measure", "row.jpg", "--reference", "r.toml", "--distance-mm", "-1"),
        ("measure", "row.jpg", "--calibration", "c.json", "--distance-mm", "700"),
        ("weigh", "row.jpg"),
        ("calibrate", "square.jpg"),
        ("agreement", "--archive", "heads", "--plot", "plot.txt"),
        ("list",),
        ("spec",),
    ],
)
def test_wrong_usage_ends_with_2(freestand: Freestand, words: tuple[str, ...]) -> None:
    """Nothing is read or written; what is right is said."""
    ran = freestand(*words)

    assert ran.code == 2
    assert "Error" in ran.err
    assert "Traceback" not in ran.err
    assert list(Path().iterdir()) == []


def test_an_archive_that_is_not_there_is_refused(freestand: Freestand) -> None:
    """By every command that only reads, and none makes one."""
    for words in (("list",), ("show", "1"), ("agreement",), ("verify",), ("find",)):
        ran = freestand(*words, "--archive", "out-of-nowhere")

        _refused(ran, "out-of-nowhere")


def test_a_missing_system_library_is_said_in_one_sentence(
    freestand: Freestand, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As opencv complains where libgl1 is not installed."""

    def lacking() -> None:
        fault = "libGL.so.1: cannot open shared object file: No such file or directory"
        raise ImportError(fault)

    monkeypatch.setattr(command_line, "app", lacking)

    ran = freestand("measure")

    _refused(ran, "opencv: libGL.so.1", "apt-get install libgl1 libglib2.0-0")


def test_a_missing_module_is_a_fault_of_the_program(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """It is not passed off as a missing system library."""

    def lacking() -> None:
        fault = "No module named 'vision.cli.nothing'"
        raise ModuleNotFoundError(fault)

    monkeypatch.setattr(command_line, "app", lacking)

    with pytest.raises(ModuleNotFoundError):
        command_line.main()


def test_every_command_of_the_table_explains_itself(freestand: Freestand) -> None:
    """Within 80 columns, with the options named."""
    for name in command_line.COMMANDS:
        ran = freestand(name, "--help")

        assert ran.code == 0
        assert f"freestand {name}" in ran.out
        assert max(len(line) for line in ran.out.splitlines()) <= 80


def test_settings_choose_the_units(freestand: Freestand, tmp_path: Path) -> None:
    """An option goes before them; a unit that cannot be is refused."""
    settings = tmp_path / "config" / "freestand" / "settings.toml"
    settings.parent.mkdir(parents=True)
    measure = ("measure", "nothing.jpg", "--reference", ROW / "row.reference.toml")

    settings.write_text('units = "furlong"\n', encoding="utf-8")
    refused = freestand(*measure)
    given = freestand(*measure, "--units", "in")

    _refused(refused, str(settings), 'units = "furlong"')
    _refused(given, "nothing.jpg")
    settings.write_text('units = "in"\n', encoding="utf-8")
    assert archives.preferred_units(None) == "in"
    assert archives.preferred_units("mm") == "mm"


@pytest.mark.parametrize(
    ("option", "name", "said"),
    [
        ("--json", "nowhere/out.json", "there is no folder nowhere"),
        ("--csv", ".", "is a folder"),
        ("--overlay", "out.bmp", "has .bmp"),
        ("--overlay", "nowhere/out.png", "there is no folder nowhere"),
    ],
)
def test_results_that_cannot_be_written_are_refused_first(
    freestand: Freestand, option: str, name: str, said: str
) -> None:
    """Before a minute of measuring, and before the other files are written."""
    ran = freestand(
        *("measure", "nothing.jpg", "--reference", ROW / "row.reference.toml"),
        *("--json", "out.json", option, name),
    )

    _refused(ran, name, said)


@pytest.mark.parametrize("option", ["--json", "--csv", "--overlay"])
def test_results_are_not_written_over_what_is_read(
    freestand: Freestand, option: str
) -> None:
    """The photo stays as the camera wrote it, whatever its name is written like."""
    photo = Path("row.jpg")
    photo.write_bytes(b"as the camera wrote it")

    ran = freestand(
        *("measure", photo, "--reference", ROW / "row.reference.toml"),
        *(option, photo.absolute()),
    )

    _refused(ran, str(photo.absolute()), "is read by the same command")
    assert photo.read_bytes() == b"as the camera wrote it"


def test_a_calibration_is_not_written_over_its_photo(freestand: Freestand) -> None:
    """Nor over the reference file, which somebody measured by hand."""
    reference = Path("ref.toml")
    reference.write_bytes((ROW / "row.reference.toml").read_bytes())

    ran = freestand(
        *("calibrate", ROW / "row.jpg", "--reference", reference, "--out", reference)
    )

    _refused(ran, "ref.toml", "is read by the same command")
