"""Requests that look like something else: of the laptop, of our own page, of another path.

Numbers as in `test_access.py`.
"""

import re
from typing import Any

import pytest
from askers import Club, at_laptop, case_of, one_sentence, picture, wrong_code

from api.access import COOKIE
from api.app import create_app
from api.settings import Settings

# the laptop that serves is the owner: WSTG-ATHZ-02 bypassing the authorization schema


@pytest.mark.parametrize(
    "header",
    [
        {"x-forwarded-for": "127.0.0.1"},
        {"x-forwarded-host": "127.0.0.1"},
        {"x-real-ip": "127.0.0.1"},
        {"forwarded": "for=127.0.0.1"},
        {"x-client-ip": "127.0.0.1", "client-ip": "127.0.0.1", "true-client-ip": "127.0.0.1"},
        {"host": "127.0.0.1"},
        {"host": "localhost"},
    ],
)
def test_a_phone_that_says_it_is_the_laptop_is_not(club: Club, header: dict[str, str]) -> None:
    assert one_sentence(club.stranger().get("/here", headers=header), 401)


@pytest.mark.parametrize(
    "header",
    [
        {"x-forwarded-for": "192.0.2.40"},
        {"forwarded": "for=192.0.2.40"},
        {"via": "1.1 somebody"},
        {"x-real-ip": "192.0.2.40"},
    ],
)
def test_what_was_passed_on_does_not_come_from_the_laptop(club: Club, header: dict[str, str]) -> None:
    assert one_sentence(club.owner.get("/here", headers=header), 401)


def test_the_link_of_the_owner_lets_one_browser_in(club: Club) -> None:
    token = club.has.door.owner_path().split("#")[1]
    browser = club.stranger()
    one_sentence(browser.post("/join", json={"token": token[:-1]}), 403)
    assert browser.post("/join", json={"token": token}).json()["role"] == "owner"
    assert browser.get("/workshops").status_code == 200
    one_sentence(club.stranger().post("/join", json={"token": token}), 403)
    assert club.has.door.owner_path() == ""


def test_the_owners_cookie_ends_with_the_server(club: Club) -> None:
    browser = club.stranger()
    browser.post("/join", json={"token": club.has.door.owner_path().split("#")[1]})
    club.begin()  # with the door as it is after a new start
    assert one_sentence(browser.get("/here"), 401)


# WSTG-INPV-17 host header injection, and DNS rebinding


@pytest.mark.parametrize(
    "host",
    ["evil.example", "evil.example:80", "127.0.0.1.evil.example", "192.0.2.8", "a@127.0.0.1", "", "[::", "1"],
)
def test_a_name_that_is_not_ours_is_refused(club: Club, host: str) -> None:
    for asked in (club.owner, club.stranger()):
        assert one_sentence(asked.get("/here", headers={"host": host}), 400)


def test_the_machines_own_address_and_names_that_were_told_are_ours(tmp_path: Any, tools: Any) -> None:
    app = create_app(Settings(data_dir=tmp_path, hosts="dough.example, box.local"), tools)
    with at_laptop(app) as laptop:
        for host in ("dough.example", "BOX.local:8737"):
            assert laptop.get("/health", headers={"host": host}).status_code == 200
            one_sentence(laptop.get("/here", headers={"host": host}), 401)
            # Browsers heed it over https or from the machine itself only, and complain of it elsewhere.
            far, safe = (laptop.get(f"{scheme}://{host}/rooms/join").headers for scheme in ("http", "https"))
            assert "cross-origin-opener-policy" not in far and "content-security-policy" in far
            assert safe["cross-origin-opener-policy"] == "same-origin"
        assert laptop.get("/health", headers={"host": "[::1]:8737"}).status_code == 200


def test_the_link_is_never_made_of_a_name_that_somebody_sent(club: Club) -> None:
    answer = club.owner.post(
        f"/workshops/{club.here}/joins", json={"role": "helper"}, headers={"host": "evil.example"}
    )
    one_sentence(answer, 400)
    assert "evil" not in club.way_in("helper")["link"]


