"""Single things on the page: marks, plans, keys, what is no photo, and no network."""

import io
import re
from collections.abc import Callable

from hands_on import (
    LAPTOP,
    NO_WAY,
    PHONE,
    REFUSED,
    case_of,
    find_the_fault,
    open_sample,
    outlined,
    page_of,
    plate,
    spot,
    title,
    touch,
    untold,
)
from PIL import Image
from playwright.sync_api import Browser, Page, expect

import sample_images

CASE = case_of("owl")
PHOTO = sample_images.sample_path("owl.jpg")

Check = Callable[[Page], None]


def test_the_same_sculpture_again_keeps_its_marks(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with page_of(browser, address, **PHONE) as page:
        open_sample(page, "Owl")
        plate(page, "Entries").click()
        page.wait_for_selector("body.on-entries")
        marks = page.locator("#picture .mark").count()
        plate(page, "Find the fault").click()
        page.wait_for_selector("body.on-answer")
        with page.expect_file_chooser() as chooser:
            plate(page, "Done, look again").click()
        chooser.value.set_files(PHOTO)
        page.wait_for_selector("body.on-waiting")
        page.wait_for_selector("body.on-answer")
        plate(page, "Back").click()
        page.wait_for_selector("body.on-entries")
        assert page.locator("#picture .mark").count() == marks
        plate(page, "Nearer").click()
        check_layout(page)


def test_a_deleted_photo_is_gone(browser: Browser, address: str) -> None:
    # What was told of it may be on its way at that moment: then it is refused.
    with page_of(browser, address, excused=REFUSED, **PHONE) as page:
        open_sample(page, "Owl")
        where = page.locator("#picture image").first.get_attribute("href")
        assert page.request.get(f"{address}/{where}").status == 200
        plate(page, "More").click()
        plate(page, "Delete this photo").click()
        page.wait_for_selector("body.on-start")
        assert page.request.get(f"{address}/{where}").status == 404
        expect(plate(page, "Try a sample")).to_be_visible()


def test_a_good_sample_says_so(browser: Browser, address: str, check_layout: Check) -> None:
    with page_of(browser, address, color_scheme="dark", **PHONE) as page:
        assert page.locator("html").get_attribute("data-theme") == "dim"
        plate(page, "Try a sample").click()
        check_layout(page)
        page.get_by_role("button", name="Snail").click()
        page.wait_for_selector("body.on-colours")
        find_the_fault(page)
        expect(title(page)).to_have_text("Every light is on.")
        expect(page.get_by_role("status")).to_contain_text("Every light is on.")
        assert page.locator("#alarm").is_hidden()


def test_nothing_told_of_the_lights_is_asked(browser: Browser, address: str, check_layout: Check) -> None:
    with page_of(browser, address, **PHONE) as page:
        page.route("**/samples/snail", untold)
        open_sample(page, "Snail")
        find_the_fault(page)
        expect(page.locator("#words .do").first).to_contain_text("Does every light shine?")
        check_layout(page)
        plate(page, "They all shine").tap()
        expect(title(page)).to_have_text("Every light is on.")
        check_layout(page)
        expect(page.get_by_role("link", name="Put on record")).to_have_attribute(
            "href", re.compile("^rooms/finish.case=")
        )


def test_plans_are_seen_now_and_afterwards_by_touch_and_by_keys(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with page_of(browser, address, **PHONE) as page:
        open_sample(page, "Caterpillar")
        find_the_fault(page)
        page.wait_for_selector("#picture .found .ghost", state="attached")
        view = page.locator("#picture").get_attribute("viewBox")
        now, after = (page.locator("#foot .tab").nth(i) for i in (0, 1))
        expect(after).to_have_text(re.compile("^After "))
        after.tap()
        page.wait_for_selector("#picture .found .old-place", state="attached")
        assert page.locator("#picture .found .ghost").count() == 0
        assert page.locator("#picture .found .light.lit").count() == len(
            page.locator(".lights .changed").all()
        )
        expect(page.get_by_role("status")).to_contain_text("bright")
        assert page.locator("#picture").get_attribute("viewBox") == view
        check_layout(page)
        before = page.locator("#picture .found").inner_html()
        page.locator("[data-key=plans]").tap()
        second = page.locator(".plate.plan").nth(1)
        second.tap()
        expect(second).to_have_attribute("aria-pressed", "true")
        page.wait_for_function(
            "before => ![before, ''].includes(document.querySelector('#picture .found').innerHTML)",
            arg=before,
        )
        now.focus()
        page.keyboard.press("Enter")
        page.wait_for_selector("#picture .found .ghost", state="attached")
        assert page.evaluate("document.activeElement.textContent") == "Now"
        page.locator(".plate.plan").first.focus()
        page.keyboard.press("Space")
        expect(page.locator(".plate.plan").first).to_have_attribute("aria-pressed", "true")
        page.locator("[data-key=keep]").tap()
        kept = page.get_by_role("link", name="Keep now and after").get_attribute("href")
        assert page.request.get(f"{address}/{kept}").headers["content-type"] == "image/png"
        plate(page, "Ask").tap()
        page.wait_for_function("() => document.querySelectorAll('#picture .found .mark').length === 2")
        for secret in (".plate.plan", ".steps", ".lights .changed", "#foot .tab"):
            assert page.locator(secret).count() == 0
        check_layout(page)


def test_keys_alone_place_and_move_an_entry(browser: Browser, address: str) -> None:
    with page_of(browser, address, **LAPTOP) as page:
        page.locator("#chooser").set_input_files(PHOTO)
        page.wait_for_selector("body.on-colours")
        page.locator("#picture").focus()
        page.keyboard.press("Shift+ArrowLeft")
        assert page.locator("#picture .glass *").count() > 3
        page.keyboard.press("Enter")
        page.wait_for_selector("#picture .disc")
        plate(page, "Entries").focus()
        page.keyboard.press("Enter")
        page.locator("#picture").focus()
        page.keyboard.press("ArrowRight")
        page.keyboard.press("Enter")
        mark = page.locator("#picture .mark").first
        before = float(mark.get_attribute("data-x") or 0)
        page.locator(".bead").first.focus()
        page.keyboard.press("Shift+ArrowRight")
        assert float(page.locator("#picture .mark").first.get_attribute("data-x") or 0) == before + 10
        plate(page, "Undo").click()
        assert float(page.locator("#picture .mark").first.get_attribute("data-x") or 0) == before
        plate(page, "Redo").click()
        assert float(page.locator("#picture .mark").first.get_attribute("data-x") or 0) == before + 10


def test_a_mark_is_dragged_and_the_loupe_shows(browser: Browser, address: str) -> None:
    with page_of(browser, address, **LAPTOP) as page:
        open_sample(page, "Owl")
        plate(page, "Entries").click()
        x, y = spot(page, CASE["pack"]["plus"])
        page.mouse.move(x, y)
        page.mouse.down()
        page.mouse.move(x + 30, y + 10, steps=3)
        assert page.locator("#picture .glass image").count() == 1
        page.mouse.up()
        assert page.locator("#picture .glass image").count() == 0
        plate(page, "Undo").click()
        assert plate(page, "Undo").is_disabled()


def test_what_is_no_photo_is_told_in_one_sentence(
    browser: Browser, address: str, check_layout: Check
) -> None:
    with page_of(browser, address, excused=REFUSED, **PHONE) as page:
        film = {"name": "film.mp4", "mimeType": "video/mp4", "buffer": b"not a photo at all"}
        page.locator("#chooser").set_input_files(film)
        page.wait_for_selector("body.on-trouble")
        expect(page.locator(".state .label")).to_contain_text("JPEG")
        check_layout(page)


def test_without_a_network_nothing_is_lost(browser: Browser, address: str, check_layout: Check) -> None:
    out = io.BytesIO()
    Image.new("RGB", (400, 300), (220, 120, 140)).save(out, "JPEG")
    with page_of(browser, address, excused=f"{NO_WAY}|{REFUSED}", **PHONE) as page:
        page.context.set_offline(True)
        page.locator("#camera").set_input_files(
            {"name": "a.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}
        )
        page.wait_for_selector("body.on-offline")
        expect(page.locator(".state .label")).to_contain_text("kept here")
        check_layout(page)
        plate(page, "Go on tapping").click()
        touch(page, [200, 150])
        page.wait_for_selector("#picture .disc")
        page.context.set_offline(False)
        page.reload()
        page.wait_for_selector("html[data-ready]")
        plate(page, "Go on").click()
        page.wait_for_selector("#picture .disc")
        page.wait_for_function("() => location.hash.length > 20")


def test_a_plate_held_down_while_an_answer_comes_is_still_pressed(browser: Browser, address: str) -> None:
    with page_of(browser, address, **LAPTOP) as page:
        open_sample(page, "Owl")
        outlined(page)
        box = plate(page, "Entries").bounding_box()
        assert box
        with page.expect_request("**/preview") as sent:
            page.mouse.click(*spot(page, CASE["palette"][0]["taps"][0]))
            page.mouse.move(box["x"] + 20, box["y"] + 20)
            page.mouse.down()
        sent.value.response()
        page.evaluate("() => new Promise((done) => requestAnimationFrame(() => setTimeout(done, 50)))")
        page.mouse.up()
        page.wait_for_selector("body.on-entries")
