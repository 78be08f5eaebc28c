"""Strangers: what two OWASP lists have tried, a test each.

The Web Security Testing Guide 4.2 (WSTG) and the Application Security Verification Standard 4.0.3 (ASVS);
their numbers stand beside the tests, from memory. 'House' marks what is a rule of this project alone.
"""

import json
import re
import time
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from askers import ADDRESS, Club, one_sentence, wrong_code
from itsdangerous import Signer

from api.access import COOKIE, OPEN
from api.records.joins import Joins

# WSTG-ATHN-04 bypassing the authentication schema; ASVS V4.1.1


def test_without_a_code_nothing_can_be_read_or_written(club: Club) -> None:
    owner = club.things_of(club.owner)
    stranger = club.stranger()
    asked = 0
    for path, methods in json.loads(club.owner.get("/openapi.json").text)["paths"].items():
        where = path.format_map({**dict.fromkeys(re.findall(r"{(\w+)}", path), club.here), **owner})
        for method in methods:
            if method.upper() in OPEN.get(path, ()):
                continue
            answer = stranger.request(method, where, json={})
            assert "code" in one_sentence(answer, 401), (method, path)
            asked += 1
    assert asked > 40


def test_a_stranger_does_not_learn_which_pages_there_are(club: Club) -> None:
    for path in ("/", "/openapi.json", "/rooms/queue", "/rooms/workshops", "/nowhere", "/docs"):
        assert one_sentence(club.stranger().get(path), 401)


def test_a_browser_without_a_code_is_led_to_where_it_is_told(club: Club) -> None:
    for path, to in (("/", "rooms/join"), ("/rooms/queue", "../rooms/join")):
        answer = club.stranger().get(path, headers={"accept": "text/html"}, follow_redirects=False)
        assert (answer.status_code, answer.headers["location"]) == (303, to)
        assert answer.text == ""


def test_what_the_page_of_the_code_needs_is_open_and_tells_nothing(club: Club) -> None:
    stranger = club.stranger()
    page = stranger.get("/rooms/join")
    assert page.status_code == 200
    assert "Zinnia" not in page.text
    for path in re.findall(r'(?:src|href)="\.\./([^"]+)"', page.text):
        assert stranger.get(f"/{path}").status_code == 200, path
    assert set(stranger.get("/health").json()) == {"status"}


# WSTG-ATHN-03 weak lock out mechanism; ASVS V2.2.1


def test_ten_wrong_codes_and_the_right_one_waits(club: Club) -> None:
    right, wrong = club.way_in("helper")["code"], wrong_code(club)
    phone = club.stranger()
    for _ in range(10):
        one_sentence(phone.post("/join", json={"code": wrong}), 403)
    late = phone.post("/join", json={"code": right})
    assert str(int(late.headers["retry-after"])) in one_sentence(late, 429)
    assert 0 < int(late.headers["retry-after"]) <= 300
    assert "set-cookie" not in late.headers
    # Another address, such as that of the next helper, is not slowed.
    assert club.stranger("192.0.2.41").post("/join", json={"code": right}).status_code == 200


def test_many_wrong_codes_at_once_count_each(club: Club) -> None:
    wrong = wrong_code(club)
    phones = [club.stranger() for _ in range(30)]
    with ThreadPoolExecutor(12) as pool:
        told = list(pool.map(lambda one: one.post("/join", json={"code": wrong}).status_code, phones))
    assert sorted(told) == [403] * 10 + [429] * 20


def test_from_all_addresses_together_sixty_wrong_codes_are_too_many(club: Club) -> None:
    way, wrong = club.way_in("helper"), wrong_code(club)
    for n in range(60):
        assert club.stranger(f"192.0.2.{50 + n % 30}").post("/join", json={"code": wrong}).status_code == 403
    one_sentence(club.stranger("192.0.2.41").post("/join", json={"code": way["code"]}), 429)
    # The link cannot be guessed, so it is not slowed.
    token = way["link"].split("#")[1]
    assert club.stranger("192.0.2.41").post("/join", json={"token": token}).status_code == 200


def test_addresses_of_one_network_count_as_one(club: Club) -> None:
    wrong = wrong_code(club)
    told = [
        club.stranger(f"2001:db8::{n}").post("/join", json={"code": wrong}).status_code for n in range(11)
    ]
    assert told == [403] * 10 + [429]


