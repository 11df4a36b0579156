"""Who the local page answers, and what it does with what nobody should send."""

import json
import socket
import struct
import time
import urllib.error

import pytest

from swatchread.page import door, serving
from tests.archive_data import build_note, sample_card, swatch_data
from tests.page_server import connection_to, form, get, page, post, raw_request, refused, served, settled, upload

NASTY = "\"><script>alert(1)</script><img src=x onerror=alert(1)>'"


@pytest.fixture(scope="module")
def server(tmp_path_factory):
    with served(tmp_path_factory.mktemp("archive") / "archive.sqlite") as running:
        running.studio.archive.add_all([(sample_card(1), None)])
        (running.studio.archive.photo_folder.parent / "secret.txt").write_text("secret")
        yield running


def words(text="x", was="", swatch="r1c1"):
    return {"swatch": swatch, "field": "recipe", "text": text, "was": was}


def recipe(server):
    return server.studio.archive.card(1).note.swatch("r1c1").recipe


def test_it_listens_on_the_loopback_address_only(server):
    assert server._socket.getsockname()[0] == "127.0.0.1"
    with pytest.raises(OSError, match=r".+"):  # the machine's other addresses are closed
        socket.create_connection((other_address(), server.port), timeout=2).close()


def other_address():
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        try:
            asking.connect(("192.0.2.1", 9))
        except OSError:
            pytest.skip("this machine has no other address")
        return asking.getsockname()[0]


@pytest.mark.parametrize("path", ["/", "/wrong/", "/wrong/cards", "/cards", "/favicon.ico", "//cards", "/%00/cards"])
def test_only_who_knows_the_token_is_answered(server, path):
    base = f"http://127.0.0.1:{server.port}"
    assert refused(get, base + path)[0] == 404
    assert refused(post, base + path)[0] == 404


def test_the_token_is_long_and_another_one_each_time(server, tmp_path):
    assert len(server.door.token) >= 32  # 24 random bytes
    with served(tmp_path / "a.sqlite") as other:
        assert other.door.token != server.door.token


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:{port}", "127.0.0.1", "127.0.0.1:1", "[::1]:{port}", ""]
)
def test_another_name_for_this_computer_is_not_answered(server, host):
    """A page elsewhere can let its own name point here; the browser then says that name."""
    host = host.format(port=server.port)
    assert refused(get, server.address + "cards", Host=host)[0] == 403
    assert refused(post, server.address + "cards/1/words", words(), Host=host)[0] == 403


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:1"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Content-Type": "text/plain"},
        {"Content-Type": "application/x-www-form-urlencoded"},
    ],
    ids=str,
)
def test_another_pages_writing_is_refused(server, headers):
    before = recipe(server)
    status, _ = refused(post, server.address + "cards/1/words", words("theirs", before), **headers)
    assert status in {403, 415}
    assert recipe(server) == before


def test_nothing_is_changed_by_looking(server):
    """Each address that changes something answers no GET."""
    from starlette.routing import Route

    routes = [route for route in server._application.routes if isinstance(route, Route)]
    writing = [route for route in routes if "POST" in route.methods]
    assert len(writing) >= 8
    for route in writing:
        path = route.path.replace("{card:int}", "1").replace("{photo}", "a")
        if not any("GET" in other.methods and other.path_regex.match(path) for other in routes):
            assert refused(get, server.address[:-1] + path)[0] == 405


def test_every_answer_forbids_what_is_not_the_pages_own(server):
    for path in ("cards", "cards/1", "static/page.js", "static/page.css"):
        headers = {name.lower(): value for name, value in get(server.address + path)[2].items()}
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert "http" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
    with pytest.raises(urllib.error.HTTPError) as caught:
        get(f"http://127.0.0.1:{server.port}/wrong/")
    with caught.value as answer:
        assert "default-src 'none'" in answer.headers["Content-Security-Policy"]


def test_pages_hold_no_style_and_no_script_of_their_own(server):
    for path in ("cards", "cards/1", "phone"):
        text = page(server.address + path)
        assert "<style" not in text
        assert " style=" not in text
        assert " onclick=" not in text
        assert text.count("<script") == text.count('<script type="module" src="')


@pytest.mark.parametrize(
    "path",
    [
        "static/../cards_page.py", "static/%2e%2e/cards_page.py", "static/..%2fcards_page.py", "static//etc/passwd",
        "static/..\\cards_page.py", "pictures/../../secret.txt", "pictures/" + "0" * 64, "pictures/" + "g" * 64,
        "photos/..%2f..%2fsecret.txt/picture", "photos/../secret.txt", "look/../pages.py", "cards/99999999999999999999",
        "cards/-1", "cards/1/../2", "cards/1%00",
    ],
)  # fmt: skip
def test_no_other_file_is_given(server, path):
    connection = connection_to(server.address)
    connection.request("GET", f"/{server.door.token}/{path}")
    answer = connection.getresponse()
    body = answer.read()
    connection.close()
    assert answer.status in {400, 404}
    assert b"secret" not in body.replace(path.encode(), b"")
    assert b"def " not in body


