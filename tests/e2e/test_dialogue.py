"""The dialogue of checks on a phone: by touch, by keys, undone, after a reload, and without a network."""

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from hands_on import NO_WAY, PHONE, REFUSED, find_the_fault, open_sample, page_of, plate, title
from playwright.sync_api import Browser, Page, Route, expect

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
