"""Chromium on the local page: a mouse at 1280 px and a thumb at 390, and axe-core's verdict."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import tarfile
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.browser import CHROMIUM, FLAGS

DRIVER = shutil.which("chromedriver")
WAIT = 60
"""Seconds; a plan is learnt meanwhile, and the machine may be busy."""
SIZES = {"desk": (1280, 900), "phone": (390, 844)}
AXE_ENVIRONMENT = "SWATCHREAD_TEST_AXE"

needs_driver = pytest.mark.skipif(not (CHROMIUM and DRIVER), reason="chromium and its driver are not installed")


@contextmanager
def driving(profile):
    """Start headless Chromium."""
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service

    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    for flag in (*FLAGS, "--disable-dev-shm-usage", "--hide-scrollbars", f"--user-data-dir={profile}"):
        options.add_argument(flag)
    running = webdriver.Chrome(options=options, service=Service(executable_path=DRIVER))
    running.set_page_load_timeout(WAIT)
    running.set_script_timeout(WAIT)
    try:
        yield running
    finally:
        running.quit()


def resize(driver, size):
    """Make the window that of a desk or of a phone, which has a thumb for a mouse."""
    width, height = SIZES[size]
    phone = size == "phone"
    metrics = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": phone}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)
    thumb = {"enabled": True, "maxTouchPoints": 1} if phone else {"enabled": False}
    driver.execute_cdp_cmd("Emulation.setTouchEmulationEnabled", thumb)


def until(driver, condition):
    from selenium.common.exceptions import StaleElementReferenceException
    from selenium.webdriver.support.wait import WebDriverWait

    return WebDriverWait(driver, WAIT, ignored_exceptions=[StaleElementReferenceException]).until(condition)


def every(driver, css):
    return driver.find_elements("css selector", css)


def one(driver, css):
    return driver.find_element("css selector", css)


def press(driver, css):
    """Press what a thumb or a mouse would: in the middle of the window, where nothing covers it."""
    element = one(driver, css)
    driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", element)
    element.click()


def drag_on(driver, css, start, end, *, touch):
    """Drag over an element, between places that are shares of its width and height."""
    box = driver.execute_script(
        "const e = document.querySelector(arguments[0]); e.scrollIntoView({block: 'center'});"
        "const r = e.getBoundingClientRect(); return [r.left, r.top, r.width, r.height]",
        css,
    )
    way = [(box[0] + x * box[2], box[1] + y * box[3]) for x, y in (start, ((start[0] + end[0]) / 2, end[1]), end)]
    names = ("touchStart", "touchMove", "touchMove") if touch else ("mousePressed", "mouseMoved", "mouseMoved")
    for name, (x, y) in zip(names, way, strict=True):
        _point(driver, name, x, y)
    _point(driver, "touchEnd" if touch else "mouseReleased", *way[-1])


def _point(driver, name, x, y):
    if name.startswith("touch"):
        points = [] if name == "touchEnd" else [{"x": x, "y": y}]
        driver.execute_cdp_cmd("Input.dispatchTouchEvent", {"type": name, "touchPoints": points})
    else:
        held = {"x": x, "y": y, "button": "left", "buttons": 1, "clickCount": 1}
        driver.execute_cdp_cmd("Input.dispatchMouseEvent", {"type": name, **held})


def overflows(driver):
    """Tell whether the page is wider than the window."""
    return driver.execute_script("return document.documentElement.scrollWidth > innerWidth")


def console_trouble(driver):
    """Return what the browser complained of, the page's policy among it."""
    return [line["message"] for line in driver.get_log("browser")]


def axe_source():
    """Return axe-core's script: named by an environment variable, or fetched with npm; else the test is skipped."""
    named = os.environ.get(AXE_ENVIRONMENT)
    if named:
        return Path(named).read_text(encoding="utf-8")
    npm = shutil.which("npm")
    folder = Path(os.environ.get("TMPDIR", "/tmp")) / "swatchread-axe"  # noqa: S108 - a public script, checked by nobody
    script = folder / "axe.min.js"
    if not script.is_file() and npm:
        folder.mkdir(exist_ok=True)
        done = subprocess.run(
            [npm, "pack", "--silent", "axe-core@4"], cwd=folder, capture_output=True, text=True, check=False, timeout=90
        )
        for package in folder.glob("axe-core-*.tgz") if done.returncode == 0 else ():
            with tarfile.open(package) as opened:
                script.write_bytes(opened.extractfile("package/axe.min.js").read())
    if not script.is_file():
        pytest.skip("axe-core could not be had: the pages' accessibility was not judged")
    return script.read_text(encoding="utf-8")


def serious_faults(driver, source):
    """Return what axe-core finds serious or critical on the page that is shown."""
    driver.execute_script(source)
    told = driver.execute_async_script(
        "const done = arguments[0]; axe.run({resultTypes: ['violations']}).then("
        "(found) => done(JSON.stringify(found.violations)), (error) => done(String(error)))"
    )
    return [
        (fault["id"], fault["impact"], [node["target"] for node in fault["nodes"][:3]])
        for fault in json.loads(told)
        if fault["impact"] in {"serious", "critical"}
    ]
