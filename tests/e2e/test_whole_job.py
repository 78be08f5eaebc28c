"""The whole job, from snap to verdict, by three hands: a thumb, a mouse, and keys alone."""

import io
from collections.abc import Callable

import pytest
from hands_on import LAPTOP, PHONE, case_of, page_of, plate, spot, tab_to, title, touch
from PIL import Image
from playwright.sync_api import Browser, Locator, Page, expect

import sample_images

CASE = case_of("owl")
PHOTO = sample_images.sample_path("owl.jpg")
CROSS = """() => {
  const spot = document.querySelector("#picture .glass .dot");
  if (!spot) return null;
  const middle = new DOMPoint(+spot.getAttribute("cx"), +spot.getAttribute("cy"));
  const at = middle.matrixTransform(spot.getScreenCTM());
  const p = at.matrixTransform(document.querySelector("#picture image").getScreenCTM().inverse());
  return [p.x, p.y];
}"""


class Thumb:
    """Touch events only."""

    device = PHONE

    def __init__(self, page: Page) -> None:
        self.page = page

    def press(self, what: Locator) -> None:
        what.tap()

    def tap(self, at: list[float]) -> None:
        touch(self.page, at)

    def write(self, where: Locator, text: str) -> None:
        where.tap()
        self.page.keyboard.type(text)

    def choose(self, where: Locator, value: str) -> None:
        where.tap()  # the wheel of a phone is not the page's
        where.select_option(value)


class Mouse(Thumb):
    """Clicks only."""

    device = LAPTOP

    def press(self, what: Locator) -> None:
        what.click()

    def tap(self, at: list[float]) -> None:
        self.page.mouse.click(*spot(self.page, at))

    def write(self, where: Locator, text: str) -> None:
        where.click()
        self.page.keyboard.type(text)

    def choose(self, where: Locator, value: str) -> None:
        where.select_option(value)


class Keys(Thumb):
    """Tab, arrows, Enter, Space and letters; nothing is ever focused from outside."""

    device = LAPTOP

    def press(self, what: Locator) -> None:
        what.wait_for()
        tab_to(self.page, what)
        self.page.keyboard.press("Enter")

    def tap(self, at: list[float]) -> None:
        tab_to(self.page, self.page.locator("#picture"))
        self.page.keyboard.press("ArrowRight")
        for axis, (less, more) in enumerate((("ArrowLeft", "ArrowRight"), ("ArrowUp", "ArrowDown"))):
            gap = round(at[axis] - self.page.evaluate(CROSS)[axis])
            key = more if gap > 0 else less
            self.page.keyboard.down("Shift")
            for _ in range(abs(gap) // 10):  # held down, it repeats itself
                self.page.keyboard.down(key)
            self.page.keyboard.up(key)
            self.page.keyboard.up("Shift")
            for _ in range(abs(gap) % 10):
                self.page.keyboard.press(key)
        self.page.keyboard.press("Enter")

    def write(self, where: Locator, text: str) -> None:
        tab_to(self.page, where)
        self.page.keyboard.type(text)

    def choose(self, where: Locator, value: str) -> None:
        tab_to(self.page, where)
        words = where.locator(f"option[value={value}]").inner_text()
        self.page.keyboard.type(words)
        expect(where).to_have_value(value)


@pytest.mark.parametrize("hand_of", [Thumb, Mouse, Keys], ids=["thumb", "mouse", "keys"])
def test_from_snap_to_verdict(
    browser: Browser, address: str, hand_of: type[Thumb], check_layout: Callable[[Page], None]
) -> None:
    with page_of(browser, address, **hand_of.device) as page:
        hand = hand_of(page)
        check_layout(page)
        with page.expect_file_chooser() as chooser:
            hand.press(plate(page, "Take a photo" if hand_of is Thumb else "Choose a photo"))
        chooser.value.set_files(PHOTO)
        tell_colours(page, hand)
        check_layout(page)
        tell_size(page, hand)
        hand.press(plate(page, "Entries"))
        tell_entries(page, hand)
        check_layout(page)
        hand.press(plate(page, "Find the fault"))
        page.wait_for_selector("body.on-answer")
        check_answer(page)
        check_layout(page)
        check_levels(page, hand)


def tell_colours(page: Page, hand: Thumb) -> None:
    page.wait_for_selector("body.on-colours")
    for i, dough in enumerate(CASE["palette"]):
        if i:
            hand.press(plate(page, "Add dough"))
        told = sum(len(one["taps"]) for one in CASE["palette"][:i])
        for n, tap in enumerate(dough["taps"], start=told + 1):
            hand.tap(tap)
            expect(page.locator("#picture .disc")).to_have_count(n)
        row = page.locator(".dough").nth(i)
        hand.press(row.get_by_role("button", name=dough["role"], exact=True))
    page.wait_for_selector("#picture .core", state="attached")


def tell_size(page: Page, hand: Thumb) -> None:
    hand.press(plate(page, "Tell the size"))
    for end in CASE["scale"]["points"]:
        hand.tap(end)
    hand.write(page.get_by_label("Millimetres between them"), str(CASE["scale"]["mm"]))
    page.keyboard.press("Tab")
    hand.press(plate(page, "Done"))
    page.wait_for_selector("body.on-colours")


def tell_entries(page: Page, hand: Thumb) -> None:
    expect(title(page)).to_have_text("Tap the red lead.")
    hand.tap(CASE["pack"]["plus"])
    expect(title(page)).to_have_text("Tap the black lead.")
    hand.tap(CASE["pack"]["minus"])
    for i, led in enumerate(CASE["leds"]):
        if i:
            hand.press(plate(page, "Add LED"))
        expect(title(page)).to_have_text(f"Tap the long leg of L{i + 1}.")
        hand.tap(led["long_leg"])
        # Where the photo shows the LED, one tap may have told both legs.
        if title(page).inner_text() == f"Tap the short leg of L{i + 1}.":
            hand.tap(led["short_leg"])
        hand.choose(page.get_by_label(f"L{i + 1} is"), led["colour"])
        if led.get("seen"):
            hand.press(plate(page, led["seen"]))


def check_answer(page: Page) -> None:
    """Place, one short sentence, what to do, every light, one main plate, in this order."""
    page.wait_for_selector("#picture .found .mark", state="attached")
    assert len(title(page).inner_text()) < 46
    assert page.locator(".lights li").count() == len(CASE["leds"])
    assert page.locator(".plate.main").count() == 1
    order = ("#picture", "#words .say", "#words .do", ".lights", ".plate.main")
    tops = [page.locator(where).first.bounding_box()["y"] for where in order]  # type: ignore[index]
    beside = page.viewport_size["width"] > 899  # type: ignore[index]
    assert tops[beside:] == sorted(tops[beside:])


def check_levels(page: Page, hand: Thumb) -> None:
    sentences = set()
    for level in ("Ask", "Look", "Do"):
        hand.press(plate(page, level))
        expect(plate(page, level)).to_have_attribute("aria-pressed", "true")
        sentences.add(page.locator("#words .answer .say").inner_text())
    assert len(sentences) == 3
    hand.press(page.locator("[data-key=keep]"))
    kept = page.get_by_role("link", name="Keep picture").get_attribute("href")
    picture = page.request.get(f"{page.url.partition('#')[0]}{kept}")
    assert Image.open(io.BytesIO(picture.body())).format == "PNG"
