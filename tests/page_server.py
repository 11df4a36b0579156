"""The local page served within the tests' own process, and requests to it."""

from __future__ import annotations

import atexit
import http.client
import json
import threading
import time
import urllib.error
import urllib.parse
import urllib.request
import uuid
from contextlib import contextmanager
from functools import cache
from pathlib import Path

WAIT = 60.0
"""Seconds that a reading may take here: workers start, and the machine may be busy."""


@cache
def warm_readers():
    """Return readers whose processes go on from one server of the tests to the next: each takes seconds to start."""
    from swatchread.page.photo_reading import PhotoReaders, _Reader

    running = []

    class WarmReaders(PhotoReaders):
        def __post_init__(self):
            running.extend(_Reader() for _ in range(self.size - len(running)))
            self._all = tuple(running[: self.size])
            self._free = list(self._all)

        def close(self):
            pass

    atexit.register(lambda: [reader.close() for reader in running])
    return WarmReaders


@contextmanager
def served(address, *, readers=1, watched=None, chart=None):
    """Serve the pages of an archive; give the server, whose `studio` the pages work on."""
    from swatchread.archive.picture_archive import PictureArchive
    from swatchread.page.serving import PageServer
    from swatchread.page.studio import open_studio

    with PictureArchive.open(str(address)) as archive:
        studio = open_studio(archive, readers=readers, chart=chart)
        studio.desk.readers = warm_readers()(readers)
        server = PageServer(studio, watched=watched)
        server.studio = studio
        thread = threading.Thread(target=server.serve)
        thread.start()
        assert server.ready.wait(20)
        try:
            yield server
        finally:
            server.stop()
            thread.join(timeout=20)
        assert not thread.is_alive()


def get(address, **headers):
    """Return the status, the body and the headers of an answer."""
    with urllib.request.urlopen(urllib.request.Request(address, headers=headers), timeout=20) as answer:
        return answer.status, answer.read(), dict(answer.headers)


def page(address):
    return get(address, Accept="text/html")[1].decode()


def post(address, data=None, **headers):
    """Send JSON, and return the answer's."""
    body = data if isinstance(data, bytes) else json.dumps(data or {}).encode()
    request = urllib.request.Request(address, body, {"Content-Type": "application/json", **headers})
    with urllib.request.urlopen(request, timeout=WAIT) as answer:
        return json.loads(answer.read())


def refused(call, *arguments, **headers):
    """Return the status and the facts of a refusal."""
    try:
        call(*arguments, **headers)
    except urllib.error.HTTPError as error:
        with error:
            body = error.read()
            return error.code, json.loads(body) if body.startswith(b"{") else {}
    raise AssertionError("it was answered")


def form(*files):
    """Return the body of a form with files, and its media type. Each file is a name and bytes."""
    border = uuid.uuid4().hex
    parts = [
        f'--{border}\r\nContent-Disposition: form-data; name="photos"; filename="{name}"\r\n'
        f"Content-Type: application/octet-stream\r\n\r\n".encode()
        + data
        + b"\r\n"
        for name, data in files
    ]
    return b"".join(parts) + f"--{border}--\r\n".encode(), f"multipart/form-data; boundary={border}"


def upload(server, *files):
    """Send photos; return what is said of each."""
    body, kind = form(*files)
    try:
        return post(server.address + "photos", body, **{"Content-Type": kind})["photos"]
    except urllib.error.HTTPError as error:
        with error:
            return json.loads(error.read())["photos"]


def settled(server, photo):
    """Wait until a photo was read or refused; return what is known of it then."""
    end = time.monotonic() + WAIT
    while time.monotonic() < end:
        facts = json.loads(get(f"{server.address}photos/{photo}")[1])
        if facts["state"] != "waiting":
            return facts
        time.sleep(0.05)
    raise AssertionError(f"{photo} is still waiting")


def read_card_of(server, path):
    """Upload a photo, wait until it is read, and return its card."""
    facts = settled(server, upload(server, (path.name, path.read_bytes()))[0]["id"])
    assert facts["state"] == "read", facts
    return facts["card"]


def raw_request(address, request, *, timeout=10.0, wait=True):
    """Send bytes to a server, and return what comes back."""
    import socket

    parts = urllib.parse.urlsplit(address)
    with socket.create_connection((parts.hostname, parts.port), timeout=timeout) as connection:
        connection.sendall(request)
        if not wait:
            return b""
        received = b""
        while chunk := connection.recv(65536):
            received += chunk
        return received


def connection_to(address):
    parts = urllib.parse.urlsplit(address)
    return http.client.HTTPConnection(parts.hostname, parts.port, timeout=30)


def processor_seconds(program):
    """Return the processor time of a program and of all that it started, by its number."""
    total = 0
    for folder in Path("/proc").iterdir():
        if folder.name.isdigit():
            try:
                name, fields = (folder / "stat").read_text("ascii", "replace").rsplit(")", 1)
            except OSError:
                continue
            fields = fields.split()
            if program in {int(name.split()[0]), int(fields[1])}:
                total += int(fields[11]) + int(fields[12])
    return total / 100.0  # clock ticks of Linux
