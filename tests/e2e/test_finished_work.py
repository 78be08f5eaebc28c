"""From an inspection of a sample to its slide in the gallery; every screen on the way is looked at."""

from collections.abc import Callable
from typing import Any

import pytest
from hands_on import LAPTOP, PHONE, plate, title, watched
from playwright.sync_api import APIRequestContext, Browser, BrowserContext, Page, expect

# An image within an SVG does not say whether it is there; what it was fetched with does.
SEEN = """() => [...document.querySelectorAll("svg image")].every((one) => {
  const href = one.getAttribute("href");
  return href && (href.startsWith("blob:")
    || performance.getEntriesByName(new URL(href, location)).some((entry) => entry.responseEnd > 0));
}) && [...document.images].every((one) => one.complete)"""
SIZES = {"phone": PHONE, "laptop": LAPTOP}
WALL: Any = {"width": 1920, "height": 1080}
WORKSHOP = {
    "name": "Tuesday club",
    "day": "2026-11-24",
    "challenge": {
        "title": "Night animals",
        "rules": [
            {"rule": "lights-lit", "at_least": 3},
            {"rule": "dough-volume", "dough": "plum", "at_most_cm3": 60},
            {"rule": "time-limit", "minutes": 45},
        ],
    },
}


def sent(asked: APIRequestContext, path: str, body: object | None = None) -> dict[str, Any]:
    answer = asked.post(path, data=body)
    assert answer.ok, answer.text()
    told: dict[str, Any] = answer.json()
    return told


def another(asked: APIRequestContext, address: str, workshop: str) -> None:
    """A finished sculpture at another bench."""
    one = sent(asked, f"{address}/workshops/{workshop}/sculptures", {"bench": "8"})["id"]
    case = sent(asked, f"{address}/samples/owl")["case"]
    for answer in (
        asked.put(f"{address}/sculptures/{one}/photos/{case['photo']}"),
        asked.post(f"{address}/inspections", data=case),
        asked.put(f"{address}/sculptures/{one}?after=1", data={"title": "Day owl", "finished": True}),
    ):
        assert answer.ok, answer.text()


def built(asked: APIRequestContext, address: str) -> tuple[str, str]:
    """The owl with L2 the wrong way round, and again with its legs changed over: two inspections."""
    inspections = []
    for turned in (False, True):
        case = sent(asked, f"{address}/samples/owl")["case"]
        if turned:
            led = next(led for led in case["leds"] if led["id"] == "L2")
            led.update(long_leg=led["short_leg"], short_leg=led["long_leg"], seen="bright")
        inspections.append(sent(asked, f"{address}/inspections", case)["id"])
    return inspections[0], inspections[1]


@pytest.fixture
def look(
    check_access: Callable[[Page], None],
    check_layout: Callable[[Page], None],
    keep_picture: Callable[[Page, str], None],
) -> Callable[[Page, str], None]:
    def at(page: Page, name: str) -> None:
        page.wait_for_function(SEEN)
        keep_picture(page, name)
        check_layout(page)
        if "laptop" not in name:  # a laptop shows the same parts in other places
            check_access(page)

    return at


def swipe(page: Page) -> None:
    box = page.locator(".slide-photo").bounding_box()
    assert box is not None
    y = box["y"] + box["height"] / 2
    page.mouse.move(box["x"] + 250, y)
    page.mouse.down()
    page.mouse.move(box["x"] + 80, y + 5, steps=3)
    page.mouse.up()


def room(context: BrowserContext, address: str) -> Page:
    page = context.new_page()
    page.goto(address)
    page.wait_for_selector("html[data-ready]")
    return page