# WSTG-SESS-05 cross site request forgery; ASVS V4.2.2


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:8738"},
        {"origin": "http://127.0.0.1.evil.example"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "cross-site", "origin": "http://127.0.0.1"},
    ],
)
def test_another_site_changes_nothing(club: Club, headers: dict[str, str]) -> None:
    code = club.way_in("helper")["code"]
    kinds = [
        ("post", "/join"),
        ("delete", "/here"),
        ("post", "/workshops"),
        ("delete", f"/workshops/{club.here}"),
    ]
    for method, path in kinds:
        body = {"json": {"code": code}} if path == "/join" else {}
        one_sentence(getattr(club.owner, method)(path, headers=headers, **body), 403)
    assert club.owner.get(f"/workshops/{club.here}").status_code == 200


def test_a_form_of_another_kind_lets_nobody_in(club: Club) -> None:
    code = club.way_in("helper")["code"]
    for kind in ("application/x-www-form-urlencoded", "text/plain", "multipart/form-data; boundary=x"):
        answer = club.stranger().post(
            "/join", content=f'{{"code": "{code}"}}', headers={"content-type": kind}
        )
        assert one_sentence(answer, 422)


# WSTG-CLNT-07 cross origin resource sharing, WSTG-CLNT-09 clickjacking; ASVS V14.4, V14.5


def test_other_sites_may_neither_read_nor_frame(club: Club) -> None:
    origin = {"origin": "http://evil.example"}
    asked = [
        club.owner.get("/here", headers=origin),
        club.stranger().get("/rooms/join", headers=origin),
        club.stranger().get("/here", headers=origin),
        club.owner.options("/here", headers={**origin, "access-control-request-method": "DELETE"}),
    ]
    for answer in asked:
        assert not [name for name in answer.headers if name.startswith("access-control-")]
        assert "frame-ancestors 'none'" in answer.headers["content-security-policy"]
        assert answer.headers["cross-origin-resource-policy"] == "same-origin"
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "same-origin"


# WSTG-CONF-06 and WSTG-INPV-03 HTTP methods and verb tampering


@pytest.mark.parametrize("method", ["HEAD", "OPTIONS", "TRACE", "PATCH", "PROPFIND", "get", "FOO"])
def test_no_method_goes_round_the_door(club: Club, method: str) -> None:
    photo = club.things_of(club.owner)["photo_id"]
    for path in (f"/photos/{photo}", "/here", "/join/", "/rooms/join/x"):
        answer = club.stranger().request(method, path)
        assert answer.status_code == 401, (method, path)
    over = {"x-http-method-override": "GET", "x-original-url": f"/photos/{photo}"}
    told = club.stranger().post("/join?_method=GET", headers=over, json={"token": "x"})
    one_sentence(told, 403)


# WSTG-ATHZ-01 directory traversal; ASVS V12.3


@pytest.mark.parametrize(
    "path",
    [
        "/static/../secret.key",
        "/static/%2e%2e/secret.key",
        "/static/..%2f..%2fapi/app.py",
        "/static/....//app.py",
        "/static/%2fetc/passwd",
        "/static//etc/passwd",
        "/static/%5c..%5capp.py",
        "/static/js/%00app.js",
        "/static/" + "a" * 5000,
        "/static/../photos/x",
        "/static/%2e%2e/here",
    ],
)
def test_the_apps_own_files_lead_nowhere_else(club: Club, path: str) -> None:
    answer = club.stranger().get(path)
    assert answer.status_code in (401, 404), (path, answer.status_code)
    one_sentence(answer, answer.status_code)


def test_another_spelling_of_a_path_opens_nothing(club: Club) -> None:
    here = ("//here", "/Here", "/here/", "/./here")
    for path in (*here, "/rooms/join/../../here", "/join/../here", "/health/../here"):
        assert club.stranger().get(path, follow_redirects=False).status_code == 401, path


# WSTG-INPV-15 HTTP splitting, WSTG-CLNT-04 client side redirects


def test_names_bring_no_line_into_a_header_and_are_kept_short(club: Club) -> None:
    code = club.way_in("helper")["code"]
    told = club.stranger().post("/join", json={"code": code, "name": "blue\r\nset-cookie: a=b\u202e"})
    assert told.json()["name"] == "blue set-cookie: a=b"
    assert "a=b" not in told.headers["set-cookie"]
    one_sentence(club.stranger().post("/join", json={"code": code, "name": "x" * 25}), 422)


