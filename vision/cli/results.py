"""The files that ``freestand measure`` writes: tried first, then written."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from calib.errors import OutputError

if TYPE_CHECKING:
    from calib.records import Photo
    from vision.output.show import Units
    from vision.records.kept import Inspection

PICTURES = (".png", ".jpg", ".jpeg")


def spare_inputs(written: Iterable[Path | None], read: Iterable[Path | None]) -> None:
    """Refuse to write over a file that the same command reads.

    Raises
    ------
    OutputError
        A file to be written is one of those read, by whatever name.
    """
    inputs = [path for path in read if path is not None and path.exists()]
    for path in written:
        if path is None or not path.exists():
            continue
        if any(path.samefile(one) for one in inputs):
            fault = "is read by the same command, and would be written over"
            raise OutputError(str(path), fault, "Name another file for the result")


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultFiles:
    """Where results go; None is not asked for."""

    json: Path | None
    csv: Path | None
    overlay: Path | None

    def check(self, read: Iterable[Path | None]) -> None:
        """Refuse names that cannot be written, and those of the files ``read``.

        That is before anything is measured.
        """
        spare_inputs((self.json, self.csv, self.overlay), read)
        for path in (self.json, self.csv, self.overlay):
            if path is None:
                continue
            if not path.parent.is_dir():
                fault = f"cannot be written, there is no folder {path.parent}"
                raise OutputError(str(path), fault, "Make the folder first")
            if path.is_dir():
                raise OutputError(str(path), "is a folder", "Name a file")
        drawn = self.overlay
        if drawn is not None and drawn.suffix.lower() not in PICTURES:
            ending = drawn.suffix or "no ending"
            fault = f"has {ending}, where a picture needs .png, .jpg or .jpeg"
            raise OutputError(str(drawn), fault, "Name the picture with one of these")

    def write(
        self,
        photos: "tuple[Photo, ...]",
        inspection: "Inspection",
        units: "Units",
        *,
        influences: bool,
    ) -> None:
        """Write what was asked for, each file whole or not at all."""
        if self.json or self.csv:
            from vision.output.data import save_csv, save_json  # noqa: PLC0415

            if self.json:
                save_json(self.json, inspection, influences=influences)
            if self.csv:
                save_csv(self.csv, inspection)
        if self.overlay:
            from vision.output.overlay import save_overlay  # noqa: PLC0415

            save_overlay(self.overlay, photos[0], inspection, units, *photos[1:])
