"""Two helpers' phones and a tablet of the benches, from the first press of the big button to what it was."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from typing import Any

import pytest
from hands_on import LAPTOP, NO_WAY, PHONE, REFUSED, ROUTED, opened, plate, title, watched
from laptop import Laptop
from playwright.sync_api import APIRequestContext, Browser, BrowserContext, Page, Route, expect

import sample_images

SIZES = {"phone": PHONE, "laptop": LAPTOP}
ROOMS = {"bright": "light", "dim": "dark"}
NOT_THE_LAPTOP = {"x-forwarded-for": "192.0.2.40"}
"""What comes by way of another machine is not the laptop's own (an address for documentation, RFC 5737)."""
EXCUSED = f"{NO_WAY}|{REFUSED}"

Look = Callable[..., None]


@pytest.fixture
def look(
    check_access: Callable[[Page], None],
    check_layout: Callable[[Page], None],
    keep_picture: Callable[[Page, str], None],
) -> Look:
    """At both sizes and in both rooms; where a room is named, axe-core looks there on the phone."""

    def at(page: Page, name: str, access: str = "") -> None:
        for size, told in SIZES.items():
            page.set_viewport_size(told["viewport"])
            for room, scheme in ROOMS.items():
                page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
                keep_picture(page, f"{name}-{size}-{room}")
                if (size, room) == ("phone", access):
                    check_access(page)
            check_layout(page)
        page.set_viewport_size(PHONE["viewport"])

    return at


@pytest.fixture
def owner(browser: Browser, laptop: Laptop) -> Iterator[APIRequestContext]:
    with watched(browser.new_context(base_url=laptop.address), laptop.address) as context:
        yield context.request


@pytest.fixture
def workshop(owner: APIRequestContext) -> str:
    return str(sent(owner, "/workshops", {"name": "Tuesday club", "day": "2026-11-24"})["id"])


def sent(asked: APIRequestContext, path: str, body: object | None = None) -> Any:
    answer = asked.post(path, data=body)
    assert answer.ok, answer.text()
    return answer.json()


@contextmanager
def joined(
    browser: Browser, laptop: Laptop, owner: APIRequestContext, workshop: str, role: str
) -> Iterator[BrowserContext]:
    """A phone that came in by a code."""
    code = sent(owner, f"/workshops/{workshop}/joins", {"role": role})["code"]
    context = browser.new_context(
        **PHONE, **ROUTED, base_url=laptop.address, reduced_motion="reduce", extra_http_headers=NOT_THE_LAPTOP
    )
    with watched(context, laptop.address, excused=EXCUSED) as context:
        sent(context.request, "/join", {"code": code})
        yield context


def slip(page: Page, bench: str) -> Any:
    return page.locator("li.wait", has=page.get_by_role("heading", name=bench, exact=True))


