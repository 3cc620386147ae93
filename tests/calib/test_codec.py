"""Records survive the way to JSON and back exactly, and nothing else passes."""

import json
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import Enum

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calib.codec import CodecError, decode, encode, read_json, write_json
from calib.quantity import Influence, Quantity


class Colour(Enum):
    RED = ("red", 1)
    BLUE = ("blue", 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Leaf:
    name: str
    size: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Branch:
    leaves: tuple[Leaf, ...]
    by_colour: dict[Colour, Leaf]
    by_number: dict[int, tuple[float, ...]]
    grown_at: datetime
    format: int = 2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Picture:
    pixels: np.ndarray


RECORDS = (Colour, Leaf, Branch, Picture, Quantity, Influence)

BRANCH = Branch(
    leaves=(Leaf(name="größe", size=0.1), Leaf(name="", size=None)),
    by_colour={Colour.BLUE: Leaf(name="b"), Colour.RED: Leaf(name="r", size=-0.0)},
    by_number={3: (1.0, 2.5), -1: ()},
    grown_at=datetime(2026, 3, 1, 12, 30, 5, 123456, tzinfo=UTC),
)

floats = st.floats(allow_nan=False)
quantities = st.builds(
    Quantity,
    value=floats,
    unit=st.sampled_from(["mm", "deg", "N"]),
    influences=st.lists(
        st.builds(Influence, source=st.text(), label=st.text(), u=floats), max_size=3
    ).map(tuple),
)


def test_nested_records_come_back_equal() -> None:
    """Tuples, enum and int keys, datetimes and None all survive."""
    assert read_json(write_json(BRANCH, RECORDS), RECORDS) == BRANCH


@given(quantities)
def test_every_float_comes_back_exactly(quantity: Quantity) -> None:
    """Write-then-read is identity, infinities included."""
    assert read_json(write_json(quantity, RECORDS), RECORDS) == quantity


def test_a_float_stays_a_float() -> None:
    """1.0 does not turn into the integer 1."""
    back = read_json(write_json(Leaf(name="x", size=1.0), RECORDS), RECORDS)

    assert type(back.size) is float


@pytest.mark.parametrize("dtype", ["float64", "float32", "uint8", "uint16", "bool"])
def test_arrays_keep_dtype_shape_and_bits(dtype: str) -> None:
    """A non-contiguous array comes back bit for bit, and read-only."""
    pixels = np.arange(24).reshape(4, 6).astype(dtype).T[::2]

    back = read_json(write_json(Picture(pixels=pixels), RECORDS), RECORDS).pixels

    assert back.dtype == pixels.dtype
    assert np.array_equal(back, pixels)
    assert not back.flags.writeable


def test_an_empty_array_keeps_its_shape() -> None:
    """A (0, 2) array of no points stays (0, 2)."""
    back = decode(encode(Picture(pixels=np.empty((0, 2))), RECORDS), RECORDS)

    assert back.pixels.shape == (0, 2)


def test_numpy_scalars_are_written_as_plain_numbers() -> None:
    """A value that slipped out of an array is an ordinary number again."""
    data = encode((np.float64(0.25), np.int64(7), np.bool_(True)), RECORDS)

    assert json.dumps(data) == "[0.25, 7, true]"


def test_a_grown_record_still_reads_old_data() -> None:
    """A field that old data lacks takes its default."""
    assert decode({"$": "Leaf", "name": "old"}, RECORDS) == Leaf(name="old")


@pytest.mark.parametrize(
    ("data", "fault"),
    [
        ({"$": "Stranger", "name": "x"}, "Stranger"),
        ({"name": "x"}, "without a tag"),
        ({"$": "Leaf", "name": "x", "weight": 3}, "weight"),
        ({"$": "Leaf", "size": 3.0}, "damaged Leaf"),
        ({"$": "Colour", "name": "GREEN"}, "damaged Colour"),
        ({"$": "datetime", "iso": "yesterday"}, "damaged datetime"),
        ({"$": "array", "dtype": "object", "shape": [1], "base64": ""}, "object"),
        ({"$": "array", "dtype": "uint8", "shape": [9], "base64": "AAA="}, "array"),
        ({"$": "array", "dtype": "uint8", "shape": [1], "base64": "#"}, "array"),
        (
            {"$": "Branch", "leaves": [], "by_colour": {}, "format": 3},
            "format 3, newer than 2",
        ),
    ],
)
def test_foreign_data_is_refused(data: object, fault: str) -> None:
    """An unknown tag, field, member or newer format is named and refused."""
    with pytest.raises(CodecError, match=fault):
        decode(data, RECORDS)


@pytest.mark.parametrize("value", [[1, 2], {1, 2}, Leaf, b"x", np.array([1j])])
def test_values_that_records_never_hold_are_not_written(value: object) -> None:
    """Lists, sets, classes and bytes are refused rather than half written."""
    with pytest.raises(CodecError, match="cannot write"):
        encode(value, RECORDS)


def test_a_class_that_was_not_named_is_not_written() -> None:
    """What cannot be read back is not written."""
    with pytest.raises(CodecError, match="Leaf is not among"):
        encode(Leaf(name="x"), (Branch,))


def test_text_that_is_not_json_is_refused() -> None:
    """A cut-off text says so."""
    with pytest.raises(CodecError, match="is not JSON"):
        read_json('{"$": "Leaf"', RECORDS)
