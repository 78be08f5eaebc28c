"""The room where faces are covered: by touch, mouse and keys; nothing goes before it was asked for twice."""

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hands_on import LAPTOP, PHONE, drag, page_of, plate, spot, tab_to
from numpy.typing import NDArray
from PIL import Image
from playwright.sync_api import Browser, Page, expect

import sample_images

WIDTH, HEIGHT = 800, 600
SIZES = {"phone": PHONE, "laptop": LAPTOP}
ROOMS = {"bright": "light", "dim": "dark"}


def sent(page: Page, address: str) -> str:
    """A sample photo, kept on the server."""
    photo = Image.open(sample_images.sample_path("owl.jpg")).resize((WIDTH, HEIGHT))
    out = io.BytesIO()
    photo.save(out, "JPEG")
    file = {"name": "photo.jpg", "mimeType": "image/jpeg", "buffer": out.getvalue()}
    answer = page.request.post(f"{address}/photos", multipart={"photo": file})
    assert answer.status == 201, answer.text()
    return str(answer.json()["id"])


def pixels(page: Page, address: str, photo: str) -> NDArray[np.int64]:
    got = page.request.get(f"{address}/photos/{photo}").body()
    return np.array(Image.open(io.BytesIO(got)), np.int64)


def cover(page: Page, address: str) -> str:
    photo = sent(page, address)
    page.goto(f"{address}/rooms/cover?photo={photo}")
    shown(page)
    return photo


def shown(page: Page) -> None:
    page.wait_for_function("document.querySelector('#picture image')?.getBoundingClientRect().width > 200")


def told(page: Page, words: str) -> None:
    expect(page.locator("#room").get_by_text(words)).to_be_visible()


def surely(page: Page) -> None:
    """Both steps: 'Cover', and that it cannot be taken back."""
    plate(page, "Cover").click()
    expect(page.get_by_role("dialog", name="This cannot be taken back.")).to_be_visible()
    plate(page, "Destroy what is covered").click()
    told(page, "It is covered.")


@pytest.mark.parametrize(("size", "room"), [("phone", "dim"), ("laptop", "bright")])
def test_it_can_be_used_and_read(
    browser: Browser,
    address: str,
    room: str,
    size: str,
    check_layout: Callable[[Page], None],
    check_access: Callable[[Page], None],
    keep_picture: Callable[[Page, str], None],
) -> None:
    device: dict[str, Any] = {**SIZES[size], "color_scheme": ROOMS[room], "reduced_motion": "reduce"}
    with page_of(browser, address, **device) as page:
        cover(page, address)
        drag(page, (120, 90), (200, 140))
        told(page, "1 place is to be blurred.")
        keep_picture(page, f"cover-blur-{size}-{room}")
        check_layout(page)
        check_access(page)
        plate(page, "Keep only this part").click()
        keep_picture(page, f"cover-frame-{size}-{room}")
        check_layout(page)
        check_access(page)
        plate(page, "Cover").click()
        expect(page.get_by_role("dialog")).to_be_visible()
        keep_picture(page, f"cover-sure-{size}-{room}")
        check_layout(page)
        check_access(page)


def test_back_leads_to_where_one_came_from(browser: Browser, address: str) -> None:
    with page_of(browser, address, **PHONE) as page:
        page.goto(f"{address}/rooms/join?from=a")
        page.evaluate("photo => location.assign(`cover?photo=${photo}`)", sent(page, address))
        back = page.get_by_role("link", name="Back")
        expect(back).to_have_attribute("href", "../rooms/join?from=a")


def test_by_mouse_what_is_drawn_over_is_gone(browser: Browser, address: str) -> None:
    with page_of(browser, address, **LAPTOP) as page:
        photo = cover(page, address)
        before = pixels(page, address, photo)
        drag(page, (600, 100), (700, 100))
        drag(page, (100, 500), (160, 540))
        told(page, "2 places are to be blurred.")
        plate(page, "Undo").click()
        told(page, "1 place is to be blurred.")
        assert (pixels(page, address, photo) == before).all(), "nothing is sent yet"
        plate(page, "Cover").click()
        plate(page, "Close").click()
        assert (pixels(page, address, photo) == before).all(), "it was not sure"
        surely(page)
        after = pixels(page, address, photo)
        gone = np.abs(after - before)[85:115, 600:700].mean()
        assert gone > 4, "the table lies under tiles"
        assert np.abs(after - before)[480:560, 80:180].mean() < 2, "what was undone is as it was"
        expect(plate(page, "Cover")).to_be_disabled()


def test_by_touch_a_finger_covers(browser: Browser, address: str) -> None:
    with page_of(browser, address, **PHONE) as page:
        photo = cover(page, address)
        before = pixels(page, address, photo)
        (x0, y0), (x1, y1) = spot(page, (600, 100)), spot(page, (700, 120))
        touch = page.context.new_cdp_session(page)
        points = [(x0, y0), ((x0 + x1) / 2, (y0 + y1) / 2), (x1, y1)]
        for kind, at in zip(("touchStart", "touchMove", "touchMove"), points, strict=True):
            touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": at[0], "y": at[1]}]})
        touch.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        told(page, "1 place is to be blurred.")
        surely(page)
        assert np.abs(pixels(page, address, photo) - before)[90:130, 610:690].mean() > 4


def test_by_keys_alone_a_line_and_a_frame(browser: Browser, address: str) -> None:
    with page_of(browser, address, **LAPTOP) as page:
        photo = cover(page, address)
        picture = page.locator("#picture")
        tab_to(page, picture)
        page.keyboard.press("Shift+ArrowRight")
        page.keyboard.press("Enter")
        for _ in range(4):
            page.keyboard.press("Shift+ArrowRight")
        page.keyboard.press("Enter")
        page.keyboard.press("Enter")
        told(page, "1 place is to be blurred.")
        tab_to(page, plate(page, "Keep only this part"))
        page.keyboard.press("Enter")
        tab_to(page, plate(page, "Corner at the top left"), key="Shift+Tab")
        for _ in range(3):
            page.keyboard.press("Shift+ArrowRight")
        told(page, "Only the framed part is kept.")
        tab_to(page, plate(page, "Cover"))
        page.keyboard.press("Enter")
        tab_to(page, plate(page, "Destroy what is covered"))
        page.keyboard.press("Enter")
        told(page, "It is covered.")
        done = pixels(page, address, photo)
        assert np.abs(done[:, :80] - done[0, 0]).max() <= 4, "outside of the frame all is flat"
        assert np.ptp(done[200:400, 200:600]) > 60


def test_the_phone_keeps_the_covered_photo_too(browser: Browser, address: str, tmp_path: Path) -> None:
    """The bench page of the same device has the photo as it was taken: it gets the new one."""
    file = tmp_path / "taken.jpg"
    Image.open(sample_images.sample_path("owl.jpg")).resize((WIDTH, HEIGHT)).save(file)
    with page_of(browser, address, **PHONE) as page:
        with page.expect_response("**/photos?token=*") as answer:
            page.set_input_files("input[type=file] >> nth=0", file)
        photo = answer.value.json()["id"]
        page.wait_for_selector("body.on-colours")
        page.goto(f"{address}/rooms/cover?photo={photo}")
        shown(page)
        drag(page, (600, 100), (700, 100))
        surely(page)
        new = page.request.get(f"{address}/photos/{photo}").body()
        kept = page.evaluate(
            """async () => {
              const { kept } = await import("../static/js/keep.js");
              return [...new Uint8Array(await (await kept()).photo.file.arrayBuffer())];
            }"""
        )
        assert bytes(kept) == new