def test_from_the_big_button_to_what_it_was(
    browser: Browser, laptop: Laptop, owner: APIRequestContext, workshop: str, look: Look
) -> None:
    with ExitStack() as stack:
        phones = [
            stack.enter_context(joined(browser, laptop, owner, workshop, role))
            for role in ("helper", "helper", "bench")
        ]
        first, second = (opened(one, f"{laptop.address}/rooms/queue") for one in phones[:2])
        expect(title(first)).to_have_text("The bench is clear.")
        look(first, "queue-empty", "dim")

        # A child says which bench it is, and presses.
        tablet = opened(phones[2], f"{laptop.address}/rooms/help")
        look(tablet, "help-which", "bright")
        tablet.get_by_label("Bench number or nickname").fill("Owl")
        plate(tablet, "That is us").click()
        expect(plate(tablet, "I need help")).to_be_visible()
        look(tablet, "help-button", "dim")
        plate(tablet, "I need help").click()
        expect(title(tablet)).to_have_text("A helper comes.")
        expect(tablet.locator("#place")).to_have_text("You are next.")
        for helper in (first, second):
            expect(title(helper)).to_have_text("1 waits for help")

        # A photo goes with it.
        picture = sample_images.sample_path("owl.jpg")
        tablet.locator("#camera").set_input_files(picture)
        expect(tablet.get_by_text("The helper sees your photo.")).to_be_visible()
        first.wait_for_function("() => document.querySelector('li.wait img')?.naturalWidth > 0")
        look(tablet, "help-waiting", "bright")

        # Another bench waits behind it, and the helper enters it by hand.
        plate(first, "A bench asks").click()
        look(first, "queue-asks", "dim")
        first.get_by_label("Which bench asks?").fill("7")
        plate(first, "Add to the queue").click()
        expect(title(second)).to_have_text("2 wait for help")
        look(first, "queue", "bright")

        # Two take at the same moment: the second is told who was quicker.
        def too_late(route: Route) -> None:
            plate(first, "Take Owl").click()
            expect(plate(first, "Solved")).to_be_visible()
            route.continue_()

        second.route("**/take?*", too_late)
        plate(second, "Take Owl").click()
        expect(second.locator(".note-line")).to_have_text("Taken already, by helper 1.")
        expect(slip(second, "Owl").locator(".since")).to_have_text("with helper 1")
        expect(title(tablet)).to_have_text("A helper is on the way.")
        look(tablet, "help-on-the-way")
        look(first, "queue-call", "bright")
        look(second, "queue-taken")

        # The helper's phone shows the very photo.
        plate(first, "Put back").click()
        expect(title(tablet)).to_have_text("A helper comes.")
        plate(first, "Take Owl").click()
        first.get_by_role("link", name="Open the sculpture").click()
        first.wait_for_selector("body.on-colours #picture image")
        first.goto(f"{laptop.address}/rooms/queue")
        plate(first, "Open Owl").click()
        plate(first, "Solved").click()
        look(first, "queue-what", "dim")
        plate(first, "LED backwards").click()
        expect(title(second)).to_have_text("1 waits for help")
        expect(second.locator(".tally")).to_contain_text("LED backwards")
        expect(plate(tablet, "I need help")).to_be_visible()

        # Two benches share the tablet: after a while it is there for the next one.
        tablet.clock.install()
        plate(tablet, "Another bench").click()
        tablet.get_by_label("Bench number or nickname").fill("Fox")
        plate(tablet, "That is us").click()
        plate(tablet, "I need help").click()
        expect(tablet.locator("#place")).to_have_text("1 bench is before you.")
        tablet.clock.fast_forward(21_000)
        expect(title(tablet)).to_have_text("Which bench are you?")
        plate(tablet, "Fox").click()
        plate(tablet, "It works now").click()
        expect(plate(tablet, "I need help")).to_be_visible()
        expect(title(second)).to_have_text("1 waits for help")


def test_what_is_shown_may_be_old(
    browser: Browser, laptop: Laptop, owner: APIRequestContext, workshop: str, look: Look
) -> None:
    with (
        joined(browser, laptop, owner, workshop, "helper") as context,
        joined(browser, laptop, owner, workshop, "bench") as bench,
    ):
        for n in range(1, 6):
            call = sent(owner, f"/workshops/{workshop}/calls", {"bench": str(n)})
            sent(owner, f"/calls/{call['id']}/take?after=1")
            sent(owner, f"/calls/{call['id']}/solve?after=2", {"kind": "led-backwards"})
        sent(owner, f"/workshops/{workshop}/calls", {"bench": "7"})
        page = opened(context, f"{laptop.address}/rooms/queue")
        expect(page.locator("#stop-class")).to_contain_text("show long leg and short leg")
        tablet = opened(bench, f"{laptop.address}/rooms/help")
        tablet.get_by_label("Bench number or nickname").fill("8")
        plate(tablet, "That is us").click()
        expect(plate(tablet, "I need help")).to_be_visible()
        laptop.stop()
        expect(page.locator(".not-live")).to_contain_text("It goes on by itself.")
        expect(page.locator("#bar")).to_have_class("bar loose")
        look(page, "queue-not-live", "bright")
        expect(tablet.locator(".not-live")).to_have_text("No way to the laptop. Raise your hand.")
        plate(tablet, "I need help").click()
        expect(tablet.locator(".not-live")).to_have_text("No way to the laptop. Your call goes by itself.")
        look(tablet, "help-not-live")
        laptop.start()
        expect(page.locator(".not-live")).to_have_count(0)
        expect(title(tablet)).to_have_text("A helper comes.")
        expect(title(page)).to_have_text("2 wait for help")
        way_in = owner.get(f"/workshops/{workshop}/joins").json()[0]
        owner.delete(f"/workshops/{workshop}/devices/{way_in['devices'][0]['id']}")
        expect(title(page)).to_have_text("This phone is out.")
        look(page, "queue-out")

    # Over is over: on the laptop nobody is offered to go anywhere.
    assert owner.post(f"/workshops/{workshop}/end").ok
    with watched(browser.new_context(**LAPTOP), laptop.address) as context:
        page = opened(context, f"{laptop.address}/rooms/queue?workshop={workshop}")
        expect(title(page)).to_have_text("This workshop is over.")
        expect(page.get_by_role("button", name="Take")).to_have_count(0)
        expect(page.locator(".tally")).to_contain_text("LED backwards")
        look(page, "queue-over", "dim")