def test_wrong_links_shut_out_nobody_else(club: Club) -> None:
    code = club.way_in("helper")["code"]
    for n in range(70):
        club.stranger(f"192.0.2.{50 + n % 30}").post("/join", json={"token": "x" * 22})
    assert club.stranger("192.0.2.41").post("/join", json={"code": code}).status_code == 200


@pytest.mark.parametrize(
    ("told", "status"),
    [
        ({}, 422),
        ({"code": "12345"}, 422),
        ({"code": "1234567"}, 422),
        ({"code": "12a456"}, 422),
        ({"code": "123456", "token": "x"}, 422),
        ({"code": 123456}, 422),
        ({"code": ["123456"]}, 422),
        ({"code": {"$ne": ""}}, 422),  # WSTG-INPV-05.6, NoSQL injection
        ({"code": "' OR 1=1--"}, 422),  # WSTG-INPV-05, SQL injection
        ({"token": "' OR 1=1--"}, 403),
        ({"token": ""}, 403),
        ({"token": "\u0000"}, 403),
        ({"token": "é" * 20}, 403),
    ],
)
def test_what_is_no_code_lets_nobody_in(club: Club, told: dict[str, Any], status: int) -> None:
    club.way_in("helper")
    answer = club.stranger().post("/join", json=told)
    one_sentence(answer, status)
    assert "set-cookie" not in answer.headers


def test_strangers_are_not_listened_to_for_long(club: Club) -> None:
    long = {"code": "1" * 5000}
    one_sentence(club.stranger().post("/join", json=long), 413)
    piecemeal = (b"[" * 100 for _ in range(100))
    one_sentence(club.stranger().post("/join", content=piecemeal), 413)
    deep = club.stranger().post("/join", content=b"[" * 4000, headers={"content-type": "application/json"})
    assert deep.status_code in (400, 422)


def test_codes_may_be_typed_with_spaces_and_in_other_digits(club: Club) -> None:
    code = club.way_in("helper")["code"]
    arabic = "".join(chr(0x0660 + int(one)) for one in code)  # Unicode, ARABIC-INDIC DIGIT ZERO and on
    for told in (f" {code[:3]} {code[3:]} ", arabic):
        assert club.stranger().post("/join", json={"code": told}).json()["role"] == "helper"


# WSTG-SESS-01 session management schema; ASVS V3.2


@pytest.mark.parametrize(
    "change",
    [
        lambda value: value[:-1] + ("A" if value[-1] != "A" else "Q"),  # B would decode to the same bytes
        lambda value: "x" + value[1:],
        lambda value: value.split(".")[0],
        lambda value: value + "." + value,
        lambda value: value.split(".")[0] + ".",
        lambda value: Signer(b"another key", "doughsight device").sign(value.split(".")[0]).decode(),
        lambda value: "owner." + value,
        lambda value: "",
        lambda value: "a" * 5000,
        lambda value: "%00" + value,
    ],
)
def test_a_forged_cookie_is_none(club: Club, change: Any) -> None:
    phone = club.phone("helper")
    value = change(phone.cookies[COOKIE])
    assert phone.get("/here").status_code == 200
    one_sentence(club.stranger().get("/here", headers={"cookie": f"{COOKIE}={value}"}), 401)


def test_a_cookie_of_another_data_folder_is_none(club: Club) -> None:
    theirs = type(club.has.ticket)(b"k" * 32)
    phone = club.phone("helper")
    device = phone.cookies[COOKIE].split(".")[0]
    assert club.has.ticket.read(f"{COOKIE}={theirs.signed(device)}") is None
    one_sentence(club.stranger().get("/here", headers={"cookie": f"{COOKIE}={theirs.signed(device)}"}), 401)


def test_a_signed_name_of_no_device_is_nobody(club: Club) -> None:
    for name in ("nobody", "owner.", "owner.x", ""):
        cookie = f"{COOKIE}={club.has.ticket.signed(name)}"
        assert one_sentence(club.stranger().get("/here", headers={"cookie": cookie}), 401)


# WSTG-SESS-02 cookies attributes; ASVS V3.4


def test_the_cookie_is_for_this_server_only_and_for_as_long_as_the_code(club: Club) -> None:
    code = club.way_in("bench", hours=2)["code"]
    told = club.stranger().post("/join", json={"code": code}).headers["set-cookie"]
    parts = {one.strip().split("=")[0].lower(): one.strip().partition("=")[2] for one in told.split(";")[1:]}
    assert set(parts) == {"httponly", "samesite", "path", "max-age"}
    assert (parts["samesite"], parts["path"]) == ("lax", "/")
    assert 7190 <= int(parts["max-age"]) <= 7200


