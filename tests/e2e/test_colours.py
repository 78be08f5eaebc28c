"""Colours, size and corrections by thumb and keys; the doughs of the day; doughs that look alike."""

import math
import re
from collections.abc import Callable, Sequence
from itertools import pairwise

import pytest
from hands_on import (
    LAPTOP,
    PATIENCE_MS,
    PHONE,
    REFUSED,
    case_of,
    open_sample,
    outlined,
    page_of,
    plate,
    spot,
    touch,
)
from playwright.sync_api import Browser, Page, expect

import sample_images

Check = Callable[[Page], None]

CASE = case_of("owl")
PHOTO = sample_images.sample_path("owl.jpg")
# Areas of all outlines in px; compared roughly, because the photo is not always laid on the same grid: what
# is smaller than the difference that is let pass may be there or not.
AREAS = """() => [...document.querySelectorAll("#picture path.core")]
  .map((one) => one.getAttribute("d")).filter((d) => d.endsWith("Z"))
  .map((d) => d.slice(1, -1).split("L").map((p) => p.split(" ").map(Number)))
  .map((line) => Math.abs(line.reduce((sum, p, i) => {
    const q = line[(i + 1) % line.length];
    return sum + p[0] * q[1] - q[0] * p[1];
  }, 0)) / 2).filter((area) => area > 300).sort((a, b) => a - b)"""
ALIKE = f"""(wanted) => {{
  const now = ({AREAS})();
  const near = (area, i) => Math.abs(area - wanted[i]) < 0.02 * area + 300;
  return now.length === wanted.length && now.every(near);
}}"""


@pytest.fixture
def check_layout(check_layout: Check) -> Check:
    """And one main plate."""

    def check(page: Page) -> None:
        check_layout(page)
        assert page.locator(".plate.main").count() == 1

    return check


def owl(page: Page) -> None:
    """The sample, with its outlines."""
    open_sample(page, "Owl")
    outlined(page)


def tap_doughs(page: Page) -> None:
    """The doughs and the table of the case, by thumb; what is proposed as a role is right here."""
    for i, dough in enumerate(CASE["palette"]):
        if i:
            plate(page, "Add dough").tap()
        for tap in dough["taps"]:
            before = page.locator("#picture .disc").count()
            touch(page, tap)
            expect(page.locator("#picture .disc")).to_have_count(before + 1)


def outlines_other_than(page: Page, before: list[float]) -> list[float]:
    """The outlines, once they have changed."""
    page.wait_for_function(f"(before) => !({ALIKE})(before)", arg=before)
    return list(page.evaluate(AREAS))


def wait_for_outlines(page: Page, wanted: list[float]) -> None:
    page.wait_for_function(ALIKE, arg=wanted)


def finger(page: Page, line: Sequence[Sequence[float]]) -> None:
    """One finger along a line of photo points."""
    hand = page.context.new_cdp_session(page)
    steps = [
        (a[0] + (b[0] - a[0]) * t / 6, a[1] + (b[1] - a[1]) * t / 6)
        for a, b in pairwise(line)
        for t in range(7)
    ]
    for i, at in enumerate(steps):
        x, y = spot(page, at)
        kind = "touchStart" if i == 0 else "touchMove"
        hand.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
    hand.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    hand.detach()


