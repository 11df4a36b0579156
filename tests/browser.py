"""Pages looked at and printed by headless Chromium, and what poppler reads in the print."""

from __future__ import annotations

import atexit
import io
import re
import shutil
import subprocess
import tempfile
from base64 import b64decode
from dataclasses import dataclass
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
DRIVER = shutil.which("chromedriver")
FLAGS = ["--headless", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking"]
POPPLER = shutil.which("pdftotext") and shutil.which("pdfinfo") and shutil.which("pdfimages")

needs_browser = pytest.mark.skipif(
    not (CHROMIUM and DRIVER), reason="Chromium or its driver is not installed: the page was not looked at"
)
needs_printing = pytest.mark.skipif(
    not (CHROMIUM and DRIVER and POPPLER),
    reason="Chromium, its driver or poppler is not installed: the page was not printed",
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
    printer = shared_browser()
    printer.get(source.as_uri())
    told = printer.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True, "printBackground": True})
    target.write_bytes(b64decode(told["data"]))
    return Print(target)


def screenshot(page, folder, width, height=1500):
    """Return what a window of some width shows of a page's HTML, as an RGB array."""
    source = folder / "shown.html"
    source.write_text(page, encoding="utf-8")
    window = shared_browser()
    shape = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": False}
    window.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", shape)
    window.execute_cdp_cmd("Emulation.setScrollbarsHidden", {"hidden": True})
    window.get(source.as_uri())
    told = window.execute_cdp_cmd("Page.captureScreenshot", {"format": "png"})
    return np.asarray(Image.open(io.BytesIO(b64decode(told["data"]))).convert("RGB"))


@cache
def shared_browser():
    """Return the browser that looks at files and prints them, started once a session."""
    profile = tempfile.TemporaryDirectory(prefix="chromium-", ignore_cleanup_errors=True)
    driver = open_browser(profile.name)
    atexit.register(profile.cleanup)
    atexit.register(driver.quit)  # before the cleaning up
    return driver


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


needs_driver = pytest.mark.skipif(not (CHROMIUM and DRIVER), reason="Chromium and its driver are not installed")
DESK, PHONE = (1280, 900), (390, 844)
"""Width and height of a window, pixels: a computer's and a phone's."""


def open_browser(profile, size=DESK):
    """Return a headless Chromium that is driven from here; a window as narrow as a phone's has touch."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for flag in (*FLAGS, "--disable-dev-shm-usage", f"--window-size={DESK[0]},{DESK[1]}", f"--user-data-dir={profile}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(executable_path=DRIVER))
    resize(driver, size)
    return driver


def resize(driver, size):
    """Give a browser's window another size."""
    narrow = size[0] < 600
    shape = {"width": size[0], "height": size[1], "deviceScaleFactor": 1, "mobile": narrow}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", shape)
    driver.execute_cdp_cmd("Emulation.setTouchEmulationEnabled", {"enabled": narrow, "maxTouchPoints": 2})


def until(driver, condition, seconds=30):
    """Wait until something holds, and return it."""
    from selenium.common.exceptions import StaleElementReferenceException
    from selenium.webdriver.support.wait import WebDriverWait

    return WebDriverWait(driver, seconds, ignored_exceptions=[StaleElementReferenceException]).until(condition)


def find(driver, css):
    return driver.find_element("css selector", css)


def find_all(driver, css):
    return driver.find_elements("css selector", css)


def drag(driver, element, dx, dy):
    """Drag the middle of an element by the mouse, or by a finger on a phone."""
    box = driver.execute_script(
        "const b = arguments[0].getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2]", element
    )
    pointer(driver, [tuple(box), (box[0] + dx / 2, box[1] + dy / 2), (box[0] + dx, box[1] + dy)])


def pointer(driver, places):
    """Press at the first of some places of the window, go through the others, and let go."""
    touch = driver.execute_script("return innerWidth < 600")
    if touch:
        steps = [("touchStart", places[0]), *(("touchMove", place) for place in places[1:])]
        for kind, (x, y) in steps:
            driver.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
        driver.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        return
    mouse = {"button": "left", "buttons": 1, "clickCount": 1}
    steps = [
        ("mousePressed", places[0]),
        *(("mouseMoved", place) for place in places[1:]),
        ("mouseReleased", places[-1]),
    ]
    for kind, (x, y) in steps:
        driver.execute_cdp_cmd("Input.dispatchMouseEvent", {"type": kind, "x": x, "y": y, **mouse})


def accessibility_faults(driver):
    """Return what axe-core finds serious or critical on the page that is shown, a line each."""
    from importlib.resources import files

    driver.execute_script((files("axe_core_python") / "axe.min.js").read_text("utf-8"))
    found = driver.execute_async_script(
        "const done = arguments[0], wanted = {resultTypes: ['violations']};"
        "axe.run(document, wanted).then(done, error => done(String(error)))"
    )
    assert isinstance(found, dict), found
    return [
        f"{one['id']}: {node['html'][:200]} {node['any'][0]['message'] if node['any'] else ''}"
        for one in found["violations"]
        if one["impact"] in {"serious", "critical"}
        for node in one["nodes"]
    ]


def complaints(driver):
    """Return what the browser complained of since it was last asked: scripts, policy, missing files."""
    # A stream of news that ends with the page, or with the server of an earlier test, is no fault.
    return [line["message"] for line in driver.get_log("browser") if "/events - " not in line["message"]]
