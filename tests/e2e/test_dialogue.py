"""Which lights are on, then checks: by touch, by keys, undone, after a reload, and without a network."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from hands_on import (
    LAPTOP,
    NO_WAY,
    PHONE,
    REFUSED,
    find_the_fault,
    open_sample,
    page_of,
    plate,
    tab_to,
    title,
    untold,
)
from playwright.sync_api import Browser, Locator, Page, Route, expect

Check = Callable[[Page], None]


@contextmanager
def asked(browser: Browser, address: str, **device: Any) -> Iterator[Page]:
    """A phone on which a sample was opened whose first light is said to be dark, though nothing shows why."""
    with page_of(browser, address, excused=f"{NO_WAY}|{REFUSED}", **{**PHONE, **device}) as page:
        open_sample(page, "Snail")
        find_the_fault(page, seen="off")
        page.wait_for_selector("body.on-check")
        page.wait_for_function("() => location.hash.length > 20")  # a page loaded anew goes on here
        yield page


def noted(page: Page, count: int) -> None:
    expect(page.locator(".checked li")).to_have_count(count)


def test_by_touch_with_undo_and_reload(browser: Browser, address: str, check_layout: Check) -> None:
    with asked(browser, address, color_scheme="dark") as page:
        first = title(page).inner_text()
        assert "L1" in page.locator(".checking").inner_text()
        plates = page.locator(".checking + .answers .plate")
        assert plates.last.inner_text() == "I cannot tell" and 2 <= plates.count() <= 4
        assert "%" not in page.locator("#words").inner_text()
        assert page.locator(".suspects .peas").first.locator("circle").count() == 10
        check_layout(page)
        plates.nth(-2).tap()
        noted(page, 1)
        expect(page.locator("#spoken")).to_contain_text(title(page).inner_text())
        second = title(page).inner_text()
        assert second != first
        check_layout(page)
        page.reload()
        page.wait_for_selector("html[data-ready]")
        page.wait_for_selector("body.on-check")
        noted(page, 1)
        expect(title(page)).to_have_text(second)
        plate(page, "Undo the last answer").tap()
        noted(page, 0)
        expect(title(page)).to_have_text(first)
        if not first.startswith("Turn L1"):
            page.locator("#words").get_by_role("button", name="Turn L1 round").tap()
            expect(title(page)).to_contain_text("Turn L1 round")
        plate(page, "Every light is on").tap()
        noted(page, 1)
        expect(title(page)).to_have_text("L1 was in backwards.")
        assert page.locator(".plate.main").count() == 1
        check_layout(page)


def test_by_keys_the_new_question_has_the_focus(browser: Browser, address: str) -> None:
    with asked(browser, address, reduced_motion="reduce") as page:
        first = title(page).inner_text()
        page.locator(".checking + .answers .plate").nth(-2).focus()
        page.keyboard.press("Enter")
        noted(page, 1)
        expect(title(page)).to_be_focused()
        page.keyboard.press("Tab")
        expect(page.locator(".checking + .answers .plate").first).to_be_focused()
        plate(page, "Undo the last answer").focus()
        page.keyboard.press("Space")
        noted(page, 0)
        expect(title(page)).to_have_text(first)


def test_without_a_network_the_answer_is_kept_and_goes_by_itself(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with asked(browser, address) as page:
        page.context.set_offline(True)
        given = page.locator(".answers .plate").nth(1)
        given.tap()
        expect(page.locator("#words .note")).to_contain_text("kept here")
        expect(given).to_have_attribute("aria-pressed", "true")
        noted(page, 0)
        check_layout(page)
        page.context.set_offline(False)
        noted(page, 1)
        expect(page.locator("#words .note")).to_have_count(0)


def test_two_phones_are_told_of_each_other(browser: Browser, address: str) -> None:
    with asked(browser, address) as page:
        page.wait_for_selector("#picture .found .mark", state="attached")
        where = page.evaluate("performance.getEntriesByType('resource').map((one) => one.name)")
        case_id = next(one for one in where if "overlay.svg" in one).rpartition("/overlay.svg")[0]
        told = {"action": "press-in", "parts": ["pack"], "answer": "same"}
        assert page.request.post(f"{case_id}/checks?after=0", data=told).status == 201
        page.locator(".checking + .answers .plate").last.tap()
        expect(page.locator("#words .note")).to_contain_text("Another phone")
        noted(page, 1)
        expect(page.locator(".checked li")).to_have_text("Leads pressed in: no change")


def test_at_hint_level_ask_there_is_a_question_first(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with asked(browser, address) as page:
        page.evaluate("localStorage.setItem('doughsight-level', 'ask')")
        page.reload()
        page.wait_for_selector("html[data-ready]")
        page.wait_for_selector("body.on-check")
        assert title(page).inner_text().endswith("?")
        assert "L1" not in page.locator(".checking").inner_text()
        check_layout(page)
        plate(page, "Tell me what to do").tap()
        assert "L1" in page.locator(".checking").inner_text()


def test_what_was_found_may_be_long_on_its_way_after_a_reload(browser: Browser, address: str) -> None:
    def late(route: Route) -> None:
        page.wait_for_selector("body.on-waiting")
        route.continue_()

    with asked(browser, address) as page:
        first = title(page).inner_text()
        page.route(re.compile(r"/inspections/[^/]+$"), late)
        page.reload()
        page.wait_for_selector("html[data-ready]")
        page.wait_for_selector("body.on-check")
        expect(title(page)).to_have_text(first)


# ---------------------------------------------------------------- before the first check: which lights are on


@contextmanager
def lights_asked(browser: Browser, address: str, **device: Any) -> Iterator[Page]:
    """A sample of whose lights nothing was told, and that looks as it should: what helps is to ask."""
    with page_of(browser, address, **{**PHONE, **device}) as page:
        page.route("**/samples/snail", untold)
        open_sample(page, "Snail")
        find_the_fault(page)
        plate(page, "Check more").click()
        expect(title(page)).to_have_text("Which lights are on?")
        page.wait_for_function("() => location.hash.length > 20")  # a page loaded anew goes on here
        yield page


def look_of(page: Page, led: str, look: str) -> Locator:
    return page.get_by_role("group", name=re.compile(f"^{led} ")).get_by_role("button", name=look, exact=True)


def looks(page: Page) -> list[str]:
    """What has been told, as `L1 bright`."""
    return [str(one.get_attribute("data-key")) for one in page.locator("#words [aria-pressed=true]").all()]


def test_which_lights_are_on_is_told_by_touch_and_kept(
    browser: Browser, address: str, check_layout: Check, check_access: Check
) -> None:
    with lights_asked(browser, address, color_scheme="dark") as page:
        assert plate(page, "Undo").is_disabled()
        go_on = plate(page, "Go on")
        expect(go_on).to_have_attribute("aria-disabled", "true")
        go_on.tap(force=True)
        expect(page.locator("#spoken")).to_have_text("First say how one light looks.")
        assert page.locator("#picture .chosen").count() == 0
        look_of(page, "L2", "dim").tap()
        expect(page.locator("#picture .chosen")).to_have_count(2)  # behind its legs
        expect(go_on).to_have_attribute("aria-disabled", "false")
        look_of(page, "L1", "bright").tap()
        look_of(page, "L2", "off").tap()
        assert looks(page) == ["L1 bright", "L2 off"]
        check_layout(page)
        check_access(page)
        page.reload()
        page.wait_for_selector("html[data-ready]")
        expect(title(page)).to_have_text("Which lights are on?")
        assert looks(page) == ["L1 bright", "L2 off"]
        look_of(page, "L1", "bright").tap()  # a second tap takes it back
        assert looks(page) == ["L2 off"]
        with page.expect_request(lambda one: one.method == "POST" and "/inspections" in one.url) as asked:
            go_on.tap()
        told: Any = asked.value.post_data_json
        assert [led.get("seen") for led in told["leds"]] == [None, "off", None]
        page.wait_for_selector(".checking + .answers")
        expect(page.locator("#picture .found .light.off")).to_have_count(1)


def test_by_keys_the_rest_is_off_then_undone_then_all_on(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with lights_asked(browser, address, **LAPTOP, has_touch=False, is_mobile=False) as page:
        tab_to(page, look_of(page, "L1", "bright"))
        page.keyboard.press("ArrowDown")
        page.keyboard.press("ArrowRight")
        expect(look_of(page, "L2", "dim")).to_be_focused()
        page.keyboard.press("Space")
        assert looks(page) == ["L2 dim"]
        expect(look_of(page, "L2", "dim")).to_be_focused()
        tab_to(page, plate(page, "The rest is off"))
        page.keyboard.press("Enter")
        assert looks(page) == ["L1 off", "L2 dim", "L3 off"]
        expect(page.locator("#spoken")).to_have_text("L1 and L3 off")
        expect(plate(page, "Go on")).to_be_focused()
        check_layout(page)
        tab_to(page, plate(page, "Undo"), "Shift+Tab")
        page.keyboard.press("Enter")
        assert looks(page) == ["L2 dim"]
        page.keyboard.press("Enter")
        assert looks(page) == []
        assert plate(page, "Undo").is_disabled()
        tab_to(page, look_of(page, "L1", "bright"))
        for key in ("Space", "ArrowDown", "Space", "ArrowDown", "Space"):
            page.keyboard.press(key)
        assert plate(page, "The rest is off").is_disabled()
        tab_to(page, plate(page, "Go on"))
        page.keyboard.press("Enter")
        page.wait_for_selector("body.on-answer")
        expect(title(page)).to_have_text("Every light is on.")


def test_who_cannot_tell_which_lights_are_on_is_asked_to_check(browser: Browser, address: str) -> None:
    with lights_asked(browser, address) as page:
        plate(page, "I cannot tell").focus()
        page.keyboard.press("Enter")
        expect(page.locator(".checking + .answers .plate").last).to_have_text("I cannot tell")
        expect(title(page)).to_be_focused()
        expect(page.locator("#spoken")).to_have_text(title(page).inner_text())
        page.locator(".checking + .answers .plate").last.tap()
        noted(page, 1)
        plate(page, "Undo the last answer").tap()
        noted(page, 0)
        expect(title(page)).not_to_have_text("Which lights are on?")  # it is asked once
