"""Every screen, at both sizes, in both rooms: axe-core, layout, large letters, and a picture to look at."""

import json
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hands_on import (
    CHROMIUM_ARGS,
    LAPTOP,
    PHONE,
    REFUSED,
    find_the_fault,
    open_sample,
    opened,
    outlined,
    page_of,
    plate,
    title,
    untold,
    watched,
)
from playwright.sync_api import Browser, Page, expect

SIZES = {"phone": PHONE, "laptop": LAPTOP}

Look = Callable[[Page, str], None]


IN_ROOM = "room => (document.documentElement.dataset.theme = room)"


@pytest.fixture(params=list(SIZES))
def size(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def device(size: str) -> dict[str, Any]:
    return {**SIZES[size], "color_scheme": "light", "reduced_motion": "reduce"}


@pytest.fixture
def look(
    size: str,
    check_access: Callable[[Page], None],
    check_contrast: Callable[[Page], None],
    check_layout: Callable[[Page], None],
    keep_picture: Callable[[Page, str], None],
) -> Look:
    """Looks at a screen in both rooms, and leaves the bright one."""

    def at(page: Page, name: str) -> None:
        page.evaluate("() => document.fonts.ready")
        check_layout(page)
        stage = page.locator("#stage").bounding_box()
        if stage and size == "laptop":  # the photo has the whole left side
            assert stage["height"] > 0.8 * page.viewport_size["height"], name  # type: ignore[index]
        for room, check in (("dim", check_contrast), ("bright", check_access)):
            page.evaluate(IN_ROOM, room)
            keep_picture(page, f"{name}-{size}-{room}")
            if size == "phone" or name == "answer":  # a laptop shows the same parts in other places
                check(page)

    return at


def test_every_screen(browser: Browser, address: str, size: str, look: Look) -> None:
    with page_of(browser, address, **device(size)) as page:
        look(page, "start")
        plate(page, "More").click()
        look(page, "more")
        plate(page, "Close").click()
        plate(page, "Try a sample").click()
        look(page, "samples")
        assert page.locator("dialog[open] .plate").count() > 8
        plate(page, "Close").click()
        open_sample(page, "Newt")
        outlined(page)
        look(page, "colours")
        page.locator(".size-row button").first.click()
        look(page, "size")
        plate(page, "Back").click()
        plate(page, "Entries").click()
        look(page, "entries")
        page.locator(".bead").last.click()
        look(page, "entries-led")
        plate(page, "Find the fault").click()
        page.wait_for_selector("body.on-answer")
        page.wait_for_selector("#picture .found .mark", state="attached")
        look(page, "answer")
        said = {title(page).inner_text()}
        for level in ("Ask", "Look"):
            plate(page, level).click()
            expect(plate(page, level)).to_have_attribute("aria-pressed", "true")
            page.wait_for_selector("#picture .found .mark", state="attached")
            look(page, f"answer-{level.lower()}")
            said.add(title(page).inner_text())
        assert len(said) == 3


def test_what_is_told_on_demand(browser: Browser, address: str, size: str, look: Look) -> None:
    with page_of(browser, address, **device(size)) as page:
        open_sample(page, "Boat")
        outlined(page)
        plate(page, "Correct the edges").click()
        page.wait_for_selector("body.on-correct")
        look(page, "correct")
        plate(page, "Back").click()
        find_the_fault(page)
        page.wait_for_selector("body.on-answer")
        details = page.locator("button.detail:visible")
        keys = [one.get_attribute("data-key") for one in details.all()]
        assert len(keys) > 5
        for key in keys:
            page.locator(f"button.detail[data-key={key}]").click()
            page.wait_for_selector(f"li[data-open={key}]")
            look(page, f"answer-{key}")
        page.locator(".lights button").first.click()
        page.wait_for_selector("#picture .found .mark", state="attached")
        look(page, "answer-walk")
        page.locator("[data-key=what-if]").click()
        page.wait_for_selector("body.on-what-if")
        page.locator(".lights button").first.click()
        plate(page, "Pull out").click()
        page.wait_for_selector(".lights .changed")
        look(page, "what-if")


def test_a_check_by_hand(browser: Browser, address: str, size: str, look: Look) -> None:
    with page_of(browser, address, **device(size)) as page:
        page.route("**/samples/snail", untold)
        open_sample(page, "Snail")
        outlined(page)
        find_the_fault(page)
        plate(page, "Check more").click()
        expect(title(page)).to_have_text("Which lights are on?")
        plate(page, "off").first.click()
        for one in plate(page, "bright").all()[1:]:
            one.click()
        look(page, "check-lights")
        plate(page, "Go on").click()
        page.wait_for_selector(".checking + .answers")
        look(page, "check")
        assert "L1" in title(page).inner_text()


def test_what_went_wrong(browser: Browser, address: str, size: str, look: Look) -> None:
    with page_of(browser, address, excused=REFUSED, **device(size)) as page:
        film = {"name": "film.mp4", "mimeType": "video/mp4", "buffer": b"not a photo at all"}
        page.locator("#chooser").set_input_files(film)  # type: ignore[arg-type]
        page.wait_for_selector("body.on-trouble")
        assert title(page).inner_text() == "This file will not do."
        look(page, "trouble")


LETTERS_PX = 32
"""A browser's letters are 16 px unless somebody wants them larger; WCAG 1.4.4 asks for twice that."""


def test_letters_twice_as_large(
    large_letters: Page,
    check_layout: Callable[[Page], None],
    keep_picture: Callable[[Page, str], None],
) -> None:
    page = large_letters
    assert page.evaluate("getComputedStyle(document.documentElement).fontSize") == f"{LETTERS_PX}px"

    def look(name: str) -> None:
        keep_picture(page, f"{name}-large-letters")
        check_layout(page)

    look("start")
    open_sample(page, "Newt")
    outlined(page)
    look("colours")
    plate(page, "Entries").click()
    look("entries")
    plate(page, "Find the fault").click()
    page.wait_for_selector("body.on-answer")
    page.wait_for_selector("#picture .found .mark", state="attached")
    look("answer")


@pytest.fixture
def large_letters(browser: Browser, address: str, tmp_path: Path) -> Iterator[Page]:
    """A phone whose owner asked the browser for letters twice as large."""
    wish = {"webkit": {"webprefs": {"default_font_size": LETTERS_PX}}}
    (tmp_path / "Default").mkdir()
    (tmp_path / "Default" / "Preferences").write_text(json.dumps(wish))
    context = browser.browser_type.launch_persistent_context(
        tmp_path, executable_path=shutil.which("chromium"), args=CHROMIUM_ARGS, **PHONE
    )
    with watched(context, address):
        yield opened(context, address)
