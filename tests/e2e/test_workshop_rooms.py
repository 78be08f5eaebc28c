"""A workshop from nothing to a code on the screen, two pages that change it at once, and its end."""

import re
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest
from hands_on import LAPTOP, PHONE, REFUSED, opened, page_of, plate, title, watched
from laptop import Laptop
from playwright.sync_api import Browser, Page, expect

SEEN = (("laptop", LAPTOP, "dark"), ("phone", PHONE, "light"))
"""Both sizes and both rooms, each once: all four take twice as long."""
Look = Callable[[Page, str], None]


@pytest.fixture(scope="module")
def network(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Laptop]:
    """A laptop that phones can reach."""
    with closing(Laptop(tmp_path_factory.mktemp("network"), network=True)) as laptop:
        yield laptop


@pytest.fixture
def look(
    check_access: Callable[[Page], None],
    check_layout: Callable[[Page], None],
    keep_picture: Callable[[Page, str], None],
) -> Look:
    """Twice, as `SEEN` tells; axe-core looks at the phone."""

    def at(page: Page, name: str) -> None:
        for size, told, room in SEEN:
            page.set_viewport_size(told["viewport"])
            page.emulate_media(color_scheme=room)  # type: ignore[arg-type]
            keep_picture(page, f"workshop-{name}-{size}")
            check_layout(page)
        check_access(page)

    return at


def on(page: Page, words: str) -> None:
    """By the plate that points on."""
    page.locator("#foot").get_by_role("link", name=words, exact=True).click()


def begun(page: Page, name: str) -> None:
    plate(page, "New workshop").click()
    page.get_by_label("Name").fill(name)
    plate(page, "Make it").click()
    expect(title(page)).to_have_text("What is handed out?")


def kept(page: Page) -> None:
    expect(page.locator("#kept")).to_have_text("Kept.")


def test_from_nothing_to_a_code_on_the_screen(browser: Browser, network: Laptop, look: Look) -> None:
    with page_of(browser, f"{network.address}/rooms/workshops", **PHONE) as page:
        expect(title(page)).to_have_text("No workshop yet.")
        look(page, "none")
        begun(page, "Tuesday club")
        page.get_by_label("red").fill("30")
        look(page, "kit")
        on(page, "Doughs")
        plate(page, "Add a dough").click()
        plate(page, "Add a dough").click()
        look(page, "doughs")
        on(page, "Ages")
        plate(page, "6-8").press("Enter")
        expect(plate(page, "6-8")).to_be_focused()
        expect(page.get_by_text("Walk with your finger.")).to_be_visible()
        on(page, "Challenge")
        page.get_by_label("Title").fill("Two shining eyes")
        plate(page, "Lights are lit").click()
        expect(page.get_by_label("At least")).to_be_focused()
        page.get_by_label("At least").fill("2")
        look(page, "challenge")
        on(page, "Keeping")
        page.get_by_label("Days after the workshop").fill("7")
        kept(page)
        expect(page.locator("#deleted-on")).to_contain_text("All of it is deleted on")
        on(page, "Ways in")
        plate(page, "Make a code").click()
        expect(page.locator(".code")).to_have_text(re.compile(r"^\d{3} \d{3}$"))
        assert page.locator(".qr").evaluate("(one) => one.decode().then(() => one.naturalWidth > 0)")
        look(page, "code")

        code = page.locator(".code").inner_text().replace(" ", "")
        with watched(browser.new_context(base_url=network.address), network.address) as phone:
            # What comes by way of another machine is not the laptop's own (an address of RFC 5737).
            told = {"x-forwarded-for": "192.0.2.40"}
            assert phone.request.post("/join", data={"code": code}, headers=told).ok
        expect(page.get_by_role("heading", name="1 helper has come in")).to_be_visible()
        page.get_by_role("button", name="Send out helper 1").click()
        expect(page.get_by_role("heading", name="0 helpers have come in")).to_be_visible()

        page.get_by_role("link", name="Back", exact=True).click()
        for words in ("30 LEDs", "pink, sky", "6-8", "Two shining eyes · 1 rule"):
            expect(page.get_by_text(words)).to_be_visible()
        look(page, "all")
        page.get_by_role("link", name="Print and take along").click()
        sheet = page.get_by_role("link", name="Letter").first.get_attribute("href")
        assert (
            page.request.get(f"{network.address}/rooms/{sheet}").headers["content-type"] == "application/pdf"
        )
        look(page, "take")
        page.get_by_role("link", name="Back", exact=True).click()
        page.get_by_role("link", name="Back", exact=True).click()
        expect(title(page)).to_have_text("Today")
        look(page, "list")


def test_of_two_pages_each_is_shown_what_the_other_has_kept(
    browser: Browser, network: Laptop, look: Look
) -> None:
    with page_of(browser, f"{network.address}/rooms/workshops", excused=REFUSED, **PHONE) as page:
        begun(page, "Owls")
        page.evaluate("location.hash = 'name'")
        other = opened(page.context, page.url)
        other.get_by_label("Name").fill("Newts")
        kept(other)
        page.get_by_label("Place").fill("the green room")
        expect(page.get_by_role("alert")).to_contain_text("Another page has changed this workshop.")
        expect(page.get_by_role("alert")).to_contain_text("Newts")
        look(page, "quicker")
        plate(page, "Keep what is here").click()
        kept(page)
        other.get_by_label("Name").fill("Toads")
        plate(other, "Take what is kept").click()
        expect(other.get_by_label("Name")).to_have_value("Owls")
        expect(other.get_by_label("Place")).to_have_value("the green room")


def test_an_archive_out_and_in_and_a_workshop_that_is_deleted_in_two_steps(
    browser: Browser, laptop: Laptop, look: Look, tmp_path: Path
) -> None:
    """On a laptop that phones cannot reach, which says so."""
    with page_of(browser, f"{laptop.address}/rooms/workshops", **PHONE) as page:
        begun(page, "Owls")
        page.evaluate("location.hash = 'ways'")
        expect(page.locator("#only-here")).to_contain_text("--network")
        look(page, "alone")
        page.evaluate("location.hash = ''")
        plate(page, "End it").click()
        plate(page, "End it now").click()
        expect(page.get_by_text("Ended on")).to_be_visible()
        plate(page, "Go on after all").click()
        expect(plate(page, "End it")).to_be_visible()
        page.evaluate("location.hash = 'delete'")
        with page.expect_download() as download:
            page.get_by_role("link", name="Keep an archive first").click()
        archive = tmp_path / download.value.suggested_filename
        download.value.save_as(archive)
        plate(page, "Delete…").click()
        expect(plate(page, "Delete it now")).to_be_disabled()
        page.get_by_label("Yes, all of it is to be gone").check()
        look(page, "delete")
        plate(page, "Delete it now").click()
        expect(title(page)).to_have_text("No workshop yet.")
        page.locator("#archive").set_input_files(archive)
        expect(title(page)).to_have_text("Owls")
        assert laptop.count("workshops") == 1
