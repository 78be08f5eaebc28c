"""The answer beyond its first sentence: details by touch and by keys, walks, ages, alarm, the underside."""

import io
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import cv2
from hands_on import LAPTOP, PATIENCE_MS, PHONE, REFUSED, find_the_fault, open_sample, page_of, plate
from playwright.sync_api import Browser, Locator, Page, Route, expect

import sample_images

DETAILS = ["steps", "plans", "lumps", "flow", "numbers", "arrangements", "seen", "below", "keep", "cautions"]
MARKS = {"lumps": ".lump", "flow": ".flow-line", "numbers": ".light"}

Check = Callable[[Page], None]


@contextmanager
def answered(
    browser: Browser, address: str, sample: str, seen: str = "", catch: Check | None = None, **device: Any
) -> Iterator[Page]:
    """A page on which a sample was looked at.

    `seen` is how its first light is said to be; `catch` may change what the server answers.
    """
    with page_of(browser, address, excused=REFUSED, **{"reduced_motion": "reduce", **device}) as page:
        if catch is not None:
            catch(page)
        open_sample(page, sample)
        find_the_fault(page, seen)
        yield page


def detail(page: Page, key: str) -> Locator:
    return page.locator(f".detail[data-key={key}]")


def only_open(page: Page, key: str) -> None:
    expect(page.locator(".detail[aria-expanded=true]")).to_have_count(1)
    expect(detail(page, key)).to_have_attribute("aria-expanded", "true")
    assert page.locator(".told").count() == 1


def test_each_detail_opens_by_touch(browser: Browser, address: str, check_layout: Check) -> None:
    with answered(browser, address, "Caterpillar", **PHONE) as page:
        assert page.locator(".told").count() == 0
        keys = page.locator(".detail").evaluate_all("all => all.map((one) => one.dataset.key)")
        assert keys == DETAILS
        for key in keys:
            detail(page, key).tap()
            only_open(page, key)
            expect(page.locator(".told")).to_be_visible()
            if key in MARKS:
                page.wait_for_selector(f"#picture .found {MARKS[key]}", state="attached")
            if key == "numbers":
                expect(page.locator("#picture .found .light").first).to_contain_text("mA")
                expect(page.locator("#numbers")).to_contain_text("hours")
            if key == "arrangements":
                assert page.locator(".told tbody tr").count() == 3
            check_layout(page)
        detail(page, "cautions").tap()
        expect(page.locator(".told")).to_have_count(0)
        expect(page.locator("#picture .found .flow-line")).to_have_count(0)


def test_details_by_keys_on_a_laptop_keep_the_focus(
    browser: Browser, address: str, check_layout: Check, check_access: Check
) -> None:
    with answered(browser, address, "Boat", **LAPTOP) as page:
        for key in ("lumps", "flow", "numbers"):
            assert not detail(page, key).is_visible()
            page.locator(f"#on-picture [data-key=on-{key}]").focus()
            page.keyboard.press("Enter")
            only_open(page, key)
            assert page.evaluate("document.activeElement.dataset.key") == f"on-{key}"
            page.wait_for_selector(f"#picture .found {MARKS[key]}", state="attached")
        detail(page, "otherwise").focus()
        page.keyboard.press("Space")
        only_open(page, "otherwise")
        assert page.evaluate("document.activeElement.dataset.key") == "otherwise"
        expect(page.locator(".told .others")).to_contain_text("may not touch")
        expect(page.locator(".told .others")).to_contain_text("Pull them apart")
        page.keyboard.press("Tab")
        page.keyboard.press("Enter")
        expect(page.locator(".told .others .plate")).to_have_attribute("aria-pressed", "true")
        page.wait_for_selector("#picture .found .contact.doubtful", state="attached")
        check_layout(page)
        for room in ("bright", "dim"):
            page.evaluate("room => { document.documentElement.dataset.theme = room; }", room)
            check_access(page)


CHANGES = [
    {"kind": "cut", "at": [400, 300], "parts": ["A", "B"], "size": None, "says": "One lump was cut."},
    {"kind": "light", "at": None, "parts": ["L2"], "size": None, "says": "L2 was off, is bright now."},
    {"kind": "doubtful", "at": [500, 300], "parts": ["L3.long"], "size": None, "says": "Check L3."},
]


def with_changes(route: Route) -> None:
    """An inspection as it comes after a second photo."""
    told = route.fetch(timeout=PATIENCE_MS)
    answer = told.json()
    answer["report"]["changes"] = CHANGES
    route.fulfill(response=told, json=answer)


def test_what_changed_comes_first_and_notes_show_their_place(
    browser: Browser, address: str, check_layout: Check
) -> None:
    def catch(page: Page) -> None:
        page.route(re.compile(r"/inspections\?"), with_changes)

    with answered(browser, address, "Lighthouse", catch=catch, **PHONE) as page:
        changes = page.locator(".answer .changes")
        expect(changes).to_contain_text("What changed: One lump was cut. L2 was off, is bright now.")
        expect(changes.locator(".doubts span")).to_have_text("Not sure any more: L3 long.")
        tops = [page.locator(f".answer {where}").bounding_box()["y"] for where in (".say", ".changes", ".do")]  # type: ignore[index]
        assert tops == sorted(tops)
        check_layout(page)
        detail(page, "notes").tap()
        before = page.locator("#lamp-light").get_attribute("cy")
        page.locator(".told .plate").tap()
        expect(page.locator(".told .plate")).to_have_attribute("aria-pressed", "true")
        assert page.locator("#lamp-light").get_attribute("cy") != before
        plate(page, "Check the marks").tap()
        page.wait_for_selector("body.on-entries")


