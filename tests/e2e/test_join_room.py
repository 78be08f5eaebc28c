"""Phones come in, by a code that is typed or pasted or by a link, and leave again; all of it is looked at."""

from collections.abc import Callable
from typing import Any

import pytest
from hands_on import LAPTOP, PHONE, REFUSED, open_sample, plate, title, watched
from playwright.sync_api import Browser, Page, expect

# What came by way of another machine is not the laptop's own, though the browser stands on it.
FROM_AFAR = {"X-Forwarded-For": "192.0.2.40"}
DEVICES: list[tuple[str, dict[str, Any], str]] = [
    ("phone", PHONE, "bright"),
    ("phone", PHONE, "dim"),
    ("laptop", LAPTOP, "bright"),
    ("laptop", LAPTOP, "dim"),
]


@pytest.fixture
def look(
    check_access: Callable[[Page], None],
    check_layout: Callable[[Page], None],
    keep_picture: Callable[[Page, str], None],
) -> Callable[[Page, str], None]:
    def at(page: Page, name: str) -> None:
        keep_picture(page, name)
        check_layout(page)
        check_access(page)

    return at


@pytest.fixture
def ways(browser: Browser, address: str) -> dict[str, Any]:
    """A workshop with a way in for each role."""
    with watched(browser.new_context(), address) as context:
        told = {"name": "Tuesday club", "day": "2026-11-24"}
        workshop = context.request.post(f"{address}/workshops", data=told).json()["id"]
        where = f"{address}/workshops/{workshop}/joins"
        return {role: context.request.post(where, data={"role": role}).json() for role in ("helper", "bench")}


def ready(page: Page, address: str) -> Page:
    page.goto(address)
    page.wait_for_selector("html[data-ready]")
    return page


def wrong(ways: dict[str, Any]) -> str:
    return next(code for code in ("111111", "222222", "333333") if code not in str(ways))


def paste(page: Page, text: str) -> None:
    page.locator("#code").evaluate(
        """(field, text) => {
          field.focus(); field.value = text;
          field.dispatchEvent(new InputEvent("input", { bubbles: true, inputType: "insertFromPaste" }));
        }""",
        text,
    )


def test_a_helpers_phone_comes_in_by_its_code_and_leaves(
    browser: Browser, address: str, ways: dict[str, Any], look: Callable[[Page, str], None]
) -> None:
    told = {**PHONE, "extra_http_headers": FROM_AFAR}
    with watched(browser.new_context(**told), address, excused=REFUSED) as context:
        page = ready(context.new_page(), f"{address}/")
        expect(page).to_have_url(f"{address}/rooms/join")
        expect(title(page)).to_have_text("Type in the six digits.")
        page.get_by_label("Code").press_sequentially("12345")
        page.keyboard.press("Enter")
        expect(page.locator("#code-said")).to_have_text("A code has six digits.")
        page.get_by_label("Code").fill(wrong(ways))
        plate(page, "Join").click()
        expect(page.locator("#code-said")).to_contain_text("not open here")
        expect(page.get_by_label("Code")).to_be_focused()
        look(page, "join-refused-phone")
        code = ways["helper"]["code"]
        paste(page, f" {code[:3]} {code[3:]}\n")
        expect(page.get_by_label("Code")).to_have_value(f"{code[:3]} {code[3:]}")
        page.get_by_label("Name of this device").fill("blue phone")
        plate(page, "Join").click()
        page.wait_for_url(f"{address}/rooms/queue")
        assert context.request.get(f"{address}/here", headers=FROM_AFAR).json()["name"] == "blue phone"

        ready(page, f"{address}/rooms/join")
        expect(title(page)).to_have_text("This device is blue phone.")
        look(page, "join-here-phone")
        page.evaluate(
            """async () => {
              const { keep, keepPhoto } = await import("/static/js/keep.js");
              await Promise.all([keepPhoto({ id: "a" }), keep({ screen: "start" })]);
              localStorage.setItem("doughsight-benches-a", '["Owl"]');
            }"""
        )
        plate(page, "Leave").click()
        expect(title(page)).to_have_text("Type in the six digits.")
        left = page.evaluate(
            """async () => {
              const { kept } = await import("/static/js/keep.js");
              return [Boolean(await kept()), Object.keys(localStorage)];
            }"""
        )
        assert left == [False, []], "a borrowed device keeps no photo and no name"
        assert context.request.get(f"{address}/here", headers=FROM_AFAR).status == 401
        assert "doughsight-here" not in {one.get("name") for one in context.cookies()}