def test_from_an_inspection_to_the_gallery(
    browser: Browser, address: str, look: Callable[[Page, str], None]
) -> None:
    with watched(browser.new_context(**PHONE, reduced_motion="reduce"), address) as context:
        workshop = sent(context.request, f"{address}/workshops", WORKSHOP)["id"]
        before, after = built(context.request, address)

        page = room(context, f"{address}/rooms/finish?case={after}&before={before}")
        look(page, "finish-bench-phone-bright")
        page.get_by_label("Bench number or nickname").fill("7")
        plate(page, "Go on").click()

        page.get_by_label("What is it called?").fill("Night owl")
        page.get_by_label("Who made it?").fill("Moth Smith")
        expect(page.locator("#maker-warning")).not_to_be_empty()
        page.get_by_label("Who made it?").fill("Moth")
        expect(page.locator("#maker-warning")).to_be_empty()
        learned = page.get_by_label("What I learned to look for")
        expect(learned).to_have_value(
            "A light lets electricity through one way only. Its long leg goes to the red side."
        )
        learned.fill("I look for the long leg.")
        plate(page, "Photo alone").click()
        expect(page.locator(".work-photo .marks")).to_have_count(0)
        plate(page, "With marks").click()
        look(page, "finish-phone-bright")
        plate(page, "Finish").click()
        page.get_by_role("link", name="For the parents").wait_for()
        expect(page.get_by_role("heading", name="3 of 3 lights are on")).to_be_visible()
        expect(page.locator(".criteria .good")).to_have_count(2)
        sculpture = page.url.split("sculpture=")[1]

        # Its bench had asked: that it is solved, and what it was, is one tap from here.
        call = sent(context.request, f"{address}/workshops/{workshop}/calls", {"bench": "7"})
        sent(context.request, f"{address}/calls/{call['id']}/take?after=1")
        page.reload()
        expect(page.locator("#solved")).to_have_text("SolvedLED backwards")
        look(page, "finish-solved-phone-bright")
        page.locator("#solved").click()
        expect(page.locator("#solved")).to_have_count(0)
        assert context.request.get(f"{address}/workshops/{workshop}/queue").json()["calls"] == []

        page.get_by_role("link", name="Gallery").click()
        expect(title(page)).to_have_text("Night owl")
        expect(page.get_by_text("by Moth")).to_be_visible()
        plate(page, "Before").click()
        expect(page.locator(".work-lights li").nth(1)).to_contain_text("off")
        another(context.request, address, workshop)
        page.reload()
        expect(title(page)).to_have_text("Night owl")
        for step in ("ArrowRight", "ArrowRight", "ArrowLeft", "swipe"):
            before = title(page).inner_text()
            swipe(page) if step == "swipe" else page.keyboard.press(step)
            expect(title(page)).not_to_have_text(before)
        expect(title(page)).to_have_text("Night owl")
        page.set_viewport_size(WALL)
        page.reload()
        expect(page.locator(".work-photo .marks")).to_have_count(1)
        look(page, "gallery-wall-bright")
        page.goto(f"{address}/rooms/finish?sculpture={sculpture}#choose")
        page.set_viewport_size(PHONE["viewport"])
        expect(page.locator(".looks li")).to_have_count(2)
        look(page, "finish-choose-phone-bright")

    for size, device in SIZES.items():
        for scheme, theme in (("light", "bright"), ("dark", "dim")):
            how: Any = {**device, "color_scheme": scheme, "reduced_motion": "reduce"}
            with watched(browser.new_context(**how), address) as context:
                page = room(context, f"{address}/rooms/finish?sculpture={sculpture}")
                look(page, f"finish-done-{size}-{theme}")
                page.goto(f"{address}/rooms/gallery?workshop={workshop}")
                page.wait_for_selector(".slide")
                look(page, f"gallery-{size}-{theme}")

    with watched(browser.new_context(**LAPTOP), address) as context:
        page = room(context, f"{address}/rooms/gallery?workshop={workshop}")
        page.wait_for_selector(".slide")
        plate(page, "More").click()
        plate(page, "Show one after another").click()
        plate(page, "Stop here").click()
        expect(plate(page, "Stop here")).to_have_count(0)
        page.goto(f"{address}/rooms/finish?sculpture={sculpture}")
        plate(page, "More").click()
        plate(page, "Delete this sculpture").click()
        plate(page, "Delete it now").click()
        expect(title(page)).to_have_text("Day owl")
