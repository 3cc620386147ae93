"""The HTML sheet stands alone, reads in order and shows any text as text."""

import re
from base64 import b64decode
from dataclasses import dataclass, field, replace
from html.parser import HTMLParser
from itertools import pairwise

import pytest

from tests.factories import make_inspection
from tests.vision.output.hostile import (
    HEBREW,
    HOSTILE,
    OVERRIDE,
    make_hostile_inspection,
)
from vision.output.sheet.words import CAUTIONS, HEADINGS, HINT, PAIRS
from vision.output.sheet_html import render_html
from vision.records.judged import Outcome

JPEG = b"\xff\xd8\xff\xe0 a picture \xff\xd9"


@dataclass
class Seen(HTMLParser):
    """What a reader of the page meets: tags with attributes, text by tag."""

    tags: list[tuple[str, dict[str, str | None]]] = field(default_factory=list)
    text: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.text.append(data)

    def all(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.tags if name == tag]

    def levels(self) -> list[int]:
        return [int(tag[1]) for tag, _ in self.tags if re.fullmatch(r"h[1-6]", tag)]


def read(page: str) -> Seen:
    seen = Seen()
    seen.feed(page)
    return seen


@pytest.fixture(scope="module")
def page() -> str:
    return render_html(make_inspection(), overlay_jpeg=JPEG)


def test_asks_nothing_of_the_outside(page: str) -> None:
    """No address, script, import or font file; the policy forbids all but itself."""
    seen = read(page)

    linked = [
        value
        for _, attrs in seen.tags
        for name, value in attrs.items()
        if name in {"src", "href", "xlink:href", "srcset", "action", "data", "poster"}
    ]

    assert all(link and link.startswith(("#", "data:image/jpeg;")) for link in linked)
    assert not re.search(
        r"https?:|//[a-z]|@import|url\(", page.split("base64,", maxsplit=1)[0]
    )
    assert not seen.all("script")
    assert not seen.all("link")
    assert "default-src 'none'" in page


def test_has_no_style_address_after_the_picture(page: str) -> None:
    """Behind the picture's bytes, too, no address appears."""
    after = page.split("base64,")[1].split('"', 1)[1]

    assert not re.search(r"https?:|url\(", after)


def test_carries_the_picture_itself(page: str) -> None:
    """The overlay's bytes are in the page, with a text for who cannot see it."""
    (picture,) = read(page).all("img")

    assert b64decode((picture["src"] or "").split(",")[1]) == JPEG
    assert "8 springs" in (picture["alt"] or "")
    assert "reject: springs 2 and 6" in (picture["alt"] or "")


def test_says_when_no_picture_goes_along() -> None:
    """Without an overlay the sheet says so and shows no empty frame."""
    seen = read(render_html(make_inspection(), overlay_jpeg=None))

    assert not seen.all("img")
    assert any("No picture goes with this sheet" in text for text in seen.text)


def test_headings_go_down_one_level_at_a_time(page: str) -> None:
    """One title, then sections, then parts: no level is skipped."""
    levels = read(page).levels()

    assert levels.count(1) == 1
    assert levels[0] == 1
    assert all(b - a <= 1 for a, b in pairwise(levels))


def test_has_every_section_in_order(page: str) -> None:
    """The sections stand in the order of the table of headings and are linked."""
    seen = read(page)

    ids = [attrs["id"] for attrs in seen.all("section")]
    links = [attrs["href"] for attrs in seen.all("a")]

    assert ids == list(HEADINGS)
    assert links == [f"#{key}" for key in HEADINGS]


def test_names_language_and_each_drawing(page: str) -> None:
    """The page has a language, each drawing a title and a description of its own."""
    seen = read(page)
    drawings = [attrs for attrs in seen.all("svg") if attrs["role"] == "img"]
    named = [
        str(attrs["id"])
        for tag in ("title", "desc")
        for attrs in seen.all(tag)
        if "id" in attrs
    ]

    assert seen.all("html")[0]["lang"] == "en"
    assert len(drawings) == len(seen.all("svg")) == 10  # ladder, edge, 7 roses, loads
    assert len(set(named)) == len(named) == 2 * len(drawings)
    wanted = " ".join(str(attrs["aria-labelledby"]) for attrs in drawings)
    assert sorted(wanted.split()) == sorted(named)


