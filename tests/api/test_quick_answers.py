"""What makes the page quick: text goes over packed, a photo is decoded once, and is let go when deleted."""

import io
from collections.abc import Iterator

import numpy as np
import pytest
from fastapi.testclient import TestClient
from PIL import Image

from api import opened
from api.guard import OF_DOCUMENTS
from api.opened import forget_opened
from api.own_files import bare
from vision.model import Photo

PACKED = {"accept-encoding": "gzip"}


def jpeg(seed: int) -> bytes:
    out = io.BytesIO()
    noise = np.random.default_rng(seed).integers(0, 255, (300, 400, 3), np.uint8)
    Image.fromarray(noise).save(out, "JPEG")
    return out.getvalue()


def test_code_goes_over_without_comments_and_keeps_its_lines() -> None:
    code = """// @ts-check
/** What it is.
 * @param {string} a
 */
const url = "http://x/*y*/"; // stays
  // gone
const t = (/** @type {any} */ z) => z / 2; /* stays */
/** one line */ const kept = 1;
/** and one that ends
 * later */
"""
    told = bare(code)
    assert told.count("\n") == code.count("\n")
    assert [line for line in told.splitlines() if line] == [
        'const url = "http://x/*y*/"; // stays',
        "const t = (/** @type {any} */ z) => z / 2; /* stays */",
        "/** one line */ const kept = 1;",
    ]


def test_unchanged_code_is_not_sent_again(client: TestClient) -> None:
    first = client.get("/static/js/app.js")
    assert "@ts-check" not in first.text and "import" in first.text
    again = client.get("/static/js/app.js", headers={"if-none-match": first.headers["etag"]})
    assert again.status_code == 304 and not again.content


def test_scripts_go_without_the_headers_of_documents(client: TestClient) -> None:
    for path in ("/static/js/app.js", "/static/css/tokens.css"):
        told = client.get(path).headers
        assert told["x-content-type-options"] == "nosniff"
        assert not set(OF_DOCUMENTS) & set(told)
    assert set(OF_DOCUMENTS) < set(client.get("/static/icon.svg").headers)


@pytest.fixture
def decoded(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[int]]:
    """How often a photo was decoded, as a list of lengths of files."""
    noted: list[int] = []
    real = opened.open_photo

    def noting(data: bytes, shrink: int) -> Photo:
        noted.append(len(data))
        return real(data, shrink)

    monkeypatch.setattr(opened, "open_photo", noting)
    forget_opened()
    yield noted
    forget_opened()


def test_text_goes_over_packed_and_photos_as_they_are(client: TestClient, photo_id: str) -> None:
    for path in ("/", "/static/js/app.js", "/static/css/tokens.css"):
        packed = client.get(path, headers=PACKED)
        assert packed.headers["content-encoding"] == "gzip"
        assert packed.num_bytes_downloaded < len(packed.content) / 2
        assert packed.content == client.get(path, headers={"accept-encoding": "identity"}).content
    assert "content-encoding" not in client.get(f"/photos/{photo_id}", headers=PACKED).headers


def test_a_photo_is_decoded_once(decoded: list[int]) -> None:
    data = jpeg(1)
    first = opened.opened(data, None)
    assert opened.opened(bytes(bytearray(data)), None) is first
    assert len(decoded) == 1


def test_only_the_last_photos_are_held(decoded: list[int]) -> None:
    files = [jpeg(seed) for seed in range(opened.MOST + 1)]
    for data in (*files, files[0], files[-1]):
        opened.opened(data, None)
    assert decoded == [len(data) for data in (*files, files[0])]


def test_a_deleted_photo_is_not_held(client: TestClient, photo_id: str, decoded: list[int]) -> None:
    data = client.get(f"/photos/{photo_id}").content
    opened.opened(data, None)
    client.delete(f"/photos/{photo_id}")
    opened.opened(data, None)
    assert decoded == [len(data)] * 2