@pytest.mark.parametrize(
    "body",
    [b"", b"[]", b"{", b"null", b'{"swatch": 3}', b"[" * 9999, b"\xff\xfe", json.dumps(words(swatch="r9c9")).encode(),
     json.dumps(words("x" * 3000)).encode(), json.dumps({**words(), "more": 1}).encode(),
     json.dumps({"field": "photo", "text": "x", "was": ""}).encode()],
)  # fmt: skip
def test_senseless_words_are_refused(server, body):
    before = server.studio.archive.card(1).edition
    status, facts = refused(post, server.address + "cards/1/words", body)
    assert status in {400, 409}
    assert facts["message"]
    assert server.studio.archive.card(1).edition == before


@pytest.mark.parametrize(
    "hints", [{"grid": [0, 3]}, {"grid": [3, 999]}, {"card": [[0, 0]]}, {"card": [[1e9, 0]] * 4}, {"quarters": 7},
              {"added": [[0, 0]] * 500}, {"rows": "x"}, {"unknown": 1}, {"added": [[float("nan"), 0]]}]
)  # fmt: skip
def test_senseless_hints_are_refused(server, hints):
    status, _ = refused(post, server.address + "cards/1/correct", {"edition": 1, "hints": hints})
    assert status == 400


def test_a_long_request_is_refused_before_it_is_read(server):
    """Half a gigabyte is said to come: the answer is there before a byte of it."""
    head = (
        f"POST /{server.door.token}/photos HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n"
        "Content-Type: multipart/form-data; boundary=x\r\nContent-Length: 524288000\r\n\r\n"
    )
    assert b" 413 " in raw_request(server.address, head.encode())


def test_a_long_request_that_hides_its_length_is_refused(server, monkeypatch):
    monkeypatch.setattr(door, "MAX_UPLOAD_BODY", 200_000)
    body, kind = form(("card.jpg", b"\xff\xd8\xff" + b"0" * 2_000_000))
    head = (
        f"POST /{server.door.token}/photos HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n"
        f"Content-Type: {kind}\r\nTransfer-Encoding: chunked\r\n\r\n"
    )
    chunks = b"".join(
        b"%x\r\n" % len(part) + part + b"\r\n" for part in (body[k : k + 50_000] for k in range(0, len(body), 50_000))
    )
    start = time.monotonic()
    try:
        answer = raw_request(server.address, head.encode() + chunks + b"0\r\n\r\n")
    except ConnectionError:
        answer = b" 413 "  # it was closed while the rest was still being sent
    assert b" 413 " in answer
    assert time.monotonic() - start < 6  # the connection does not stay open for the rest
    assert list(server.studio.inbox) == []
    assert get(server.address + "cards")[0] == 200


def test_long_words_are_refused(server):
    head = (
        f"POST /{server.door.token}/cards/1/words HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n"
        f"Content-Type: application/json\r\nContent-Length: {2 * 1024 * 1024}\r\n\r\n"
    )
    assert b" 413 " in raw_request(server.address, head.encode())


def test_a_request_that_never_comes_is_not_waited_for(server, monkeypatch):
    monkeypatch.setattr(serving, "SECONDS_FOR_HEAD", 0.5)
    start = time.monotonic()
    assert raw_request(server.address, b"GET / HTTP/1.1\r\nHost: ", timeout=8) == b""
    assert time.monotonic() - start < 6


def test_a_body_that_never_ends_is_not_waited_for(server, monkeypatch):
    monkeypatch.setattr(door, "SECONDS_PER_CHUNK", 0.5)
    head = (
        f"POST /{server.door.token}/photos HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\n"
        "Content-Type: multipart/form-data; boundary=x\r\nContent-Length: 1000\r\n\r\n--x\r\n"
    )
    assert b" 408 " in raw_request(server.address, head.encode(), timeout=8)


def test_many_slow_clients_do_not_keep_the_page_from_answering(server):
    slow = [socket.create_connection(("127.0.0.1", server.port)) for _ in range(60)]
    try:
        for one in slow:
            one.sendall(b"POST /x HTTP/1.1\r\nHost: x\r\nContent-Le")
        start = time.monotonic()
        assert get(server.address + "cards")[0] == 200
        assert time.monotonic() - start < 5
    finally:
        for one in slow:
            one.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
            one.close()


