"""What if: by a thumb, a mouse and keys alone; hazards, no network, and keeping what was tried."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import hands_on
import pytest
from hands_on import (
    LAPTOP,
    NO_WAY,
    PATIENCE_MS,
    PHONE,
    REFUSED,
    case_of,
    drag,
    page_of,
    report_of,
    tab_to,
    title,
    touch,
)
from playwright.sync_api import Browser, Locator, Page, expect

Link = Callable[[str], str]


@pytest.fixture(scope="module")
def link(browser: Browser, address: str) -> Iterator[Callable[[str], str]]:
    """The address of a sample that was looked at once for all tests, and kept as a draft."""
    context = browser.new_context()
    ids: dict[str, str] = {}

    def ask(where: str, told: dict[str, Any] | None = None) -> dict[str, Any]:
        answer: dict[str, Any] = context.request.post(f"{address}/{where}", data=told or {}).json()
        return answer

    def of(sample: str) -> str:
        if sample not in ids:
            loaded = ask(f"samples/{sample}")
            told, photo = loaded["case"], loaded["photo"]["id"]
            keys = ("id", "colour", "long_leg", "short_leg")
            job = {
                "palette": [{key: one[key] for key in ("name", "role", "taps")} for one in told["palette"]],
                "plus": told["pack"]["plus"],
                "minus": told["pack"]["minus"],
                "leds": [{key: led[key] for key in keys if key in led} for led in told["leds"]],
                "base": told,
            }
            found = ask("inspections", told)["id"]
            ids[sample] = ask("drafts", {"photo": photo, "job": job, "inspection": found})["id"]
        return f"{address}/#{ids[sample]}"

    yield of
    context.close()


@contextmanager
def trying(browser: Browser, where: str, device: dict[str, Any], **more: Any) -> Iterator[Page]:
    """The screen, opened for a draft."""
    asked = {**device, "reduced_motion": "reduce", **more}
    with page_of(browser, where, excused=f"{NO_WAY}|{REFUSED}", **asked) as page:
        page.wait_for_selector("body.on-answer")
        plate(page, "What if").click()
        page.wait_for_selector("body.on-what-if")
        settled(page)
        yield page


def plate(page: Page, name: str) -> Locator:
    """Not the mark of that name on the picture."""
    return hands_on.plate(page.locator("#words, #foot"), name)


def settled(page: Page) -> None:
    """The answer is about what is tried now."""
    expect(page.locator("#words .lights")).to_be_visible()
    expect(page.locator("#words .waits")).to_have_count(0, timeout=PATIENCE_MS)


def light(page: Page, led: str) -> Locator:
    return page.locator("#words .lights li").filter(has_text=led)


def over(page: Page, led: str) -> Locator:
    """The sign in the mark over the body of an LED."""
    return page.locator(f"#picture [data-key='{led}'] use")


def middle(led: dict[str, Any]) -> list[float]:
    return [(a + b) / 2 for a, b in zip(led["long_leg"], led["short_leg"], strict=True)]


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_by_thumb_the_lights_change(
    browser: Browser,
    link: Link,
    scheme: str,
    check_layout: Callable[[Page], None],
    check_access: Callable[[Page], None],
    keep_picture: Callable[[Page, str], None],
) -> None:
    """The owl has L2 in backwards, so it is the one that is chosen."""
    with trying(browser, link("owl"), PHONE, color_scheme=scheme) as page:
        expect(title(page)).to_have_text("What would happen?")
        expect(over(page, "L2")).to_have_attribute("href", "#led-off")
        plate(page, "Turn").tap()
        settled(page)
        expect(light(page, "L2")).to_have_class("changed chosen")
        expect(light(page, "L2")).to_contain_text("will light")
        expect(over(page, "L2")).to_have_attribute("href", "#led-bright")
        expect(title(page)).to_contain_text("L2 lights.")
        expect(page.locator("#spoken")).to_contain_text("L2 lights.")
        page.locator("#picture [data-key='L1'] .light").tap()
        plate(page, "Pull out").tap()
        settled(page)
        expect(over(page, "L1")).to_have_attribute("href", "#led-out")
        expect(light(page, "L1")).to_contain_text("is out")
        expect(page.locator(".tried li")).to_have_text(["L2 turned", "L1 out"])
        check_layout(page)
        keep_picture(page, f"what-if-phone-{scheme}")
        plate(page, "Put back").tap()
        plate(page, "Undo").tap()
        plate(page, "Undo").tap()
        plate(page, "Undo").tap()
        settled(page)
        expect(over(page, "L2")).to_have_attribute("href", "#led-off")
        expect(title(page)).to_have_text("What would happen?")
        plate(page, "Redo").tap()
        settled(page)
        expect(over(page, "L2")).to_have_attribute("href", "#led-bright")
        for tool in ("Move", "Cut", "Cells"):
            plate(page, tool).tap()
            check_layout(page)
        check_access(page)
        plate(page, "Start over").tap()
        settled(page)
        expect(page.locator(".tried li")).to_have_count(0)
        expect(plate(page, "Redo")).to_be_enabled()


def test_a_lead_in_the_other_lump_is_a_hazard_and_is_not_kept(browser: Browser, link: Link) -> None:
    case = case_of("snail")
    with trying(browser, link("snail"), PHONE) as page:
        plate(page, "Move").tap()
        plate(page, "red lead").tap()
        minus = case["pack"]["minus"]
        touch(page, (minus[0] - 90, minus[1]))
        settled(page)
        expect(page.locator("#alarm")).to_have_text("Both leads are in one lump. Do not build it so.")
        expect(plate(page, "Keep this")).to_have_attribute("aria-disabled", "true")
        plate(page, "Undo").tap()
        settled(page)
        expect(page.locator("#alarm")).to_be_hidden()


def test_a_leg_is_dragged_off_the_dough(browser: Browser, link: Link) -> None:
    case = case_of("snail")
    with trying(browser, link("snail"), LAPTOP) as page:
        led = case["leds"][1]
        drag(page, led["short_leg"], [200, 900])
        settled(page)
        expect(page.locator("#words .note")).to_have_text(f"The short leg of {led['id']} misses the dough.")
        expect(page.locator("#picture .missed")).to_have_count(1)
        expect(over(page, led["id"])).to_have_attribute("href", "#led-off")


def test_a_cut_is_drawn_and_the_short_is_gone(
    browser: Browser, link: Link, keep_picture: Callable[[Page, str], None]
) -> None:
    """The newt has dough round the end of its wall; the cut that its report names undoes that."""
    found = report_of("newt")["findings"][0]
    (x0, y0), (x1, y1) = found["cut"]
    ends = [[x0 + (x0 - x1) * 0.1, y0 + (y0 - y1) * 0.1], [x1 + (x1 - x0) * 0.1, y1 + (y1 - y0) * 0.1]]
    with trying(browser, link("newt"), LAPTOP) as page:
        expect(page.locator("#alarm")).to_have_text("Stop. Unplug the pack first.")
        plate(page, "Cut").click()
        drag(page, ends[0], ends[1], steps=8)
        settled(page)
        expect(page.locator("#alarm")).to_be_hidden()
        expect(page.locator(".tried li")).to_have_text(["cut"])
        assert page.locator("#picture .blade").count() == 1
        assert "#led-bright" in [
            over(page, led["id"]).get_attribute("href") for led in case_of("newt")["leds"]
        ]
        keep_picture(page, "what-if-laptop")


def test_keys_alone_do_all_of_it(browser: Browser, link: Link) -> None:
    with trying(browser, link("owl"), LAPTOP) as page:
        tab_to(page, light(page, "L1").locator("button"))
        page.keyboard.press("Enter")
        tab_to(page, plate(page, "Turn"))
        page.keyboard.press("Space")
        settled(page)
        expect(over(page, "L1")).to_have_attribute("href", "#led-off")
        tab_to(page, plate(page, "Cells"))
        page.keyboard.press("Enter")
        tab_to(page, plate(page, "One cell less"))
        page.keyboard.press("Enter")
        settled(page)
        expect(page.locator(".tried li")).to_have_text(["L1 turned", "3 cells"])
        tab_to(page, plate(page, "Move"), "Shift+Tab")
        page.keyboard.press("Enter")
        tab_to(page, plate(page, "L1 short"))
        page.keyboard.press("Enter")
        expect(page.locator("#picture")).to_be_focused()
        for _ in range(3):
            page.keyboard.press("Shift+ArrowRight")
        page.keyboard.press("Enter")
        settled(page)
        expect(page.locator(".tried li").last).to_have_text("L1 short moved")
        tab_to(page, plate(page, "Cut"))
        page.keyboard.press("Enter")
        tab_to(page, page.locator("#picture"), "Shift+Tab")
        page.keyboard.press("ArrowLeft")
        page.keyboard.press("Enter")
        for _ in range(25):  # the wall goes down the middle: from there into the dough on the right
            page.keyboard.press("Shift+ArrowRight")
        page.keyboard.press("Enter")
        page.keyboard.press("Enter")
        settled(page)
        expect(page.locator(".tried li").last).to_have_text("cut")
        plate(page, "Cut").press("Enter")
        tab_to(page, page.locator("#picture [data-key='L3']"), "Shift+Tab")
        page.keyboard.press("Delete")
        settled(page)
        expect(page.locator(".tried li").last).to_have_text("L3 out")


def test_without_a_network_the_changes_are_kept_and_tried_again(browser: Browser, link: Link) -> None:
    with trying(browser, link("owl"), PHONE) as page:
        page.context.set_offline(True)
        plate(page, "Turn").tap()
        expect(page.locator("#words .note")).to_contain_text("No way to the laptop.")
        expect(page.locator(".tried li")).to_have_text(["L2 turned"])
        expect(over(page, "L2")).to_have_attribute("href", "#led-off")
        page.context.set_offline(False)
        settled(page)
        expect(over(page, "L2")).to_have_attribute("href", "#led-bright")
        expect(page.locator("#words .note")).to_have_count(0)


def test_what_cannot_be_done_is_taken_back(browser: Browser, link: Link) -> None:
    with trying(browser, link("snail"), LAPTOP) as page:
        plate(page, "Cut").click()
        drag(page, [200, 900], [260, 900], steps=3)
        expect(page.locator("#words .note")).to_contain_text("The cut meets no conductive dough")
        expect(page.locator(".tried li")).to_have_count(0)
        settled(page)


def test_what_was_tried_becomes_the_case(browser: Browser, link: Link) -> None:
    """The owl's L2 turned: the next answer finds every light on."""
    with trying(browser, link("owl"), PHONE) as page:
        plate(page, "Turn").tap()
        settled(page)
        with page.expect_request(lambda one: one.method == "POST" and "/inspections?" in one.url) as asked:
            plate(page, "Keep this").tap()
        before = {led["id"]: led for led in case_of("owl")["leds"]}
        sent = {led["id"]: led for led in asked.value.post_data_json["leds"]}
        assert sent["L2"]["long_leg"] == before["L2"]["short_leg"]
        assert sent["L1"]["long_leg"] == before["L1"]["long_leg"]
        page.wait_for_selector("body.on-answer")
        expect(light(page, "L2")).to_contain_text("bright")
        plate(page, "What if").tap()
        settled(page)
        expect(page.locator(".tried li")).to_have_count(0)
