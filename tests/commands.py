"""Runs commands as a user would, in this process and with an invented row."""

from dataclasses import dataclass
from importlib import import_module
from pathlib import Path

import numpy as np
import pytest
from typer.testing import CliRunner

from calib.errors import MeasureError
from tests.factories import make_photo, make_picture, make_row
from vision.archive import shelf
from vision.cli import adding, keeping
from vision.cli.inputs import Measured, Target
from vision.records.kept import Kept

SPEC = """\
[specification]
name = "invented line"
[free_height]
min = "47.1 mm"
[closed_load]
height = "38.9 mm"
min = "258 N"
[matching]
spread_max = "1 mm"
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ran:
    """What a command left: exit code and what it printed."""

    code: int
    out: str
    err: str


def freestand(*words: object) -> Ran:
    """Run a command; an unusable input becomes exit code 3 and one sentence."""
    module = import_module(f"vision.cli.{words[0]}")
    result = CliRunner().invoke(module.app, [str(word) for word in words[1:]])
    if isinstance(result.exception, MeasureError):
        return Ran(code=3, out=result.stdout, err=str(result.exception))
    if result.exception and not isinstance(result.exception, SystemExit):
        raise result.exception
    return Ran(code=result.exit_code, out=result.stdout, err=result.stderr)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """A bench with an invented photo, a specification and an archive's folder."""

    folder: Path
    photo: Path
    spec: Path
    archive: Path

    def add(self, *words: object, job: str = "head 12", places: str = "1-8I") -> Ran:
        """Add the invented row."""
        return freestand(
            *("add", self.photo, "--reference", "ref.toml", "--spec", self.spec),
            *("--archive", self.archive, "--job", job, "--engine", "Brook 1600"),
            *("--places", places, *words),
        )

    def run(self, *words: object) -> Ran:
        """Run another command on the archive."""
        return freestand(*words, "--archive", self.archive)

    def kept(self, number: int = 1, version: int | None = None) -> Kept:
        """Take an inspection out."""
        from vision.archive.opening import open_archive  # noqa: PLC0415

        return shelf.load(open_archive(self.archive), number, version)


@pytest.fixture
def bench(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """Lay out a bench; measuring gives the invented row, drawing a mere sketch."""
    photo, spec = tmp_path / "invented-row.png", tmp_path / "spec.toml"
    photo.write_bytes(make_picture())
    spec.write_text(SPEC)
    measured = Measured(photos=(make_photo(),), row=make_row())
    target = Target(reference=measured.row.calibration.reference, distance_mm=700.0)
    monkeypatch.setattr(adding, "measure_photos", lambda *_: measured)
    monkeypatch.setattr(adding, "read_target", lambda *_: target)
    sketch = np.full((24, 40, 3), 230, np.uint8)  # drawing in full takes a second
    monkeypatch.setattr(keeping, "draw_overlay", lambda *_: sketch)
    monkeypatch.setenv("COLUMNS", "80")
    monkeypatch.delenv("FREESTAND_ARCHIVE", raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    return Bench(folder=tmp_path, photo=photo, spec=spec, archive=tmp_path / "archive")
