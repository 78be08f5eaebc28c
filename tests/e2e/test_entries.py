"""The picture and its entries: two fingers, keys, ghosts, legs that miss, other parts."""

import math
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import pairwise
from typing import Any

import pytest
from hands_on import (
    LAPTOP,
    PHONE,
    case_of,
    drag,
    open_sample,
    outlined,
    page_of,
    plate,
    report_of,
    spot,
    title,
    touch,
)
from laptop import Laptop
from playwright.sync_api import Browser, Page, Route, expect

Check = Callable[[Page], None]

CASE, REPORT = case_of("owl"), report_of("owl")

IN_PHOTO = """([x, y]) => {
  const seen = document.querySelector("#picture image").getScreenCTM();
  const p = new DOMPoint(x, y).matrixTransform(seen.inverse());
  return [p.x, p.y];
}"""
TURN_DEG = """() => {
  const m = document.querySelector("#picture image").getScreenCTM();
  return Math.atan2(m.b, m.a) * 180 / Math.PI;
}"""
TILTS_DEG = """() => [...document.querySelectorAll("#picture .mark text")].map((one) => {
  const m = one.getScreenCTM();
  return Math.abs(Math.atan2(m.b, m.a) * 180 / Math.PI);
})"""
LOUPE = """() => {
  const rim = document.querySelector("#picture .glass .rim-paper").getBoundingClientRect();
  const stage = document.getElementById("picture").getBoundingClientRect();
  return [rim.left + rim.width / 2 - stage.left, rim.top + rim.height / 2 - stage.top, rim.width];
}"""


@contextmanager
def entries(browser: Browser, address: str, told: bool = True, **device: Any) -> Iterator[Page]:
    """The owl, its doughs tapped; without `told` no entry yet. Fails on an error in the console."""
    with page_of(browser, address, reduced_motion="reduce", **device) as page:
        if told:  # its outlines are known already; what is untold is looked for by the real eyes
            page.route("**/preview", lambda route: route.fulfill(json=REPORT))
        else:
            page.route("**/samples/owl", bare)
        open_sample(page, "Owl")
        outlined(page)
        plate(page, "Entries").click()
        page.wait_for_selector("body.on-entries")
        yield page


def bare(route: Route) -> None:
    """The sample as somebody finds it who has told the doughs only."""
    answer = route.fetch()
    body = answer.json()
    for name in ("leds", "pack"):
        body["case"].pop(name)
    route.fulfill(response=answer, json=body)


def place(page: Page, key: str) -> tuple[float, float]:
    """Where an entry is on the photo."""
    mark = page.locator(f"#picture [data-key='{key}']")
    return float(mark.get_attribute("data-x") or 0), float(mark.get_attribute("data-y") or 0)


def fingers(page: Page, *steps: tuple[tuple[float, float], tuple[float, float]]) -> None:
    """Two fingers go from step to step."""
    hand = page.context.new_cdp_session(page)
    for n, (first, second) in enumerate(steps):
        points = [{"x": x, "y": y, "id": i} for i, (x, y) in enumerate((first, second))]
        hand.send(
            "Input.dispatchTouchEvent", {"type": "touchMove" if n else "touchStart", "touchPoints": points}
        )
    hand.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def turning(
    middle: tuple[float, float], degrees: float, factor: float = 1.0
) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    """Two fingers 100 px apart that turn clockwise about their middle, and go apart."""
    steps = []
    for n in range(9):
        half, angle = 50 * (1 + (factor - 1) * n / 8), math.radians(degrees * n / 8)
        dx, dy = half * math.cos(angle), half * math.sin(angle)
        steps.append(((middle[0] - dx, middle[1] - dy), (middle[0] + dx, middle[1] + dy)))
    return steps


