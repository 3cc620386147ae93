"""Writes one inspection as a folder that stands alone.

The folder holds the pictures under their own names, the record exactly as it was kept,
whatever files the caller adds (tables, sheets), and SHA256SUMS over all of them in
the form that ``sha256sum -c`` reads.
"""

import os
import shutil
from collections.abc import Mapping
from hashlib import sha256
from pathlib import Path
from secrets import token_hex

from calib.errors import OutputError
from vision.archive.files import load_picture
from vision.archive.format import judged_payload, measured_payload
from vision.archive.opening import Archive
from vision.records.kept import Kept, Role

SUMS = "SHA256SUMS"


def write_parcel(
    archive: Archive, kept: Kept, folder: Path, files: Mapping[str, bytes]
) -> None:
    """Write the folder whole or not at all; ``files`` go by name.

    Raises
    ------
    OutputError
        When something stands there already or there is no room or right to write.
    ArchiveError
        When a picture is missing or altered.
    """
    if folder.exists():
        fault = "stands there already and is not overwritten"
        raise OutputError(str(folder), fault, "Name a folder that is new")
    contents = _contents(archive, kept) | dict(files)
    part = folder.parent / f".{folder.name}.{token_hex(4)}"
    try:
        part.mkdir(parents=True)
        for name, content in contents.items():
            (part / name).write_bytes(content)
        (part / SUMS).write_text(_sums(contents), encoding="utf-8")
        part.replace(folder)
    except OSError as error:
        fault = f"cannot be written ({error.strerror or error})"
        remedy = "Name a folder on a disk with room that may be written to"
        raise OutputError(str(folder), fault, remedy) from error
    finally:
        shutil.rmtree(part, ignore_errors=True)


def _contents(archive: Archive, kept: Kept) -> dict[str, bytes]:
    """Give the pictures and the payloads by file name."""
    contents: dict[str, bytes] = {}
    for picture in kept.pictures:
        name = _file_name(picture.role, picture.name)
        if name in contents:
            name = f"{picture.role.key} {name}"
        contents[name] = load_picture(archive.folder, picture)
    measured = measured_payload(kept.inspection, kept.given)
    judged = judged_payload(kept.inspection)
    contents["measured.json"] = measured.text.encode()
    contents["judged.json"] = judged.text.encode()
    return contents


def _file_name(role: Role, name: str) -> str:
    """Keep the picture's own name where every file system takes it."""
    base = os.path.basename(name.replace("\\", "/"))  # noqa: PTH119  # not a path here
    safe = "".join(sign if sign.isalnum() or sign in "-_. ()" else "_" for sign in base)
    return safe.strip(". ") or role.key


def _sums(contents: Mapping[str, bytes]) -> str:
    lines = [
        f"{sha256(content).hexdigest()}  {name}\n"
        for name, content in sorted(contents.items())
    ]
    return "".join(lines)
