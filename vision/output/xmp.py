"""The values inside the picture: an XMP packet that any reader of metadata can show.

XMP is ISO 16684-1. Names of our own stand in one namespace: ``springs`` is a sequence,
one entry a spring, of the values in mm and deg with U (k = 2); ``result`` is the
whole JSON file as text.
"""

import json
import re
import xml.etree.ElementTree as ET
from collections.abc import Iterator

from vision.output.tree import to_data
from vision.output.tree_values import Data
from vision.records.kept import Inspection

OWN = "urn:freestand:result:1#"
NAMESPACES = {
    "x": "adobe:ns:meta/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
    "freestand": OWN,
}
PACKET_ID = "W5M0MpCehiHzreSzNTczkc9d"  # fixed by ISO 16684-1
NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
JPEG_LIMIT = 65_000  # bytes of XMP that one JPEG segment holds, less some room


def make_packet(inspection: Inspection, most_bytes: int | None = None) -> bytes:
    """Write the packet; the whole result is left out where it would not fit."""
    data = to_data(inspection)
    packet = _packet(data, with_result=True)
    if most_bytes is not None and len(packet) > most_bytes:
        packet = _packet(data, with_result=False)
    return packet


def _packet(data: Data, *, with_result: bool) -> bytes:
    spaces = {f"xmlns:{prefix}": uri for prefix, uri in NAMESPACES.items()}
    root = ET.Element("x:xmpmeta", spaces)
    rdf = ET.SubElement(root, "rdf:RDF")
    about = ET.SubElement(rdf, "rdf:Description")
    about.set("rdf:about", "")
    version = f"freestand {data['program_version']}"
    ET.SubElement(about, "xmp:CreatorTool").text = _clean(version)
    _describe(about, data)
    ET.SubElement(about, "freestand:format").text = str(data["format"])
    _list_springs(about, data)
    if with_result:
        result = json.dumps(data, separators=(",", ":"), allow_nan=False)
        ET.SubElement(about, "freestand:result").text = result
    body = ET.tostring(root, encoding="unicode").encode()
    begin = f'<?xpacket begin="\ufeff" id="{PACKET_ID}"?>\n'.encode()
    return begin + body + b'\n<?xpacket end="r"?>'


def _describe(about: ET.Element, data: Data) -> None:
    """Say in one sentence what the picture shows."""
    holder = ET.SubElement(about, "dc:description")
    choice = ET.SubElement(holder, "rdf:Alt")
    text = ET.SubElement(choice, "rdf:li")
    text.set("xml:lang", "x-default")
    count = len(data["springs"])
    job = _clean(data["job"]["name"])
    text.text = f"{count} valve springs measured in a photograph: {job}"


def _list_springs(about: ET.Element, data: Data) -> None:
    holder = ET.SubElement(about, "freestand:springs")
    sequence = ET.SubElement(holder, "rdf:Seq")
    for spring in data["springs"]:
        entry = ET.SubElement(sequence, "rdf:li")
        entry.set("rdf:parseType", "Resource")
        for key, value in _properties(spring):
            ET.SubElement(entry, f"freestand:{key}").text = _clean(value)


def _properties(spring: Data) -> Iterator[tuple[str, str]]:
    """Flatten a spring: a value becomes two properties, the second its U."""
    yield "position", str(spring["position"])
    if spring["place"]:
        yield "place", spring["place"]
    if "unmeasured" in spring:
        yield "unmeasured", spring["unmeasured"]
    for key, value in spring.items():
        if isinstance(value, dict) and "coverage_factor" in value:
            yield key, repr(value["value"])
            yield f"{key}_U", repr(value["expanded_uncertainty"])
    if spring["verdict"]:
        yield "verdict", spring["verdict"]["outcome"]


def _clean(text: str) -> str:
    """Replace what XML 1.0 (2.2, Char) cannot hold."""
    return NOT_XML.sub("\ufffd", text)
