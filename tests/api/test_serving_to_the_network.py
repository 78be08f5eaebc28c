"""`doughsight serve`: open to this machine only, unless it is told; what it prints; certificates."""

import io
import shutil
import socket
import ssl
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import httpx2
import pytest
import segno
import uvicorn
from fastapi import FastAPI

from api.app import create_app
from api.commands import serve
from api.door import Door, name_of, own_address
from api.errors import InputError
from api.exposure import FOR_PHONES, check_certificate, exposure
from api.routes.parts import Tools
from api.serving import told_to_serve
from api.settings import Settings


@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate for 127.0.0.1 and its key."""
    openssl = shutil.which("openssl")
    if openssl is None:
        pytest.skip("there is no openssl on the path to make a certificate with")
    folder = tmp_path_factory.mktemp("pair")
    certificate, key = folder / "certificate.pem", folder / "key.pem"
    kind = ["req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days", "2"]
    name = ["-subj", "/CN=127.0.0.1", "-addext", "subjectAltName=IP:127.0.0.1"]
    to = ["-keyout", key, "-out", certificate]
    subprocess.run([openssl, *kind, *name, *to], check=True, capture_output=True, timeout=60)
    return certificate, key


@contextmanager
def serving(folder: Path, tools: Tools, *pair: Path) -> Iterator[int]:
    """The app as `serve --network` serves it, on a free port of all addresses."""
    with closing(socket.create_server(("0.0.0.0", 0))) as door:
        port = int(door.getsockname()[1])
        app = create_app(Settings(data_dir=folder), tools, Door(network=True, port=port, https=bool(pair)))
        server = uvicorn.Server(told_to_serve(app, "0.0.0.0", port, *pair))
        thread = threading.Thread(target=server.run, kwargs={"sockets": [door]}, daemon=True)
        thread.start()
        until = time.monotonic() + 20
        while not server.started and time.monotonic() < until:
            time.sleep(0.01)
        assert server.started
        yield port
        server.should_exit = True
        thread.join(timeout=20)


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[uvicorn.Config]:
    """How the command would serve."""
    caught: list[uvicorn.Config] = []
    monkeypatch.setattr("api.serving.serve_app", caught.append)
    monkeypatch.setattr("api.logs.configure", lambda *_told: None)
    monkeypatch.setenv("DOUGHSIGHT_DATA_DIR", str(tmp_path))
    return caught


def test_only_this_machine_unless_it_is_told(
    told: list[uvicorn.Config], capsys: pytest.CaptureFixture[str]
) -> None:
    with closing(socket.create_server(("127.0.0.1", 0))) as free:
        port = int(free.getsockname()[1])
    serve(port=port)
    assert "Only this machine can open it" in capsys.readouterr().out
    serve(port=port, network=True)
    said = capsys.readouterr().out
    assert "Open to the network now" in said
    square = io.StringIO()
    segno.make(f"http://{own_address()}:{port}/rooms/join", micro=False).terminal(square, compact=True)
    before, after = said.split(square.getvalue())  # the join page, and not the owner's link
    assert before.splitlines()[-1] == FOR_PHONES
    assert after.splitlines() == ["Stop with Ctrl+C: no phone can reach it then."]
    assert [one.host for one in told] == ["127.0.0.1", "0.0.0.0"]
    for one in told:
        assert isinstance(one.app, FastAPI)
        one.app.state.parts.records.close()


def test_a_phone_of_the_network_is_no_owner_whatever_it_says(
    tmp_path: Path, tools: Tools, pair: tuple[Path, Path]
) -> None:
    trusted = ssl.create_default_context(cafile=str(pair[0]))
    address = own_address()
    with serving(tmp_path, tools, *pair) as port:
        here = f"https://127.0.0.1:{port}/here"
        assert httpx2.get(here, verify=trusted).json()["role"] == "owner"
        # A header makes nobody the laptop, whatever the server in front of the app thinks of such headers.
        for header in ({"x-forwarded-for": "127.0.0.1"}, {"forwarded": "for=127.0.0.1"}):
            assert httpx2.get(here, verify=trusted, headers=header).status_code == 401
        if address == "127.0.0.1":
            pytest.skip("this machine has no address on a network to be reached at")
        trusted.check_hostname = False
        far = f"https://{address}:{port}/here"
        for header in ({}, {"x-forwarded-for": "127.0.0.1"}):
            assert httpx2.get(far, verify=trusted, headers=header).status_code == 401
        assert httpx2.get(far, verify=trusted, headers={"host": "evil.example"}).status_code == 400


def test_what_is_open_is_said_before_it_is() -> None:
    said = "\n".join(exposure(Door(network=True, port=8737)))
    for words in (
        "port 8737",
        "all addresses",
        "helper's code",
        "bench's code",
        "Without a code",
        "not encrypted",
    ):
        assert words in said
    assert "Ctrl+C" in said
    assert said.count("/rooms/join#") == 1
    assert "not encrypted" not in "\n".join(exposure(Door(network=True, https=True)))
    assert len(exposure(Door())) == 3


def test_a_certificate_that_is_none_is_told_in_one_sentence(tmp_path: Path, pair: tuple[Path, Path]) -> None:
    certificate, key = pair
    assert check_certificate(None, None) is False
    assert check_certificate(certificate, key) is True
    no_pem, other = tmp_path / "no.pem", tmp_path / "other.pem"
    no_pem.write_text("nothing")
    make = ["openssl", "ecparam", "-name", "prime256v1", "-genkey", "-noout", "-out", other]
    subprocess.run(make, check=True, timeout=60)
    bad = [
        (certificate, None),
        (None, key),
        (certificate, no_pem),
        (no_pem, key),
        (key, certificate),
        (certificate, other),
        (tmp_path / "missing.pem", key),
        (tmp_path, key),
    ]
    for told in bad:
        with pytest.raises(InputError, match=r"^[^\n]+: give [^\n]+\.$"):
            check_certificate(*told)


@pytest.mark.parametrize(
    ("host", "name"),
    [
        ("127.0.0.1:8737", "127.0.0.1"),
        ("LocalHost", "localhost"),
        ("[::1]:1", "::1"),
        ("a@b", None),
        ("a/b", None),
        ("[::1", None),
        ("a:99999", None),
        ("a:b", None),
        ("", None),
        (None, None),
    ],
)
def test_names_in_host_headers(host: str | None, name: str | None) -> None:
    assert name_of(host) == name


def test_the_address_for_phones() -> None:
    door = Door(network=True, port=8737, hosts=(" Dough.example ", ""))
    assert door.address() == "http://dough.example:8737"
    assert (
        door.address("192.0.2.7:80") == "http://192.0.2.7:80"
    )  # as the owner calls it who is not at the laptop
    assert door.address("localhost:8737") == "http://dough.example:8737"
    assert Door(https=True).address() == "https://127.0.0.1:8737"
    assert Door(hosts=("2001:db8::7",)).address() == "http://[2001:db8::7]:8737"