def test_over_https_the_cookie_is_never_sent_in_the_clear(club: Club) -> None:
    phone = club.stranger()
    phone.base_url = ADDRESS.replace("http:", "https:")
    told = phone.post("/join", json={"code": club.way_in("helper")["code"]}).headers["set-cookie"]
    assert "; secure" in told.lower()


# WSTG-SESS-03 session fixation; ASVS V3.2.1


def test_joining_gives_a_new_cookie_and_ends_the_old_one(club: Club) -> None:
    phone = club.phone("bench")
    before = phone.cookies[COOKIE]
    assert phone.post("/join", json={"code": club.way_in("helper")["code"]}).json()["role"] == "helper"
    assert phone.cookies[COOKIE] != before
    one_sentence(club.stranger().get("/here", headers={"cookie": f"{COOKIE}={before}"}), 401)


def test_a_cookie_that_somebody_chose_is_not_taken_over(club: Club) -> None:
    phone = club.stranger()
    phone.cookies.set(COOKIE, "chosen-by-someone-else")
    phone.post("/join", json={"code": club.way_in("helper")["code"]})
    assert "chosen" not in str(phone.post("/join", json={"code": club.way_in("bench")["code"]}).headers)


# WSTG-SESS-06 logout functionality, WSTG-SESS-07 session timeout; ASVS V3.3


def test_who_leaves_is_out_everywhere(club: Club) -> None:
    phone = club.phone("helper")
    cookie = phone.cookies[COOKIE]
    gone = phone.delete("/here")
    assert gone.status_code == 204
    assert "max-age=0" in gone.headers["set-cookie"].lower()
    one_sentence(club.stranger().get("/here", headers={"cookie": f"{COOKIE}={cookie}"}), 401)
    assert club.has.records.joins.devices(club.here) == ()


def test_after_its_time_a_code_lets_nobody_in_and_everybody_out(club: Club) -> None:
    way = club.way_in("helper", hours=0.3 / 3600)
    phone = club.stranger()
    assert phone.post("/join", json={"code": way["code"]}).status_code == 200
    time.sleep(0.35)
    one_sentence(phone.get("/here"), 401)
    one_sentence(club.stranger().post("/join", json={"code": way["code"]}), 403)
    one_sentence(club.stranger().post("/join", json={"token": way["link"].split("#")[1]}), 403)


def test_a_phone_that_is_put_out_is_out_at_its_next_request(club: Club) -> None:
    out, still = club.phone("helper"), club.phone("helper")
    assert out.get("/here").status_code == 200
    device = out.cookies[COOKIE].split(".")[0]
    assert club.owner.delete(f"/workshops/{club.here}/devices/{device}").status_code == 204
    one_sentence(out.get("/here"), 401)
    assert still.get("/here").status_code == 200


def test_a_phone_put_out_by_another_way_is_out_within_a_second(club: Club) -> None:
    phone = club.phone("helper")
    device = phone.cookies[COOKIE].split(".")[0]
    assert phone.get("/here").status_code == 200
    elsewhere = Joins(club.has.records.joins._engine, b"k" * 32)
    elsewhere.revoke_device(club.here, device)
    until = time.monotonic() + 1
    while phone.get("/here").status_code == 200 and time.monotonic() < until:
        time.sleep(0.02)
    one_sentence(phone.get("/here"), 401)


def test_taking_a_code_back_puts_out_all_who_came_by_it(club: Club) -> None:
    way = club.way_in("bench")
    one, other = club.stranger(), club.phone("bench")
    one.post("/join", json={"code": way["code"]})
    assert club.owner.delete(f"/workshops/{club.here}/joins/{way['id']}").status_code == 204
    one_sentence(one.get("/here"), 401)
    one_sentence(club.stranger().post("/join", json={"code": way["code"]}), 403)
    assert other.get("/here").status_code == 200
    assert way["id"] not in {each["id"] for each in club.owner.get(f"/workshops/{club.here}/joins").json()}


def test_with_its_workshop_a_phone_goes(club: Club) -> None:
    phone = club.phone("helper")
    assert club.owner.delete(f"/workshops/{club.here}").status_code == 204
    time.sleep(0.31)
    one_sentence(phone.get("/here"), 401)
