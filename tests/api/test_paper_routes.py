"""PDFs over the web: who gets which, under what name, kept nowhere."""

from typing import Any

import pypdfium2
import pytest
from askers import on_phone
from fastapi.testclient import TestClient

WORKSHOP = {"name": "Tuesday / club", "day": "2026-11-24", "challenge": {"rules": [{"rule": "side-by-side"}]}}


@pytest.fixture
def workshop(client: TestClient) -> str:
    return str(client.post("/workshops", json=WORKSHOP).json()["id"])


@pytest.fixture
def sculpture(client: TestClient, workshop: str, case: dict[str, Any], photo_id: str) -> str:
    """A sculpture with one inspection."""
    one = client.post(f"/workshops/{workshop}/sculptures", json={"bench": "7"}).json()
    assert client.put(f"/sculptures/{one['id']}/photos/{photo_id}").status_code == 204
    assert client.post("/inspections", json=case).status_code == 201
    told = {"title": 'Käfer "7"\r\n; x=y', "maker": "Moth", "learned": "", "overlay": True, "finished": True}
    assert client.put(f"/sculptures/{one['id']}?after=1", json=told).status_code == 200
    return str(one["id"])


def test_each_pdf_is_shown_in_place_under_a_plain_name_and_kept_nowhere(
    client: TestClient, workshop: str, sculpture: str
) -> None:
    for address, name, size in (
        (f"/sculptures/{sculpture}/sheet.pdf?paper=letter", "kafer-7-x-y-sheet.pdf", (612, 792)),
        (f"/sculptures/{sculpture}/card.pdf", "kafer-7-x-y-card.pdf", (297.6, 420.9)),
        (f"/workshops/{workshop}/class.pdf", "tuesday-club-class.pdf", (595.3, 841.9)),
        (f"/workshops/{workshop}/cards.pdf?paper=letter", "tuesday-club-cards.pdf", (612, 792)),
    ):
        answer = client.get(address)
        assert answer.status_code == 200, answer.text
        assert answer.headers["content-type"] == "application/pdf"
        assert answer.headers["content-disposition"] == f'inline; filename="{name}"'
        assert answer.headers["cache-control"] == "private, no-store"
        document = pypdfium2.PdfDocument(answer.content)
        assert document[0].get_size() == pytest.approx(size, abs=0.1)
        said = document[0].get_textpage().get_text_range()
        assert "Moth" in said
        assert "Käfer" in said


def test_what_is_not_there_or_not_open_is_404(client: TestClient, workshop: str, sculpture: str) -> None:
    for address in ("/sculptures/x/sheet.pdf", "/sculptures/x/card.pdf", "/workshops/x/class.pdf"):
        answer = client.get(address)
        assert (answer.status_code, len(answer.json()["error"]) > 20) == (404, True)
    assert client.get(f"/sculptures/{sculpture}/sheet.pdf?paper=a5").status_code == 422
    with on_phone(client.app) as stranger:  # type: ignore[arg-type]
        for address in (f"/sculptures/{sculpture}/sheet.pdf", f"/workshops/{workshop}/class.pdf"):
            assert stranger.get(address).status_code in (401, 403, 404)


def test_a_deleted_photo_leaves_a_sheet_without_it(client: TestClient, sculpture: str, photo_id: str) -> None:
    before = client.get(f"/sculptures/{sculpture}/sheet.pdf").content
    assert client.delete(f"/photos/{photo_id}").status_code == 204
    after = client.get(f"/sculptures/{sculpture}/sheet.pdf")
    assert after.status_code == 200
    said = [pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_range() for pdf in (before, after.content)]
    assert ["draw it here" in text for text in said] == [True, True]  # at first there is no photo of before
    assert [text.count("draw it here") for text in said] == [1, 2]