def test_roles_are_proposed_and_one_tap_says_which_dough_conducts(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with page_of(browser, address, **PHONE) as page:
        page.locator("#camera").set_input_files(PHOTO)
        page.wait_for_selector("body.on-colours")
        for i, dough in enumerate(CASE["palette"][:2]):
            if i:
                plate(page, "Add dough").tap()
            touch(page, dough["taps"][0])
            expect(page.locator(".dough")).to_have_count(i + 1)
        roles = page.locator(".dough .tab[aria-pressed=true]")
        expect(roles).to_have_text(["conductive", "insulating"])
        expect(page.locator("#words .intro")).to_contain_text("which dough carries current")
        page.locator(".dough").nth(1).get_by_role("button", name="conductive", exact=True).tap()
        expect(roles).to_have_text(["insulating", "conductive"])
        check_layout(page)


def test_the_doughs_of_the_day_are_proposed_on_the_next_photo(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with page_of(browser, address, **PHONE) as page:
        page.locator("#camera").set_input_files(PHOTO)
        page.wait_for_selector("body.on-colours")
        tap_doughs(page)
        plate(page, "Entries").tap()
        page.wait_for_selector("body.on-entries")
        names = page.evaluate("JSON.parse(localStorage.getItem('doughsight-doughs')).map((one) => one.name)")
        assert len(names) == 3

        page.locator("#camera").set_input_files(PHOTO)
        page.wait_for_selector("body.on-colours")
        page.wait_for_selector("#picture .proposed", state="attached")
        expect(page.get_by_role("heading", level=1)).to_have_text("Are these your doughs?")
        assert [one.input_value() for one in page.locator(".dough input").all()] == names
        page.wait_for_selector("#picture .core", state="attached")
        check_layout(page)
        ghosts = page.locator("#picture .proposed").count()
        assert ghosts >= 6

        touch(page, CASE["palette"][0]["taps"][0])  # a tap corrects: it stands in place of what was found
        expect(page.locator("#picture .mark:not(.proposed) .disc")).to_have_count(1)
        assert page.locator("#picture .proposed").count() < ghosts
        left = page.locator("#picture .proposed").count()
        plate(page, "These are right").tap()
        expect(page.locator("#picture .proposed")).to_have_count(0)
        expect(page.locator("#picture .disc")).to_have_count(1 + left)
        expect(plate(page, "Entries")).to_be_visible()

        plate(page, "Forget them").tap()
        expect(plate(page, "Forget them")).to_have_count(0)
        page.locator("#camera").set_input_files(PHOTO)
        page.wait_for_function("document.querySelectorAll('.dough').length === 0")


def test_doughs_that_look_alike_are_joined_by_a_bracket(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with page_of(browser, address, **PHONE) as page:
        page.locator("#camera").set_input_files(PHOTO)
        page.wait_for_selector("body.on-colours")
        first = CASE["palette"][0]["taps"][0]
        second = first[0] - 12, first[1] + 12
        touch(page, first)
        expect(page.locator(".dough")).to_have_count(1)
        plate(page, "Add dough").tap()
        touch(page, second)  # the same dough again
        expect(page.locator(".dough")).to_have_count(2)
        # The sentence is there at once, and stays when the server has answered.
        words = page.locator(".note.joined")
        expect(words).to_contain_text(re.compile(r"The camera cannot tell 1 \w+ from 2 \w+ here\."))
        page.wait_for_function("() => document.querySelector('#picture .core')")
        expect(words).to_have_count(1)
        assert page.locator(".note.joined .level.watch").count() == 1
        expect(page.locator(".dough.joined")).to_have_count(2)
        check_layout(page)
        plate(page, "Remove").tap()
        expect(page.locator(".joined")).to_have_count(0)


def test_strokes_cuts_and_joins_change_the_outlines_and_undo_gives_them_back(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with page_of(browser, address, **PHONE) as page:
        owl(page)
        plate(page, "Correct the edges").click()
        page.wait_for_selector("body.on-correct")
        check_layout(page)
        seen = [page.evaluate(AREAS)]
        wall = CASE["palette"][1]["taps"]
        (x0, y0), (x1, _) = wall[0], CASE["palette"][0]["taps"][0]
        side = math.copysign(abs(x1 - x0), x1 - x0)
        for tool, line in (
            ("Paint", [CASE["palette"][0]["taps"][0], CASE["palette"][0]["taps"][2]]),
            ("Cut", [(x0, y0 + abs(side)), (x0 + 6 * side, y0 + abs(side))]),
            ("Join", [(x0 - side, y0 + 120), (x0 + side, y0 + 120)]),
        ):
            plate(page, tool).tap()
            if tool == "Paint":
                page.locator(".paint").nth(1).tap()
                plate(page, "8\u00a0mm").tap()
            finger(page, line)
            seen.append(outlines_other_than(page, seen[-1]))
        assert page.locator("#picture .brush").count() == 1
        assert page.locator("#picture .blade").count() == 2
        for before in reversed(seen[:-1]):
            plate(page, "Undo").tap()
            wait_for_outlines(page, before)
        assert page.locator("#picture .brush, #picture .blade").count() == 0
        plate(page, "Redo").tap()
        wait_for_outlines(page, seen[1])
        plate(page, "Done").tap()
        page.wait_for_selector("body.on-colours")
        wait_for_outlines(page, seen[1])


def test_keys_alone_draw_a_cut(browser: Browser, address: str) -> None:
    with page_of(browser, address, **LAPTOP) as page:
        owl(page)
        plate(page, "Correct the edges").focus()
        page.keyboard.press("Enter")
        page.wait_for_selector("body.on-correct")
        before = page.evaluate(AREAS)
        plate(page, "Cut").focus()
        page.keyboard.press("Enter")
        page.locator("#picture").focus()
        for _ in range(40):
            page.keyboard.press("Shift+ArrowLeft")
        page.keyboard.press("Enter")
        expect(page.get_by_role("status").first).to_contain_text("The line begins here.")
        for _ in range(80):
            page.keyboard.press("Shift+ArrowRight")
        assert page.locator("#picture .blade").count() == 1  # it is shown while it is drawn
        page.keyboard.press("Enter")
        page.keyboard.press("Enter")
        outlines_other_than(page, before)
        assert page.locator("#picture .blade").count() == 1
        page.keyboard.press("Enter")
        page.keyboard.press("ArrowDown")
        page.keyboard.press("Escape")  # the second line is dropped
        assert page.locator("#picture .blade").count() == 1
        plate(page, "Undo").focus()
        page.keyboard.press("Enter")
        wait_for_outlines(page, before)


def test_the_size_is_told_back_in_words_or_refused_in_those_of_the_server(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with page_of(browser, address, excused=REFUSED, **PHONE) as page:
        owl(page)
        page.locator(".size-rows").get_by_role("button", name="Change").click()
        page.wait_for_selector("body.on-size")
        note = page.locator("#words .note")
        (x, y), _ = CASE["scale"]["points"]
        for kind, mm, told in (
            ("Coin", "23", "Size: a coin, 23\u00a0mm across."),
            ("Two places", "80", "Size: 80\u00a0mm between your two taps."),
            ("Bank card", None, "Size: a card, by its long edge."),
        ):
            plate(page, kind).tap()
            for i in range(2):
                touch(page, (x, y + 500 * i))
            if mm is not None:
                page.locator("#mm").fill(mm)
                page.locator("#mm").press("Enter")
            expect(note).to_contain_text(told)
            check_layout(page)
        expect(note).to_contain_text(re.compile("The photo is about [0-9]+.cm wide"), timeout=PATIENCE_MS)
        plate(page, "Printed mat").tap()
        expect(note).to_contain_text("No mat can be seen", timeout=PATIENCE_MS)
        plate(page, "Two places").tap()
        for i in range(2):
            touch(page, (x, y + 500 * i))
        page.locator("#mm").fill("99999")
        page.locator("#mm").press("Enter")
        expect(note).to_contain_text("mm per pixel, outside", timeout=PATIENCE_MS)