def test_two_fingers_pinch_and_twist_and_all_words_stay_upright(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with entries(browser, address, **PHONE) as page:
        middle = (170.0, 200.0)
        steps = turning(middle, 33, 1.6)
        before = [page.evaluate(IN_PHOTO, list(at)) for at in steps[0]]
        fingers(page, *steps)
        after = [page.evaluate(IN_PHOTO, list(at)) for at in steps[-1]]
        for was, now in zip(before, after, strict=True):
            assert math.dist(was, now) < 2  # photo px; a CSS px is more than 2 of them here
        assert page.evaluate(TURN_DEG) == pytest.approx(33, abs=0.5)
        assert max(page.evaluate(TILTS_DEG)) < 0.1
        # A twist that ends near a quarter becomes one, about the middle of the fingers.
        held = page.evaluate(IN_PHOTO, list(middle))
        fingers(page, *turning(middle, 52))
        assert page.evaluate(TURN_DEG) == pytest.approx(90, abs=1e-6)
        assert math.dist(held, page.evaluate(IN_PHOTO, list(middle))) < 2
        # A finger drags a mark to where it points, whichever way round the photo is.
        x, y = spot(page, CASE["pack"]["plus"])
        key = "plus"
        finger = page.context.new_cdp_session(page)
        for kind, at in (
            ("touchStart", (x, y)),
            ("touchMove", (x + 8, y - 4)),
            ("touchMove", (x + 14, y - 6)),
        ):
            finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": at[0], "y": at[1]}]})
        across = page.evaluate(LOUPE)
        assert across[2] == pytest.approx(150, abs=1)  # 148 and its rim of paper
        assert math.dist(across[:2], (x + 14, y - 6 - 60)) > 74
        assert math.dist(spot(page, place(page, key)), (x + 14, y - 6)) < 1  # it follows the finger
        finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        assert math.dist(spot(page, place(page, key)), (x + 14, y - 6)) < 1
        plate(page, "Undo").tap()
        assert place(page, key) == tuple(CASE["pack"]["plus"])
        plate(page, "Redo").tap()
        assert place(page, key) != tuple(CASE["pack"]["plus"])
        # All of it by a double tap beside the marks, where no tap is asked for.
        near = page.evaluate("() => document.getElementById('picture').viewBox.baseVal.width")
        for _ in range(2):
            page.touchscreen.tap(20, 80)
        page.wait_for_function(
            "(w) => document.getElementById('picture').viewBox.baseVal.width > w", arg=near
        )
        check_layout(page)


def test_the_answer_is_drawn_for_the_box_that_is_seen(browser: Browser, address: str) -> None:
    with entries(browser, address, **PHONE) as page:
        plate(page, "Turn the picture").tap()
        assert page.evaluate(TURN_DEG) == pytest.approx(90, abs=1e-6)
        with page.expect_response("**/overlay.svg*") as drawn:
            plate(page, "Find the fault").tap()
            page.wait_for_selector("body.on-answer")
        page.wait_for_selector("#picture .found .mark", state="attached")
        # The mark of the finding lies at the end of its thread.
        found = drawn.value.request.url.split("/inspections/")[1].split("/")[0]
        report = page.request.get(f"{address}/inspections/{found}").json()["report"]
        page.locator("#picture").focus()
        with page.expect_request("**/overlay.svg*") as again:
            page.keyboard.press("]")
        assert again.value.response()
        asked = dict(pair.split("=") for pair in again.value.url.split("?")[1].split("&"))
        left, top, right, bottom = (float(v) for v in asked["frame"].replace("%2C", ",").split(","))
        assert page.evaluate(TURN_DEG) == pytest.approx(180, abs=1e-6)
        stage = page.locator("#picture").bounding_box()
        assert stage
        upper = page.evaluate(IN_PHOTO, [stage["x"], stage["y"]])  # upside down: the foot of the photo's box
        assert (right, bottom) == pytest.approx(tuple(upper), abs=0.5)
        knot = page.locator("#thread .knot")
        end = float(knot.get_attribute("cx") or 0), float(knot.get_attribute("cy") or 0)
        assert math.dist(end, spot(page, report["findings"][0]["at"])) < 1
        assert left < right
        assert top < bottom


def test_keys_alone_turn_choose_nudge_and_take_off(browser: Browser, address: str) -> None:
    with entries(browser, address, **LAPTOP) as page:
        page.locator("#picture").focus()
        page.keyboard.press("[")
        assert page.evaluate(TURN_DEG) == pytest.approx(-90, abs=1e-6)
        page.keyboard.press("+")
        near = page.evaluate("() => document.getElementById('picture').viewBox.baseVal.width")
        page.keyboard.press("0")
        page.wait_for_function(
            "(w) => document.getElementById('picture').viewBox.baseVal.width > w", arg=near
        )
        page.keyboard.press("Tab")
        assert page.evaluate("document.activeElement.dataset.key") == "plus"
        assert page.locator("#picture .glass image").count() == 1
        was = spot(page, place(page, "plus"))
        before = place(page, "plus")
        page.keyboard.press("ArrowRight")
        page.keyboard.press("Shift+ArrowDown")
        now = place(page, "plus")
        assert math.dist(before, now) == pytest.approx(math.hypot(1, 10), abs=0.05)
        moved = spot(page, now)
        assert moved[0] > was[0]  # to the right and down as it is seen, though the photo is turned
        assert moved[1] > was[1]
        assert page.evaluate("document.activeElement.dataset.key") == "plus"
        assert page.locator("#picture .glass image").count() == 1
        page.keyboard.press("Delete")
        expect(title(page)).to_have_text("Tap the red lead.")
        assert page.locator("#picture [data-key='plus']").count() == 0
        plate(page, "Undo").click()
        plate(page, "Undo").click()
        assert math.dist(place(page, "plus"), before) == pytest.approx(1, abs=0.05)
        # On a bead, too.
        at = place(page, "plus")
        page.locator(".bead").first.focus()
        page.keyboard.press("Shift+ArrowLeft")
        assert math.dist(place(page, "plus"), at) == pytest.approx(10, abs=0.05)


def test_ghosts_are_taken_by_one_plate_and_the_long_leg_is_asked_for(
    browser: Browser, laptop: Laptop, check_layout: Check, check_access: Check
) -> None:
    """How sure a suggestion is depends on how the server looked at this photo before: here it never did."""
    with entries(browser, laptop.address, told=False, **PHONE) as page:
        expect(title(page)).to_have_text("Tap the red lead.")
        take = page.get_by_role("button", name="Take these")
        expect(take).to_be_visible()
        ghosts = page.locator("#picture .ghost-tag").count()
        assert ghosts == 5
        assert page.locator("#picture .entry").count() == 0  # nothing is taken as true by itself
        check_access(page)
        take.tap()
        expect(title(page)).to_have_text("Which leg of L1 is long?")
        for key, lead in (("plus", "plus"), ("minus", "minus")):
            assert math.dist(place(page, key), CASE["pack"][lead]) < 20  # 3 mm
        check_layout(page)
        check_access(page)
        short = place(page, "L1.short_leg")
        touch(page, short)
        assert place(page, "L1.long_leg") == short
        expect(title(page)).to_have_text("Which leg of L2 is long?")
        page.get_by_role("button", name="Turn L2 round").tap()
        expect(title(page)).to_have_text("Which leg of L3 is long?")
        plate(page, "Undo").tap()
        expect(title(page)).to_have_text("Which leg of L2 is long?")
        plate(page, "Not sure").tap()
        expect(title(page)).to_have_text("Which leg of L3 is long?")
        expect(page.locator("#picture")).to_contain_text("L2?")
        plate(page, "Not sure").tap()
        expect(title(page)).to_have_text("Does every mark sit right?")
        with page.expect_request(
            lambda asked: "/inspections" in asked.url and asked.method == "POST"
        ) as sent:
            plate(page, "Find the fault").tap()
        told: Any = sent.value.post_data_json
        assert [sorted(led) for led in told["leds"]] == [
            ["colour", "id", "long_leg", "seen", "short_leg"]
        ] * 3
        assert told["leds"][0]["seen"] is None
        page.wait_for_selector("body.on-answer, body.on-check")


def test_a_tap_on_a_ghost_takes_it_for_what_is_asked(browser: Browser, address: str) -> None:
    with entries(browser, address, told=False, **PHONE) as page:
        expect(page.get_by_role("button", name="Take these")).to_be_visible()
        plus, leg = CASE["pack"]["plus"], CASE["leds"][0]["short_leg"]
        touch(page, plus)
        assert place(page, "plus") != pytest.approx(
            plus, abs=0.2
        )  # where it was seen, not where the thumb was
        touch(page, CASE["pack"]["minus"])
        expect(title(page)).to_have_text("Tap the long leg of L1.")
        touch(page, leg)
        assert math.dist(place(page, "L1.long_leg"), leg) < 15
        assert math.dist(place(page, "L1.short_leg"), CASE["leds"][0]["long_leg"]) < 15
        plate(page, "Leave them out").tap()
        assert page.locator("#picture .ghost-tag").count() == 0


def test_a_leg_that_misses_the_dough_says_so_at_once(
    browser: Browser, address: str, check_access: Check
) -> None:
    with entries(browser, address, **LAPTOP) as page:
        assert page.locator("#picture .missed").count() == 0
        beside = (500, 330)  # left of the ear, on the table
        drag(page, CASE["leds"][0]["long_leg"], beside)
        missed = page.locator("#picture .missed")
        expect(missed).to_have_attribute("data-key", "L1.long_leg")
        expect(missed.locator("use")).to_have_count(2)  # broken in two
        told = missed.get_attribute("aria-label") or ""
        assert "beside plum" in told.replace("\u00a0", " ")
        assert "mm" in told
        expect(page.locator(".bead").nth(2)).to_contain_text("misses")
        expect(page.get_by_role("status")).to_contain_text("beside plum")
        expect(page.locator(".intro .miss")).to_contain_text("beside plum")
        check_access(page)
        # In the wall it is told, too.
        drag(page, beside, (815, 640))
        assert "wall" in (missed.get_attribute("aria-label") or "")
        plate(page, "Undo").click()
        plate(page, "Undo").click()
        assert missed.count() == 0


def test_other_parts_are_added_tapped_opened_and_removed(
    browser: Browser, address: str, check_layout: Check, check_access: Check
) -> None:
    with entries(browser, address, **PHONE) as page:
        plate(page, "Add part").tap()
        check_layout(page)
        plate(page, "Switch").tap()
        expect(title(page)).to_have_text("Tap one end of S1.")
        touch(page, (700, 400))
        expect(title(page)).to_have_text("Tap the other end of S1.")
        touch(page, (900, 420))
        expect(title(page)).to_have_text("Does every mark sit right?")
        assert page.locator("#picture [href='#switch-closed']").count() == 1
        check_access(page)
        plate(page, "open").tap()
        assert page.locator("#picture [href='#switch-open']").count() == 1
        check_layout(page)
        plate(page, "Add part").tap()
        plate(page, "Buzzer").tap()
        expect(title(page)).to_have_text("Tap the red wire of B1.")
        plate(page, "Remove").tap()
        expect(title(page)).to_have_text("Does every mark sit right?")
        with page.expect_request(
            lambda asked: "/inspections" in asked.url and asked.method == "POST"
        ) as sent:
            plate(page, "Find the fault").tap()
        asked: Any = sent.value.post_data_json
        (part,) = asked["parts"]
        assert (part["id"], part["kind"], part["closed"]) == ("S1", "switch", False)
        assert math.dist(part["a"], (700, 400)) < 3
        page.wait_for_selector("body.on-answer, body.on-check")


def test_tags_of_a_crowd_stay_apart(browser: Browser, address: str) -> None:
    with entries(browser, address, **PHONE) as page:
        for _ in range(4):
            plate(page, "Turn the picture").tap()
            boxes = page.evaluate(
                """() => [...document.querySelectorAll("#picture .tagbox")].map((one) => {
                  const { left, top, right, bottom } = one.getBoundingClientRect();
                  return [left, top, right, bottom];
                })"""
            )
            assert len(boxes) == 3
            for a, b in pairwise(sorted(boxes, key=lambda box: box[1])):
                assert b[1] >= a[3] - 1 or b[0] >= a[2] - 1 or b[2] <= a[0] + 1
