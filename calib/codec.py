"""Records to plain JSON data and back, exactly.

value                     as JSON
None, bool, int, str      itself
float                     number; repr round-trips (infinite, NaN: tagged text)
tuple                     array
dict                      {"$": "dict", "items": [[key, value], ...]}
Enum                      {"$": "<class>", "name": "<member>"}
datetime                  {"$": "datetime", "iso": "<ISO 8601>"}
array                     {"$": "array", "dtype": ..., "shape": ..., "base64": ...}
frozen dataclass          {"$": "<class>", "<field>": ..., ...}

The caller names the classes that may occur; nothing else is ever made. A field that
is absent takes its default, so that a record may grow; an unknown field, class or a
newer ``format`` is refused.
"""

import json
from base64 import b64decode, b64encode
from binascii import Error as Base64Error
from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import datetime
from enum import Enum
from math import isfinite
from typing import Any

import numpy as np
from numpy.typing import NDArray

TAG = "$"
DTYPES = ("float64", "float32", "uint8", "uint16", "int64", "bool")

Records = tuple[type, ...]


def write_json(value: object, records: Records) -> str:
    """Turn a record into one line of JSON text, the same for the same record."""
    data = encode(value, records)
    return json.dumps(data, allow_nan=False, separators=(",", ":"))


def read_json(text: str, records: Records) -> Any:
    """Make the record that ``write_json`` wrote; raises CodecError when it cannot."""
    try:
        data = json.loads(text)
    except json.JSONDecodeError as error:
        raise CodecError(f"is not JSON: {error}") from error
    return decode(data, records)


def encode(value: object, records: Records) -> Any:
    """Turn a value into plain data that ``json`` can write."""
    return _encode(value, _named(records))


def decode(data: object, records: Records) -> Any:
    """Make the value again from what ``encode`` gave; arrays come out read-only."""
    return _decode(data, _named(records))


def _named(records: Records) -> dict[str, type]:
    """Classes by their tag."""
    names = {record.__name__: record for record in records}
    if len(names) != len(records):
        raise CodecError("two record classes share a name")
    return names


def _encode(value: object, known: Mapping[str, type]) -> Any:
    """Encode by kind of value."""
    if isinstance(value, Enum):
        return {TAG: _tag(value, known), "name": value.name}
    if value is None or isinstance(value, (bool, int, str)):
        return value
    if isinstance(value, float):
        return _encode_float(float(value))
    if isinstance(value, np.generic):
        return _encode(value.item(), known)
    return _encode_compound(value, known)


def _encode_compound(value: object, known: Mapping[str, type]) -> Any:
    """Encode what holds other values."""
    if isinstance(value, tuple):
        return [_encode(part, known) for part in value]
    if isinstance(value, dict):
        items = [[_encode(k, known), _encode(v, known)] for k, v in value.items()]
        return {TAG: "dict", "items": items}
    if isinstance(value, datetime):
        return {TAG: "datetime", "iso": value.isoformat()}
    if isinstance(value, np.ndarray):
        return _encode_array(value)
    if is_dataclass(value) and not isinstance(value, type):
        return {TAG: _tag(value, known)} | {
            part.name: _encode(getattr(value, part.name), known)
            for part in fields(value)
        }
    raise CodecError(f"cannot write a {type(value).__name__}")


def _encode_float(value: float) -> Any:
    """Write a finite number as itself, anything else as tagged text."""
    return value if isfinite(value) else {TAG: "float", "text": repr(value)}


def _encode_array(array: NDArray[Any]) -> Any:
    """Write dtype, shape and the little-endian bytes in row order."""
    if array.dtype.name not in DTYPES:
        raise CodecError(f"cannot write an array of {array.dtype.name}")
    ordered = np.ascontiguousarray(array, dtype=array.dtype.newbyteorder("<"))
    return {
        TAG: "array",
        "dtype": array.dtype.name,
        "shape": list(array.shape),
        "base64": b64encode(ordered.tobytes()).decode("ascii"),
    }


def _tag(value: object, known: Mapping[str, type]) -> str:
    """Name a value's class, which must be one that the caller named."""
    name = type(value).__name__
    if known.get(name) is not type(value):
        raise CodecError(f"{name} is not among the record classes")
    return name


def _decode(data: object, known: Mapping[str, type]) -> Any:
    """Decode by kind of data."""
    if data is None or isinstance(data, (bool, int, float, str)):
        return data
    if isinstance(data, list):
        return tuple(_decode(part, known) for part in data)
    if not isinstance(data, dict) or not isinstance(data.get(TAG), str):
        raise CodecError("holds an object without a tag")
    tag = data[TAG]
    try:
        return _decode_tagged(tag, data, known)
    except (KeyError, TypeError, ValueError, Base64Error) as error:
        if isinstance(error, CodecError):
            raise
        raise CodecError(f"holds a damaged {tag}: {error}") from error


def _decode_tagged(
    tag: str, data: Mapping[str, Any], known: Mapping[str, type]
) -> object:
    """Decode an object by its tag."""
    plain: dict[str, Callable[[], object]] = {
        "dict": lambda: {
            _decode(k, known): _decode(v, known) for k, v in data["items"]
        },
        "datetime": lambda: datetime.fromisoformat(data["iso"]),
        "float": lambda: float(data["text"]),
        "array": lambda: _decode_array(data),
    }
    if tag in plain:
        return plain[tag]()
    if tag not in known:
        raise CodecError(f"holds a {tag}, which this program does not know")
    record = known[tag]
    if issubclass(record, Enum):
        return record[data["name"]]
    return _decode_record(record, data, known)


def _decode_array(data: Mapping[str, Any]) -> NDArray[Any]:
    """Make a read-only array in the machine's own byte order."""
    if data["dtype"] not in DTYPES:
        raise CodecError(f"holds an array of {data['dtype']}")
    native = np.dtype(data["dtype"])
    raw = b64decode(data["base64"], validate=True)
    array = np.frombuffer(raw, native.newbyteorder("<")).astype(native)
    array = array.reshape(data["shape"])
    array.setflags(write=False)
    return array


def _decode_record(
    record: type, data: Mapping[str, Any], known: Mapping[str, type]
) -> object:
    """Make a dataclass; refuse unknown or missing fields and newer formats."""
    parts = {part.name: part for part in fields(record)}
    unknown = data.keys() - parts.keys() - {TAG}
    if unknown:
        raise CodecError(f"holds a {record.__name__} with unknown {sorted(unknown)}")
    newest = parts["format"].default if "format" in parts else MISSING
    if isinstance(newest, int) and data.get("format", newest) > newest:
        raise CodecError(
            f"holds a {record.__name__} of format {data['format']}, "
            f"newer than {newest}, the newest that this program knows"
        )
    values = {name: _decode(data[name], known) for name in parts if name in data}
    made: object = record(**values)
    return made


class CodecError(ValueError):
    """Data that is not what ``encode`` writes; completes '<file>: ...'."""
