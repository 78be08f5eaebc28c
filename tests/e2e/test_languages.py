"""Spanish and Arabic, phone and laptop: from a sample to the answer, nothing cut off, photo as it is."""

import re
from collections.abc import Callable
from typing import Any

import pytest
from hands_on import LAPTOP, PATIENCE_MS, PHONE, open_sample, outlined, page_of, plate
from playwright.sync_api import Browser, Locator, Page, Route, expect

from api.language.page_words import page_words

Check = Callable[[Page], None]
Keep = Callable[[Page, str], None]

DARK_LAPTOP = {**LAPTOP, "color_scheme": "dark"}
SNAIL = {"es": "Caracol, todas las luces encendidas", "ar": "حلزون، كل الأضواء تضيء"}
NEWT = {"en": "Newt, all dark", "es": "Tritón, todo apagado", "ar": "سمندل، كلها مطفأة"}


def told(page: Page, code: str, key: str) -> Locator:
    """A plate by the key of its words."""
    return plate(page, words(code, key))


def words(code: str, key: str) -> str:
    return str(page_words(code)[key])


def entries(page: Page, code: str) -> None:
    """The sample newt with all entries marked."""
    open_sample(page, NEWT[code], start=words(code, "start_sample"))
    outlined(page)
    page.locator("#foot .plate.main").click()
    page.wait_for_selector("body.on-entries")


def answer(page: Page) -> None:
    page.locator("#foot .plate.main").click()
    page.wait_for_selector("body.on-answer")
    page.wait_for_selector("#thread .yarn", state="attached")


@pytest.mark.parametrize(
    ("code", "device"),
    [("es", PHONE), ("ar", PHONE), ("ar", DARK_LAPTOP)],
    ids=["es-phone", "ar-phone", "ar-laptop"],
)
def test_from_a_sample_to_the_answer(
    browser: Browser, address: str, check_layout: Check, keep_picture: Keep, code: str, device: dict[str, Any]
) -> None:
    with page_of(browser, address, locale=code, **device) as page:
        name = f"{code}-{device['viewport']['width']}"
        root = page.locator("html")
        expect(root).to_have_attribute("lang", code)
        expect(root).to_have_attribute("dir", "rtl" if code == "ar" else "ltr")
        check_layout(page)
        keep_picture(page, f"language-start-{name}")
        entries(page, code)
        check_layout(page)
        keep_picture(page, f"language-entries-{name}")
        answer(page)
        check_layout(page)
        keep_picture(page, f"language-answer-{name}")
        says = {
            "es": "La masa lima rodea el final de la pared.",
            "ar": "العجينة الليمونية تدور حول نهاية الجدار.",
        }
        expect(page.locator("#words .answer .say")).to_have_text(says[code])
        expect(page.locator("#thread")).to_contain_text("13")


@pytest.mark.parametrize("code", ["es", "ar"])
def test_what_the_photo_cannot_show_is_asked(
    browser: Browser, address: str, check_layout: Check, keep_picture: Keep, code: str
) -> None:
    """A light of a good sculpture is said to be dark: questions, what to do, answers, and a note of it."""
    with page_of(browser, address, locale=code, **PHONE) as page:
        open_sample(page, SNAIL[code], start=words(code, "start_sample"))
        page.locator("#foot .plate.main").click()
        page.locator("#words .bead").nth(2).click()
        told(page, code, "seen_off").click()
        page.locator("#foot .plate.main").click()
        page.wait_for_selector("body.on-check")
        check_layout(page)
        keep_picture(page, f"language-check-{code}")
        page.locator(".checking + .answers .plate").last.click()
        expect(page.locator(".checked li")).to_have_count(1)
        check_layout(page)
        keep_picture(page, f"language-checked-{code}")
        expect(page.locator(".checked li")).to_contain_text(
            {"es": "no lo sé", "ar": "لا أستطيع أن أعرف"}[code]
        )


def test_right_to_left_mirrors_the_bar_and_never_the_photo(browser: Browser, address: str) -> None:
    for code in ("en", "ar"):
        with page_of(browser, address, locale=code, **PHONE) as page:
            entries(page, code)
            assert page.evaluate("document.getElementById('picture').getScreenCTM().a") > 0
            lead, leg = (
                page.locator(f"#picture .mark use[href='#{name}']").first
                for name in ("lead-plus", "leg-long")
            )
            assert left_of(lead) < left_of(leg), "the leads of the newt are at its left"
            back, more = (left_of(told(page, code, key)) for key in ("back", "more"))
            assert (back > more) == (code == "ar")
            main = page.locator("#foot .plate.main").bounding_box()
            assert main and main["x"] + main["width"] > 300, "the main plate ends at the right thumb"


def left_of(one: Locator) -> float:
    box = one.bounding_box() or one.bounding_box()  # it may just have been drawn anew
    assert box
    return box["x"]


def test_choosing_a_language_loses_nothing(browser: Browser, address: str, check_layout: Check) -> None:
    with page_of(browser, address, locale="en", **PHONE) as page:
        entries(page, "en")
        answer(page)
        expect(page.locator("#words .answer .say")).to_have_text(re.compile("^Lime dough goes round"))
        told(page, "en", "more").click()
        check_layout(page)
        with page.expect_navigation():
            page.get_by_role("button", name="Español").click()
        page.wait_for_selector("html[data-ready][lang=es]")
        if page.locator("body.on-start").count():
            told(page, "es", "start_go_on").click()
        page.wait_for_selector("body.on-answer, body.on-entries")
        if page.locator("body.on-entries").count():
            page.locator("#foot .plate.main").click()
        page.wait_for_selector("body.on-answer")
        expect(page.locator("#words .answer .say")).to_have_text("La masa lima rodea el final de la pared.")
        assert page.evaluate("document.cookie") == "doughsight-language=es"
        told(page, "es", "more").click()
        expect(page.get_by_role("button", name="Español")).to_have_attribute("aria-pressed", "true")


def test_what_is_left_in_english_says_so(browser: Browser, address: str) -> None:
    """WCAG 2.2, 3.1.2: the language of parts. A sentence that the catalogue lacks comes in English."""

    def lacking(route: Route) -> None:
        told = route.fetch(timeout=PATIENCE_MS)
        answer = told.json()
        answer["report"]["findings"][0]["do"] = "Cut the 13\u00a0mm neck."
        route.fulfill(response=told, json=answer)

    with page_of(browser, address, locale="ar", **PHONE) as page:
        page.route(re.compile(r"/inspections\?"), lacking)
        entries(page, "ar")
        answer(page)
        said = page.locator("#words .answer .do")
        expect(said).to_have_text("Cut the 13\u00a0mm neck.")
        expect(said).to_have_attribute("lang", "en")
        expect(said).to_have_attribute("dir", "ltr")
