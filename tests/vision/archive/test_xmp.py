"""An overlay carries its values in XMP that others can read."""

from io import BytesIO
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from PIL import Image

from tests.factories import make_inspection
from vision.archive.xmp import MOST_BYTES, NAMESPACES, overlay_file, packet
from vision.records.judged import Outcome

OWN = f"{{{NAMESPACES['freestand']}}}"
RDF = f"{{{NAMESPACES['rdf']}}}"


def _springs(xmp: bytes) -> list[dict[str, str]]:
    root = ET.fromstring(xmp)
    rows = root.findall(f".//{OWN}springs/{RDF}Seq/{RDF}li")
    return [{key.removeprefix(OWN): text for key, text in row.items()} for row in rows]


def test_the_values_come_back_out_of_the_jpeg_file() -> None:
    """Height with U, verdict and place of each spring stand in the file."""
    inspection = make_inspection()
    rgb = np.full((60, 90, 3), 200, np.uint8)

    file = overlay_file(rgb, inspection)

    picture = Image.open(BytesIO(file))
    assert (picture.format, picture.size) == ("JPEG", (90, 60))
    springs = _springs(picture.info["xmp"])
    assert [spring["position"] for spring in springs] == [str(n) for n in range(1, 9)]
    first, fifth = springs[0], springs[4]
    assert float(first["free_height_mm"]) == 48.12
    assert float(first["free_height_mm_expanded_uncertainty"]) == 0.0651
    assert (first["place"], first["verdict"]) == ("1I", Outcome.ACCEPT.text)
    assert fifth["unmeasured"] == "touches its neighbour"
    assert "free_height_mm" not in fifth


def test_the_packet_names_the_photo_that_was_measured() -> None:
    """The overlay can be traced to the bytes of its original."""
    inspection = make_inspection()

    root = ET.fromstring(packet(inspection))

    assert root.findtext(f".//{OWN}photo_sha256") == inspection.row.photo_sha256[0]
    assert root.findtext(f".//{OWN}job") == inspection.job.name


def test_the_packet_is_wrapped_as_the_standard_asks() -> None:
    """Header and trailer are those of ISO 16684-1:2019, 7.3.2."""
    text = packet(make_inspection(2)).decode()

    assert text.startswith('<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>')
    assert text.endswith('<?xpacket end="r"?>')


def test_signs_that_xml_cannot_hold_do_not_spoil_it() -> None:
    """Quotes, brackets and control signs in a job's name stay readable XML."""
    inspection = make_inspection(2, job='head <12> & "thirteen" \x00\x1b\udcff')

    root = ET.fromstring(packet(inspection))

    assert root.findtext(f".//{OWN}job", "").startswith('head <12> & "thirteen"')


@pytest.mark.parametrize("count", [8, 100])
def test_the_packet_fits_into_one_segment(count: int) -> None:
    """A row too long for it says how many springs were left out."""
    xmp = packet(make_inspection(count))

    assert len(xmp) <= MOST_BYTES
    left_out = ET.fromstring(xmp).findtext(f".//{OWN}springs_left_out", "0")
    assert len(_springs(xmp)) + int(left_out) == count