@pytest.mark.parametrize(
    "name", ["../../evil.jpg", "/etc/cron.d/evil", "..\\evil.jpg", "C:\\evil.jpg", "a\x1b[31m.jpg", "x" * 3000 + ".jpg"]
)
def test_a_photo_is_named_by_the_program(server, name):
    folder = server.studio.archive.photo_folder
    (taken,) = upload(server, (name.replace("\x1b", "%1B"), b"\xff\xd8\xff\xe0 no picture " + name[:9].encode()))
    assert settled(server, taken["id"])["failure"]["code"] == "photo_unreadable"
    assert {path.parent for path in folder.iterdir()} == {folder}
    assert "/" not in taken["name"]
    assert "\\" not in taken["name"]
    assert len(taken["name"]) <= 130
    assert all(path.name.split(".")[0] in {one.id for one in server.studio.inbox} for path in folder.iterdir())


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"<html><script>alert(1)</script>",
        b"<svg xmlns='http://www.w3.org/2000/svg'/>",
        b"MZ" + b"\0" * 99,
        b"%PDF-1.7",
        b"PK\3\4",
    ],
)
def test_what_is_no_photo_is_refused_before_it_is_kept(server, data):
    before = {path.name for path in server.studio.archive.photo_folder.glob("[!.]*")}
    (taken,) = upload(server, ("card.jpg", data))
    assert taken["state"] == "refused"
    assert taken["failure"]["remedy"]
    assert {path.name for path in server.studio.archive.photo_folder.glob("[!.]*")} == before


def test_texts_are_escaped(tmp_path):
    swatch = swatch_data(1, 1, (60, 15, 20), recipe=NASTY, writing=NASTY, munsell=NASTY, value_name=NASTY)
    info = dict.fromkeys(("title", "sitter", "date", "medium", "support", "note"), NASTY)
    with served(tmp_path / "a.sqlite") as server:
        server.studio.archive.add(build_note([swatch], info=info))
        for path in ("cards", "cards/1", "cards?words=%22%3E%3Cscript%3E"):
            text = page(server.address + path)
            assert "<script>alert" not in text
            assert "<img src=x" not in text


def test_a_phone_is_let_in_with_a_token_of_its_own_and_shut_out_again(tmp_path, monkeypatch):
    monkeypatch.setattr("swatchread.page.phone_door.home_address", lambda: "127.0.0.1")
    with served(tmp_path / "a.sqlite") as server:
        assert not server.studio.phone.is_open  # off until it is asked for
        address = post(server.address + "phone/open")["address"]
        assert server.door.token not in address
        assert post(server.address + "phone/open")["address"] == address
        assert get(address + "cards")[0] == 200
        # The phone can let nobody else in, and its token opens no other door, nor the other one its own.
        assert refused(get, address + "phone")[0] == 404
        assert refused(post, address + "phone/open")[0] == 404
        token = address.rstrip("/").rsplit("/", 1)[1]
        assert refused(get, f"http://127.0.0.1:{server.port}/{token}/cards")[0] == 404
        assert refused(get, address.replace(token, server.door.token) + "cards")[0] == 404
        assert refused(get, address + "cards", Host="evil.example")[0] == 403
        post(server.address + "phone/close")
        with pytest.raises(urllib.error.URLError):
            get(address + "cards")
        again = post(server.address + "phone/open")["address"]
        assert token not in again
        assert refused(get, again.replace(again.rstrip("/").rsplit("/", 1)[1], token) + "cards")[0] == 404


def test_a_phone_that_is_shut_out_gets_no_answer_on_a_connection_that_it_kept(tmp_path, monkeypatch):
    monkeypatch.setattr("swatchread.page.phone_door.home_address", lambda: "127.0.0.1")
    with served(tmp_path / "a.sqlite") as server:
        address = post(server.address + "phone/open")["address"]
        path = "/" + address.split("/", 3)[3] + "cards"
        kept = connection_to(address)
        kept.request("GET", path)
        assert kept.getresponse().read()
        post(server.address + "phone/close")
        try:
            kept.request("GET", path)
            assert kept.getresponse().status == 404
        except (ConnectionError, OSError):
            pass  # it was closed, which is as good
        kept.close()


def test_a_computer_in_no_network_says_so(tmp_path, monkeypatch):
    def unreachable(*_):
        raise OSError(101, "Network is unreachable")

    with served(tmp_path / "a.sqlite") as server:
        monkeypatch.setattr("socket.socket.connect", unreachable, raising=False)
        from swatchread.errors import UsageError
        from swatchread.page.phone_door import home_address

        with pytest.raises(UsageError, match="no network") as caught:
            home_address()
        assert caught.value.remedy
        monkeypatch.undo()
        assert get(server.address + "phone")[0] == 200
