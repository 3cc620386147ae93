"""Opens a page in headless Chromium and asks it what a person would meet."""

import json
import re
import shutil
import subprocess
import tarfile
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any

CHROMIUM = next(filter(None, map(shutil.which, ("chromium", "google-chrome"))), None)
NPM = shutil.which("npm")
PATIENCE_S = 90
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

HOST = '<!doctype html><meta name="color-scheme" content="light dark">'
PROBE = """
const outside = [], clipped = [];
const seen = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (seen.nextNode()) {
  const node = seen.currentNode, holder = node.parentElement;
  if (!node.data.trim() || holder.closest('script, .scroller, svg')) continue;
  const range = document.createRange(); range.selectNodeContents(node);
  for (const box of range.getClientRects())
    if (box.left < -0.5 || box.right > innerWidth + 0.5) outside.push(node.data);
}
for (const text of document.querySelectorAll('svg text')) {
  const box = text.getBBox(), view = text.ownerSVGElement.viewBox.baseVal;
  if (box.x < -0.1 || box.y < -0.1 || box.x + box.width > view.width + 0.1
      || box.y + box.height > view.height + 0.1) clipped.push(text.textContent);
}
const hidden = [...document.querySelectorAll('body *')].filter(each =>
  !each.closest('svg') && getComputedStyle(each).overflowX === 'hidden' &&
  each.scrollWidth > each.clientWidth + 1 &&
  !each.matches('thead')).map(each => each.className);
const report = {
  width: innerWidth, scrolled: document.documentElement.scrollWidth,
  dark: matchMedia('(prefers-color-scheme: dark)').matches,
  paper: getComputedStyle(document.body).backgroundColor,
  resources: performance.getEntriesByType('resource').map(each => each.name),
  outside, clipped, hidden,
};
axe.run(document, {runOnly: RULES}).then(found => {
  const short = each => [each.id, each.nodes.map(node => node.target.join(' '))];
  report.violations = found.violations.map(short);
  report.passes = found.passes.map(each => each.id);
}).catch(error => { report.error = String(error); }).then(() => {
  const out = document.createElement('script');
  out.type = 'application/json'; out.id = 'report';
  out.textContent = JSON.stringify(report); parent.document.body.append(out);
});
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A window's size in CSS px and whether its user prefers the dark."""

    width: int
    height: int
    dark: bool = False


def fetch_axe(folder: Path) -> str | None:
    """Fetch the accessibility checker with npm; None where it cannot be had."""
    if NPM is None:
        return None
    command = [NPM, "pack", "axe-core@4", "--silent", "--pack-destination", str(folder)]
    done = subprocess.run(
        command, cwd=folder, capture_output=True, timeout=PATIENCE_S, check=False
    )
    packed = next(folder.glob("axe-core-*.tgz"), None)
    if done.returncode or packed is None:
        return None
    with tarfile.open(packed) as archive:
        script = archive.extractfile("package/axe.min.js")
        return script.read().decode() if script else None


def inspect_page(page: str, axe: str, window: Window, folder: Path) -> dict[str, Any]:
    """Run the probe in a copy whose policy lets it; nothing else is changed.

    The copy stands in a frame of the window's size, since Chromium makes no window
    narrower than 500 px.
    """
    opened = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    probe = PROBE.replace("RULES", json.dumps(RULES))
    scripts = f"<script>{axe}</script><script>{probe}</script>"
    at = opened.rindex("</body>")
    path = folder / "probed.html"
    inner = escape(opened[:at] + scripts + opened[at:])
    size = f'width="{window.width}" height="{window.height}" style="border:0"'
    frame = f'<iframe {size} srcdoc="{inner}"></iframe>'
    path.write_text(f"{HOST}<body>{frame}</body>", encoding="utf-8")
    seen, _ = run_chromium(path, window, folder, "--dump-dom")
    found = re.search(
        r'<script type="application/json" id="report">(.*?)</script>', seen, re.DOTALL
    )
    assert found, seen[-2000:]
    report: dict[str, Any] = json.loads(found[1])
    assert "error" not in report, report["error"]
    return report


def console_of(page: str, folder: Path) -> list[str]:
    """Open the page as it is and give what its console says."""
    path = folder / "page.html"
    path.write_text(page, encoding="utf-8")
    window = Window(width=1280, height=900)
    _, log = run_chromium(path, window, folder, "--dump-dom", "--enable-logging=stderr")
    return [line for line in log.splitlines() if "CONSOLE" in line]


def run_chromium(
    path: Path, window: Window, folder: Path, *options: str
) -> tuple[str, str]:
    """Give what Chromium prints and logs of one page."""
    assert CHROMIUM
    scheme = 0 if window.dark else 1  # its own numbers: 0 dark, 1 light
    command = [
        CHROMIUM,
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--hide-scrollbars",
        "--disable-background-networking",
        f"--user-data-dir={folder / 'profile'}",
        f"--window-size={window.width},{window.height}",
        f"--blink-settings=preferredColorScheme={scheme}",
        "--virtual-time-budget=20000",
        *options,
        path.as_uri(),
    ]
    done = subprocess.run(
        command, capture_output=True, timeout=PATIENCE_S, check=True, text=True
    )
    return done.stdout, done.stderr