def test_a_light_that_is_chosen_is_walked(browser: Browser, address: str, check_layout: Check) -> None:
    with answered(browser, address, "Owl", **PHONE) as page:
        page.locator(".light-plate").first.tap()
        page.wait_for_selector("#picture .found .walk .step", state="attached")
        assert page.locator("#picture .found .walk").count() == 2
        expect(page.locator(".traced")).to_have_text("Both legs of L1 come to their leads.")
        page.locator(".light-plate").nth(1).focus()
        page.keyboard.press("Enter")
        page.wait_for_selector("#picture .found .reach", state="attached")
        expect(page.locator(".traced")).to_contain_text("backwards")
        expect(page.locator("#spoken")).to_contain_text("backwards")
        check_layout(page)
        page.locator(".light-plate").nth(1).tap()
        expect(page.locator(".traced")).to_have_count(0)
        detail(page, "flow").tap()
        page.wait_for_selector("#picture .found .flow-line", state="attached")
        page.locator("#foot .tab").nth(1).tap()  # flow and walks are of now
        expect(page.locator("#picture .found .flow-line")).to_have_count(0)
        expect(page.locator(".told")).to_have_count(0)
        page.locator(".light-plate").nth(1).tap()
        expect(page.locator("#foot .tab").first).to_have_attribute("aria-pressed", "true")
        plate(page, "Ask").tap()
        assert page.locator(".light-plate, .detail[data-key=flow]").count() == 0


def test_words_for_another_age_are_kept(browser: Browser, address: str, check_layout: Check) -> None:
    with answered(browser, address, "Owl", **PHONE) as page:
        usual = page.locator("#words .do").inner_text()
        for age in ("13+", "6-8"):
            plate(page, "More").tap()
            page.locator(".ages").get_by_role("button", name=age, exact=True).tap()
            expect(page.locator(".ages [aria-pressed=true]")).to_have_text(age)
            check_layout(page)
            plate(page, "Close").tap()
            expect(page.locator("#words .do")).not_to_have_text(usual)
            usual = page.locator("#words .do").inner_text()
            assert any(letter.isdigit() for letter in usual) == (age == "13+")
        assert detail(page, "numbers").count() == 0
        page.reload()
        page.wait_for_selector("html[data-ready]")
        if page.locator("body.on-start").count():
            plate(page, "Go on").tap()
        page.wait_for_selector("body.on-answer")
        expect(page.locator("#words .do")).to_have_text(usual)
        plate(page, "More").tap()
        page.locator("#sheet").get_by_role("button", name="Try a sample").tap()
        page.get_by_role("button", name="Turtle").tap()
        page.wait_for_selector("body.on-colours")
        plate(page, "More").tap()
        expect(page.locator(".ages [aria-pressed=true]")).to_have_text("6-8")


def test_a_hazard_stays_in_front_of_the_dialogue(browser: Browser, address: str, check_layout: Check) -> None:
    with answered(browser, address, "Newt", seen="bright", **PHONE) as page:
        alarm = page.locator("#alarm")
        assert page.locator("body.on-answer").count() == 1
        expect(alarm).to_have_text("Stop. Unplug the pack first.")
        assert alarm.locator("svg").count() == 1
        tops = [page.locator(where).bounding_box()["y"] for where in ("#alarm", "#stage", "#words")]  # type: ignore[index]
        assert tops == sorted(tops)
        for level in ("Ask", "Look", "Do"):
            plate(page, level).tap()
            expect(alarm).to_be_visible()
        detail(page, "check").tap()
        plate(page, "Check more").last.tap()
        page.wait_for_selector("body.on-check")
        expect(alarm).to_be_visible()
        check_layout(page)
        plate(page, "Back").tap()
        expect(alarm).to_be_visible()
        plate(page, "Back").tap()
        page.wait_for_selector("body.on-entries")
        expect(alarm).to_be_hidden()


def test_an_underside_is_taken_told_and_left_out_again(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with answered(browser, address, "Snail", **PHONE) as page:
        detail(page, "below").tap()
        with page.expect_file_chooser() as opened:
            plate(page, "Photograph the underside").tap()
        opened.value.set_files({"name": "b.jpg", "mimeType": "image/jpeg", "buffer": flipped("owl")})
        page.wait_for_selector("body.on-trouble")
        expect(page.locator(".state .label")).to_contain_text("The underside:")
        plate(page, "Back to the answer").tap()
        page.wait_for_selector("body.on-answer")
        with page.expect_file_chooser() as opened:
            plate(page, "Photograph the underside").tap()
        opened.value.set_files({"name": "b.jpg", "mimeType": "image/jpeg", "buffer": flipped("snail")})
        page.wait_for_selector("body.on-answer .underside")
        expect(page.locator(".underside")).to_contain_text("From below, no dough joins lumps")
        expect(page.locator(".underside")).to_contain_text("in 100")
        check_layout(page)
        plate(page, "Leave the underside out").tap()
        page.wait_for_selector("body.on-answer")
        expect(plate(page, "Photograph the underside")).to_be_visible()


def flipped(sample: str) -> bytes:
    """A sample as it would look from below, if it were as thin as paper, at half its size."""
    photo = cv2.imread(str(sample_images.sample_path(f"{sample}.jpg")))
    assert photo is not None
    small = cv2.resize(photo, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
    return io.BytesIO(cv2.imencode(".jpg", cv2.flip(small, 1))[1].tobytes()).getvalue()
