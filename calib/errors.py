"""Everything that can make an input unusable.

MeasureError
├── PhotoError       a picture that cannot be read or used
├── TargetError      a reference file or target that contradicts itself or the photo
│   └── ContradictionError   a target seen in another shape than stated
├── LensError        chessboard photos that give no lens file
├── SpecError        a specification or table that cannot be read
├── ArchiveError     an archive that cannot be opened, trusted or written
└── OutputError      a result that cannot be written

Each message names the file, what is wrong with which value, and what to do.
"""


class MeasureError(Exception):
    """One clear sentence about an input: file, fault with its value, remedy."""

    def __init__(self, file: str, fault: str, remedy: str) -> None:
        self.file = file
        self.fault = fault
        self.remedy = remedy
        super().__init__(f"{file}: {fault}. {remedy}.")


class PhotoError(MeasureError):
    """A picture that cannot be read or used."""


class TargetError(MeasureError):
    """A reference file or target that contradicts itself or the photo."""


class ContradictionError(TargetError):
    """A target whose sides lie as the sizes stated for it do not let them."""


class LensError(MeasureError):
    """Chessboard photos or a lens file that cannot be used."""


class SpecError(MeasureError):
    """A specification or a table of readings that cannot be used."""


class ArchiveError(MeasureError):
    """An archive that cannot be opened, trusted or written."""


class OutputError(MeasureError):
    """A result that cannot be written."""