def test_a_name_is_never_part_of_a_page(club: Club) -> None:  # WSTG-INPV-02 stored cross site scripting
    bench = club.stranger()
    bench.post("/join", json={"code": club.way_in("bench")["code"], "name": "<b>x</b>"})
    assert bench.put("/here/bench", json={"bench": "</script><b>"}).status_code == 200
    for page in (bench.get("/rooms/help"), bench.get("/rooms/join"), bench.get("/")):
        assert page.status_code == 200
        assert "<b>" not in page.text


def test_nobody_chooses_where_the_page_goes_next(club: Club) -> None:
    code = club.way_in("helper")["code"]
    told = club.stranger().post("/join?go=http://evil.example&next=//evil.example", json={"code": code})
    assert told.json()["go"] == "rooms/queue"
    one_sentence(club.stranger().post("/join", json={"code": code, "go": "http://evil.example"}), 422)
    away = club.stranger().get(
        "//evil.example/%2e%2e", headers={"accept": "text/html"}, follow_redirects=False
    )
    assert re.fullmatch(r"(\.\./)*rooms/join", away.headers["location"])


# WSTG-INPV-20 mass assignment; ASVS V5.1.2


@pytest.mark.parametrize("field", [{"role": "owner"}, {"workshop": "x"}, {"expires": "2999-01-01"}])
def test_nobody_gives_themselves_a_role(club: Club, field: dict[str, str]) -> None:
    code = club.way_in("bench")["code"]
    assert one_sentence(club.stranger().post("/join", json={"code": code, **field}), 422)
    bench = club.phone("bench")
    assert one_sentence(bench.put("/here/bench", json={"bench": "3", **field}), 422)
    for role in ("owner", "stranger", ""):
        assert one_sentence(club.owner.post(f"/workshops/{club.here}/joins", json={"role": role}), 422)


# WSTG-ERRH-01 improper error handling; ASVS V7.4.1


def test_errors_tell_nothing_of_the_inside(club: Club) -> None:
    phone = club.phone("helper")
    asked = [
        phone.get("/photos/x"),
        phone.post("/inspections", content=b"{"),
        phone.post("/inspections", json={**case_of("x"), "palette": 3}),
        club.stranger().post("/join", content=b"\xff\xfe"),
        club.stranger().get("/here", headers={"cookie": "\x7f=\x01; ;;;"}),
    ]
    for answer in asked:
        one_sentence(answer, answer.status_code)
        assert 400 <= answer.status_code < 500
        for inside in ("Traceback", ".py", "sqlite", "SELECT", "api.", "pydantic", club.here):
            assert inside not in answer.text
        assert "server" not in answer.headers


# WSTG-ATHN-06 browser cache weaknesses; ASVS V8.2.1


def test_what_is_private_stays_in_no_cache(club: Club) -> None:
    phone = club.phone("bench", bench="3")
    things = phone.post("/photos", files={"photo": picture()}).json()["id"]
    case = phone.post("/inspections", json=case_of(things)).json()["id"]
    for path in (f"/photos/{things}", f"/inspections/{case}", f"/inspections/{case}/picture.png", "/here"):
        assert phone.get(path).headers["cache-control"] == "private, no-store"
    assert club.stranger().get("/static/js/words.js").headers["cache-control"] == "no-cache"


# House: codes and links are kept nowhere, and the key is for one account only


def test_neither_codes_nor_links_nor_addresses_are_written_down(club: Club) -> None:
    way = club.way_in("helper")
    phone = club.stranger("192.0.2.99")
    phone.post("/join", json={"code": way["code"]})
    phone.post("/join", json={"code": wrong_code(club)})
    folder = club.has.settings.data_dir
    written = b"".join(file.read_bytes() for file in folder.rglob("*") if file.is_file())
    assert way["id"].encode() in written
    for secret in (way["link"].split("#")[1], "192.0.2.99", phone.cookies[COOKIE]):
        assert secret.encode() not in written
    assert not re.search(rb"(?<!\d)" + way["code"].encode() + rb"(?!\d)", written)
    assert (folder / "secret.key").stat().st_mode & 0o777 == 0o600