def test_ids_are_unique(page: str) -> None:
    """No two elements share an id."""
    ids = [attrs["id"] for _, attrs in read(page).tags if "id" in attrs]

    assert len(set(ids)) == len(ids)


def test_shows_hostile_text_as_text() -> None:
    """Markup in a name is read as letters, wherever the name appears."""
    page = render_html(make_hostile_inspection(), overlay_jpeg=None)
    seen = read(page)

    whole = "".join(seen.text)

    assert not seen.all("script")
    assert whole.count("<script>alert('x')</script>") > 10
    assert HEBREW in whole
    assert HOSTILE.strip("W").split(OVERRIDE)[0] in whole


def test_hostile_text_steers_and_hides_nothing() -> None:
    """Direction overrides are gone, control characters visible, names isolated."""
    page = render_html(make_hostile_inspection(), overlay_jpeg=None)

    assert OVERRIDE not in page
    assert "\x00" not in page
    assert "\ufffd" in page
    assert re.search(r"<h1><bdi>&lt;script&gt;", page)


def test_says_outcomes_in_word_and_sign(page: str) -> None:
    """Each outcome that occurs stands as word and sign, not as colour alone."""
    for outcome in Outcome:
        assert f"{outcome.sign}</span> {outcome.text}</span>" in page


def test_names_cautions_and_who_signs(page: str) -> None:
    """Every caution and every line to sign is there."""
    text = "".join(read(page).text)

    assert all(caution in text for caution in CAUTIONS)
    assert all(
        signer in text for signer in ("Measured by", "Decided by", "Received by")
    )


def test_inches_and_pounds_on_request() -> None:
    """In inches no value in mm or N is left in the tables."""
    page = render_html(make_inspection(), overlay_jpeg=None, units="in")
    text = "".join(read(page).text)

    assert "L0, in" in text
    assert "open, lbf" in text
    assert "1.8945 ± 0.0026 in" in text  # 48.12 ± 0.0652 mm / 25.4
    assert not re.search(r"± [\d.]+ (mm|N)\b", text)


def test_page_size_follows_the_paper() -> None:
    """The print style names the paper."""
    inspection = make_inspection()

    assert "size: A4" in render_html(inspection, overlay_jpeg=None)
    assert "size: Letter" in render_html(inspection, overlay_jpeg=None, paper="Letter")


def test_prints_a_spring_unbroken(page: str) -> None:
    """In print a page may end between springs and not within one."""
    printed = page.split("@media print")[1].split("</style>", maxsplit=1)[0]

    assert re.search(r"\.spring, \.roses \{ break-inside: avoid; \}", printed)


def test_same_inspection_gives_the_same_page() -> None:
    """Nothing in the page depends on when or how often it is written."""
    first, second = (
        render_html(make_inspection(), overlay_jpeg=JPEG) for _ in range(2)
    )

    assert first == second


def test_hints_loads_and_pairs_are_on_the_page(page: str) -> None:
    """Each is told in the words that every format shares."""
    text = "".join(read(page).text)

    assert f"{HINT}: the wire looks redder than the set." in text
    assert "against the median of the others" in text
    assert PAIRS in text


def test_an_unjudged_row_is_no_good_row() -> None:
    """Without a specification nothing is called accepted."""
    judged = make_inspection()
    bare = replace(judged, specification=None, verdicts=(), sets=(), pairs=())

    text = "".join(read(render_html(bare, overlay_jpeg=None)).text)

    assert "Not decided yet: springs 1, 2, 3, 4, 5, 6, 7 and 8." in text
    assert "no specification" in text
    assert Outcome.ACCEPT.sign not in text
