"""Pages looked at and printed by headless Chromium, and what poppler reads in the print."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import dataclass
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
POPPLER = shutil.which("pdftotext") and shutil.which("pdfinfo") and shutil.which("pdfimages")

needs_browser = pytest.mark.skipif(CHROMIUM is None, reason="Chromium is not installed: the page was not looked at")
needs_printing = pytest.mark.skipif(
    not (CHROMIUM and POPPLER), reason="Chromium or poppler is not installed: the page was not printed"
)

PAPERS = {"A4": (595.3, 841.9), "letter": (612.0, 792.0)}
"""Paper -> width and height in points (ISO 216; ANSI/ASME Y14.1)."""


@dataclass(frozen=True)
class Print:
    """A page as it came out of the printer."""

    path: Path

    @property
    def sizes(self):
        """Width and height of each sheet, points."""
        told = run("pdfinfo", "-l", "999", self.path)
        return [tuple(map(float, size)) for size in re.findall(r"Page +\d+ size: +([\d.]+) x ([\d.]+)", told)]

    @property
    def pages(self):
        """The text of each sheet as one line, for a print says nothing about where its words wrap."""
        return [" ".join(page.split()) for page in run("pdftotext", "-layout", self.path, "-").split("\f")[:-1]]

    @property
    def picture_heights(self):
        """How high each picture is printed, mm."""
        rows = run("pdfimages", "-list", self.path).splitlines()[2:]
        return [int(row.split()[4]) / int(row.split()[13]) * 25.4 for row in rows]

    def seen(self, dpi=50):
        """Each sheet as a picture, RGB."""
        stem = self.path.with_suffix("")
        run("pdftoppm", "-r", str(dpi), "-png", self.path, stem)
        sheets = sorted(self.path.parent.glob(f"{stem.name}-*.png"))
        return [np.asarray(Image.open(sheet).convert("RGB")) for sheet in sheets]


def print_page(page, folder, paper="A4"):
    """Print a page's HTML on a paper."""
    source, target = folder / "printed.html", folder / "printed.pdf"
    source.write_text(page.replace("</head>", f"<style>@page {{ size: {paper}; }}</style></head>"), encoding="utf-8")
    browse(folder, f"--print-to-pdf={target}", "--no-pdf-header-footer", source.as_uri())
    return Print(target)


def screenshot(page, folder, width, height=1500):
    """Return what a window of some width shows of a page's HTML, as an RGB array."""
    source, target = folder / "shown.html", folder / "shown.png"
    source.write_text(page, encoding="utf-8")
    browse(folder, f"--window-size={width},{height}", f"--screenshot={target}", source.as_uri())
    return np.asarray(Image.open(target).convert("RGB"))


def browse(folder, *arguments):
    """Run headless Chromium."""
    run(CHROMIUM, *FLAGS, "--hide-scrollbars", f"--user-data-dir={folder}/profile", *arguments)


def run(*words):
    """Run a program and return what it prints."""
    done = subprocess.run([str(word) for word in words], check=True, capture_output=True, text=True, timeout=90)
    return done.stdout


class PageReader(HTMLParser):
    """Collect what a browser would make of a page: its tags, their attributes and its words."""

    def __init__(self, page):
        super().__init__()
        self.tags, self.attributes, self.text, self.open_tags = [], [], [], []
        self.feed(page)

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value or "") for name, value in attrs]
        if tag not in {"meta", "br", "img"}:  # these have no end (HTML, void elements)
            self.open_tags.append(tag)

    def handle_endtag(self, tag):
        assert self.open_tags.pop() == tag

    def handle_data(self, data):
        self.text.append(data)

    @property
    def words(self):
        return " ".join(" ".join(self.text).split())
