"""Writes an overlay as a JPEG file that carries its values as XMP.

XMP is ISO 16684-1: RDF/XML in a packet that picture programs keep with the picture.
The names in it are those of the JSON file where there is one; lengths are in mm,
angles in degrees, U is the expanded uncertainty with k = 2.
"""

from io import BytesIO
from xml.etree.ElementTree import Element, SubElement, register_namespace, tostring

import numpy as np
from numpy.typing import NDArray
from PIL import Image

from calib.quantity import Quantity
from vision.records.kept import Inspection
from vision.records.measured import SpringMeasurement, Unmeasured

NAMESPACES = {
    "x": "adobe:ns:meta/",
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
    "freestand": "urn:freestand:overlay:1#",
}
BEGIN = '<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>\n'
END = '\n<?xpacket end="r"?>'
"""Both as ISO 16684-1:2019, 7.3.2, asks."""

QUALITY = 92  # of the JPEG file; lines stay clean and a row takes about 1 MB
MOST_BYTES = 65_502  # of XMP in one JPEG segment (ISO 16684-3)


def overlay_file(rgb: NDArray[np.uint8], inspection: Inspection) -> bytes:
    """Write the drawn overlay, (h, w, 3) sRGB, with the inspection's values in it."""
    file = BytesIO()
    Image.fromarray(rgb).save(
        file, "JPEG", quality=QUALITY, subsampling=0, xmp=packet(inspection)
    )
    return file.getvalue()


def packet(inspection: Inspection) -> bytes:
    """Write the XMP packet: job, photos, program and each spring's values."""
    count = len(inspection.row.springs)
    text = _packet(inspection, count)
    while len(text) > MOST_BYTES:
        count = count * MOST_BYTES // (len(text) + MOST_BYTES // 20)
        text = _packet(inspection, count)
    return text


def _packet(inspection: Inspection, count: int) -> bytes:
    """Write the packet with the first ``count`` springs."""
    for prefix, namespace in NAMESPACES.items():
        register_namespace(prefix, namespace)
    root = Element(_name("x", "xmpmeta"))
    rdf = SubElement(root, _name("rdf", "RDF"))
    about = SubElement(rdf, _name("rdf", "Description"), {_name("rdf", "about"): ""})
    _describe(about, inspection)
    springs = inspection.row.springs[:count]
    own = SubElement(about, _name("freestand", "springs"))
    rows = SubElement(own, _name("rdf", "Seq"))
    for spring in springs:
        SubElement(rows, _name("rdf", "li"), _attributes(_values(inspection, spring)))
    if count < len(inspection.row.springs):
        left_out = str(len(inspection.row.springs) - count)
        SubElement(about, _name("freestand", "springs_left_out")).text = left_out
    body = tostring(root, encoding="unicode")
    return f"{BEGIN}{body}{END}".encode()


def _describe(about: Element, inspection: Inspection) -> None:
    """Say what the picture is of and what made it."""
    job, row = inspection.job, inspection.row
    title = SubElement(about, _name("dc", "title"))
    choices = SubElement(title, _name("rdf", "Alt"))
    language = {"{http://www.w3.org/XML/1998/namespace}lang": "x-default"}
    text = f"{job.name}, {job.engine}"
    SubElement(choices, _name("rdf", "li"), language).text = _clean(text)
    tool = f"Freestand {inspection.program_version}"
    SubElement(about, _name("xmp", "CreatorTool")).text = _clean(tool)
    plain = {
        "job": job.name,
        "engine": job.engine,
        "started_at": job.started_at.isoformat(),
        "coverage_factor": "2",
        "photo_names": "\n".join(row.photo_names),
        "photo_sha256": " ".join(row.photo_sha256),
        "calibration_photo_sha256": row.calibration.photo_sha256,
    }
    for name, value in plain.items():
        SubElement(about, _name("freestand", name)).text = _clean(value)


def _values(
    inspection: Inspection, spring: SpringMeasurement | Unmeasured
) -> dict[str, str]:
    """Give one spring's place, values and verdict by name."""
    place = inspection.places.get(spring.position)
    named = {"position": str(spring.position), "place": place.word if place else ""}
    match spring:
        case SpringMeasurement():
            for kind, quantity in spring.values.items():
                named |= _figure(f"{kind.key}_{kind.unit}", quantity)
        case Unmeasured():
            named["unmeasured"] = spring.reason.value
    for verdict in inspection.verdicts:
        if verdict.position == spring.position:
            named["verdict"] = verdict.outcome.text
    return named


def _figure(name: str, quantity: Quantity) -> dict[str, str]:
    name = name.removesuffix("_coils") if name.startswith("total_coils") else name
    return {
        name: f"{quantity.value:.6g}",
        f"{name}_expanded_uncertainty": f"{quantity.expanded:.3g}",
    }


def _attributes(values: dict[str, str]) -> dict[str, str]:
    return {_name("freestand", key): _clean(text) for key, text in values.items()}


def _name(prefix: str, name: str) -> str:
    return f"{{{NAMESPACES[prefix]}}}{name}"


def _clean(text: str) -> str:
    """Keep what XML 1.0 cannot hold out of a text."""
    printable = text.encode("utf-8", "replace").decode()
    return "".join(
        sign if sign.isprintable() or sign == "\n" else " " for sign in printable
    )
