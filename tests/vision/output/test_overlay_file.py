"""The overlay's file: values in its metadata, whole or not at all."""

import json
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from calib.errors import OutputError
from tests.factories import make_inspection, make_photo
from vision.output.overlay import save_overlay
from vision.output.picture import encode_jpeg, encode_png, save_picture
from vision.output.tree import to_data

BLANK = np.full((40, 60, 3), 200, np.uint8)


def read_back(content: bytes) -> dict[str, Any]:
    """Read the packet with Pillow's own reader."""
    with Image.open(BytesIO(content)) as image:
        xmp: dict[str, Any] = image.getxmp()
    description: dict[str, Any] = xmp["xmpmeta"]["RDF"]["Description"]
    return description


@pytest.mark.parametrize("encode", [encode_png, encode_jpeg])
def test_values_come_back_from_the_picture(encode: Any) -> None:
    """Another reader finds each spring's value and U, and the whole result."""
    inspection = make_inspection()

    packet = read_back(encode(BLANK, inspection))

    springs = packet["springs"]["Seq"]["li"]
    assert [entry["position"] for entry in springs] == [str(n) for n in range(1, 9)]
    assert float(springs[0]["free_height_mm"]) == 48.12
    assert float(springs[0]["free_height_mm_U"]) == pytest.approx(0.065, abs=0.001)
    assert springs[1]["verdict"] == "reject"
    assert springs[4]["unmeasured"] == "touches its neighbour"
    assert json.loads(packet["result"]) == to_data(inspection)
    assert packet["CreatorTool"] == "freestand 0.1.0"


def test_a_long_row_keeps_its_values_in_a_jpeg() -> None:
    """One JPEG segment holds 64 KB: beyond, the values stay and the rest goes."""
    packet = read_back(encode_jpeg(BLANK, make_inspection(40)))

    assert len(packet["springs"]["Seq"]["li"]) == 40
    assert "result" not in packet


def test_hostile_names_make_a_valid_packet() -> None:
    """Markup and characters that XML cannot hold do not break the packet."""
    inspection = make_inspection(2)
    name = "<x>&\x00\ud800\u202e]]>"
    hostile = replace(inspection, job=replace(inspection.job, name=name))

    packet = read_back(encode_png(BLANK, hostile))

    text = packet["description"]["Alt"]["li"]["text"]
    assert "<x>&\ufffd\ufffd\u202e]]>" in text
    assert json.loads(packet["result"])["job"]["name"] == name


@pytest.mark.parametrize(
    ("name", "kind"), [("a.png", "PNG"), ("a.JPG", "JPEG"), ("a.jpeg", "JPEG")]
)
def test_the_name_chooses_the_kind(tmp_path: Path, name: str, kind: str) -> None:
    """PNG and JPEG by the ending, in either case."""
    save_picture(tmp_path / name, BLANK, make_inspection(2))

    with Image.open(tmp_path / name) as image:
        assert image.format == kind
        assert image.size == (60, 40)


@pytest.mark.parametrize("name", ["a.gif", "a"])
def test_another_name_is_refused(tmp_path: Path, name: str) -> None:
    """The message says which endings there are; nothing is written."""
    with pytest.raises(OutputError, match=r"needs \.png, \.jpg or \.jpeg"):
        save_picture(tmp_path / name, BLANK, make_inspection(2))
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_missing_is_named(tmp_path: Path) -> None:
    """The file's name and what to do stand in the message."""
    path = tmp_path / "missing" / "a.png"

    with pytest.raises(OutputError, match=r"a\.png: cannot be written.*folder"):
        save_picture(path, BLANK, make_inspection(2))


def test_overlay_is_saved_whole(tmp_path: Path) -> None:
    """The overlay of a row becomes a picture of the usual width."""
    save_overlay(tmp_path / "row.jpg", make_photo(2), make_inspection(2), "in")

    with Image.open(tmp_path / "row.jpg") as image:
        assert image.width == 3200
    assert [entry.name for entry in tmp_path.iterdir()] == ["row.jpg"]
