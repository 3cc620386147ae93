"""The sheet in a real browser: nothing clipped, nothing fetched, readable by all."""

from pathlib import Path

import pytest

from tests.factories import make_inspection
from tests.system.browser import (
    CHROMIUM,
    Window,
    console_of,
    fetch_axe,
    inspect_page,
    run_chromium,
)
from tests.vision.output.hostile import make_hostile_inspection
from tests.vision.output.test_sheet_pdf import make_jpeg
from vision.output.sheet_html import render_html

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this machine"),
]

DESKTOP = Window(width=1280, height=900)
TABLET = Window(width=820, height=1180)
PHONE = Window(width=390, height=844)
WINDOWS = {
    "desktop": DESKTOP,
    "desktop, dark": Window(width=1280, height=900, dark=True),
    "tablet": TABLET,
    "phone": PHONE,
    "phone, dark": Window(width=390, height=844, dark=True),
}
CHECKED = {"color-contrast", "heading-order", "image-alt", "html-has-lang"}


@pytest.fixture(scope="module")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    script = fetch_axe(tmp_path_factory.mktemp("axe"))
    if script is None:
        pytest.skip("the accessibility checker cannot be fetched here")
    return script


@pytest.fixture(scope="module")
def page() -> str:
    return render_html(make_inspection(), overlay_jpeg=make_jpeg())


@pytest.mark.parametrize("name", WINDOWS)
def test_everybody_can_read_it(page: str, axe: str, name: str, tmp_path: Path) -> None:
    """No violation of WCAG 2.2 A and AA, and no text outside window or figure."""
    window = WINDOWS[name]

    report = inspect_page(page, axe, window, tmp_path)

    assert report["width"] == window.width
    assert report["dark"] == window.dark
    assert report["violations"] == []
    assert set(report["passes"]) >= CHECKED
    assert report["scrolled"] <= window.width
    assert (report["outside"], report["clipped"], report["hidden"]) == ([], [], [])
    assert all(name.startswith("data:") for name in report["resources"])


def test_the_console_stays_silent(page: str, tmp_path: Path) -> None:
    """The page as it is, its own policy in force, asks for nothing and says nothing."""
    assert console_of(page, tmp_path) == []


def test_a_request_would_be_noticed(page: str, tmp_path: Path) -> None:
    """The page's policy stops a picture from elsewhere, and the console tells."""
    asking = page.replace("<main>", '<main><img alt="" src="http://127.0.0.1:9/x.png">')

    (line,) = console_of(asking, tmp_path)

    assert "Content Security Policy" in line


@pytest.mark.parametrize("window", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_a_hostile_name_breaks_no_layout(
    axe: str, window: Window, tmp_path: Path
) -> None:
    """200 letters without a space wrap; markup and direction marks do nothing."""
    page = render_html(make_hostile_inspection(), overlay_jpeg=None)

    report = inspect_page(page, axe, window, tmp_path)

    assert report["scrolled"] <= window.width
    assert (report["outside"], report["clipped"]) == ([], [])
    assert report["violations"] == []


def test_twenty_four_springs_in_inches_fit(axe: str, tmp_path: Path) -> None:
    """A long row with long numbers clips nothing in any figure."""
    page = render_html(make_inspection(24), overlay_jpeg=None, units="in")

    report = inspect_page(page, axe, PHONE, tmp_path)

    assert report["scrolled"] <= PHONE.width
    assert (report["outside"], report["clipped"]) == ([], [])


def test_print_keeps_each_spring_on_a_page(page: str, tmp_path: Path) -> None:
    """Printed from the browser, a spring's part does not run over a page's end."""
    pypdf = pytest.importorskip("pypdf")
    path, pdf = tmp_path / "page.html", tmp_path / "printed.pdf"
    path.write_text(page, encoding="utf-8")

    run_chromium(path, DESKTOP, tmp_path, f"--print-to-pdf={pdf}")

    texts = [
        " ".join(each.extract_text().split()) for each in pypdf.PdfReader(pdf).pages
    ]
    for position in range(1, 9):
        starts = [n for n, text in enumerate(texts) if f"Spring {position} · " in text]
        assert len(starts) == 1
        part = texts[starts[0]].split(f"Spring {position} · ")[1]
        assert "looked over by hand" in part.split("Spring ")[0]