def test_a_link_lets_in_by_itself_and_leaves_no_trace(
    browser: Browser, address: str, ways: dict[str, Any]
) -> None:
    told = {**PHONE, "extra_http_headers": FROM_AFAR}
    with watched(browser.new_context(**told), address) as context:
        asked: list[str] = []
        context.on("request", lambda request: asked.append(request.url))
        page = context.new_page()
        token = ways["bench"]["link"].split("#")[1]
        page.goto(f"{address}/rooms/join#{token}")
        page.wait_for_url(f"{address}/rooms/help")
        assert not [url for url in asked if token in url.split("#")[0]]
        page.go_back()  # to where the page was before the link
        assert token not in page.url
        [cookie] = [one for one in context.cookies() if one.get("name") == "doughsight-here"]
        assert cookie.get("httpOnly")
        assert cookie.get("sameSite") == "Lax"
        assert token not in str(cookie)


def test_a_bench_is_offered_no_samples(browser: Browser, address: str, ways: dict[str, Any]) -> None:
    told = {**PHONE, "extra_http_headers": FROM_AFAR}
    with watched(browser.new_context(**told), address) as context:
        page = context.new_page()
        page.goto(f"{address}/rooms/join#{ways['bench']['link'].split('#')[1]}")
        page.wait_for_url(f"{address}/rooms/help")
        page.goto(f"{address}/")
        expect(page.get_by_role("link", name="I need help")).to_be_visible()
        expect(plate(page, "Choose a photo")).to_be_visible()
        expect(plate(page, "Try a sample")).to_have_count(0)


def test_who_is_put_out_on_the_bench_page_is_asked_for_a_code(
    browser: Browser, address: str, ways: dict[str, Any]
) -> None:
    told = {**PHONE, "extra_http_headers": FROM_AFAR}
    with watched(browser.new_context(**told), address, excused=REFUSED) as context:
        page = context.new_page()
        page.goto(f"{address}/rooms/join#{ways['helper']['link'].split('#')[1]}")
        page.wait_for_url(f"{address}/rooms/queue")
        page.goto(f"{address}/")
        open_sample(page, "Newt")
        page.wait_for_url(f"{address}/#*")
        here = {**FROM_AFAR, "origin": address}
        assert context.request.delete(f"{address}/here", headers=here).status == 204
        page.wait_for_url(f"{address}/rooms/join")
        kept = "async () => Boolean(await (await import('/static/js/keep.js')).kept())"
        assert page.evaluate(kept) is False


def test_a_link_that_is_over_asks_for_a_code(browser: Browser, address: str) -> None:
    told = {**PHONE, "extra_http_headers": FROM_AFAR}
    with watched(browser.new_context(**told), address, excused=REFUSED) as context:
        page = ready(context.new_page(), f"{address}/rooms/join#{'x' * 22}")
        expect(page.locator("#code-said")).to_contain_text("not open any more")
        assert page.url == f"{address}/rooms/join"


@pytest.mark.parametrize(("size", "device", "theme"), DEVICES)
def test_the_room_is_looked_at_in_both_sizes_and_themes(
    browser: Browser, address: str, look: Callable[[Page, str], None], size: str, device: Any, theme: str
) -> None:
    scheme: Any = "dark" if theme == "dim" else "light"
    told = {**device, "extra_http_headers": FROM_AFAR, "color_scheme": scheme}
    with watched(browser.new_context(**told), address, excused=REFUSED) as context:
        page = ready(context.new_page(), f"{address}/rooms/join")
        expect(page.locator("#code")).to_be_visible()
        page.get_by_label("Code").press_sequentially("123456")
        look(page, f"join-{size}-{theme}")


def test_the_laptop_is_told_that_it_needs_no_code(browser: Browser, address: str) -> None:
    with watched(browser.new_context(**LAPTOP), address) as context:
        page = ready(context.new_page(), f"{address}/rooms/join")
        expect(title(page)).to_contain_text("needs no code")
