"""Pictures in a real browser: what a page of them measures there."""

import html
import json
import os
import re
import shutil
import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

__all__ = ["found_browser", "measure"]

_NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
_QUIET = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
    # Lets a page ask what a screen reader is told.
    "--enable-blink-features=ComputedAccessibilityInfo",
)
_SCRIPT = """
const told = [...document.querySelectorAll('section')].map(section => {
  const svg = section.querySelector('svg'), whole = svg.getBoundingClientRect();
  const boxes = [...svg.querySelectorAll('text')].map(text => {
    const box = text.getBoundingClientRect();
    return {words: text.textContent, left: box.left - whole.left, right: box.right - whole.left,
      top: box.top - whole.top, bottom: box.bottom - whole.top,
      size: parseFloat(getComputedStyle(text).fontSize) * whole.width / svg.viewBox.baseVal.width};
  });
  const overlaps = [];
  boxes.forEach((one, number) => boxes.slice(number + 1).forEach(other => {
    if (one.left < other.right - 0.5 && other.left < one.right - 0.5 &&
        one.top < other.bottom - 0.5 && other.top < one.bottom - 0.5)
      overlaps.push([one.words, other.words]);
  }));
  const outside = boxes.filter(box => box.left < -0.5 || box.top < -0.5 ||
    box.right > whole.width + 0.5 || box.bottom > whole.height + 0.5).map(box => box.words);
  return {name: svg.computedName, role: svg.computedRole, width: whole.width,
    texts: boxes.length, least: Math.min(...boxes.map(box => box.size)), overlaps, outside};
});
document.getElementById('told').textContent = JSON.stringify(told);
"""


def found_browser() -> str:
    """Give the path of a browser; without one the test is left out, or fails if it may not be."""
    found = next((path for path in map(shutil.which, _NAMES) if path), None)
    if found is None:
        reason = f"no browser is installed: {', '.join(_NAMES)}"
        if os.environ.get("TEST_BROWSER") == "required":
            pytest.fail(reason)
        pytest.skip(reason)
    return found


def measure(svgs: Sequence[str], wide: int, folder: Path, face: str = "") -> list[dict[str, Any]]:
    """Show pictures so many pixels wide, one under another, and give what each measures.

    ``face`` puts another in place of the pictures' own.
    """
    browser = found_browser()
    folder.mkdir(parents=True, exist_ok=True)
    style = f"section {{ width: {wide}px }} svg {{ max-width: none !important }}"
    style += f" svg text {{ font-family: '{face}' }}" if face else ""
    sections = "".join(f"<section>{svg}</section>" for svg in svgs)
    page = folder / "page.html"
    page.write_text(
        f"<!doctype html><meta charset=utf-8><style>{style}</style>{sections}"
        f"<pre id=told></pre><script>{_SCRIPT}</script>",
        encoding="utf-8",
    )
    ran = subprocess.run(
        [browser, *_QUIET, f"--user-data-dir={folder / 'profile'}", "--dump-dom", page.as_uri()],
        capture_output=True,
        text=True,
        encoding="utf-8",
        timeout=120,
        check=True,
    )
    told = re.search(r'<pre id="told">(.*?)</pre>', ran.stdout, re.DOTALL)
    assert told is not None, ran.stdout[-500:] + ran.stderr[-500:]
    measured: list[dict[str, Any]] = json.loads(html.unescape(told[1]))
    assert len(measured) == len(svgs)
    return measured
