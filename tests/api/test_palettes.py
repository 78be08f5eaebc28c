"""Proposed palettes over HTTP: the last photo's doughs on a new one, and the doughs on the mat's rings."""

import io
import json
from typing import Any

import cv2
import numpy as np
import pypdfium2
import pytest
from fastapi.testclient import TestClient
from PIL import Image

import sample_images
from api.mat_sheet import mat_pdf
from vision.mat_layout import PAD_RADIUS_MM, mat_layout

PX_MM = 0.15
OWL = [
    {"name": "pink", "role": "conductive", "rgb": [200, 100, 120]},
    {"name": "sky", "role": "insulating", "rgb": [90, 170, 215]},
]


def jpeg(pixels: np.ndarray) -> bytes:
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=90)
    return out.getvalue()


def kept(client: TestClient, data: bytes) -> str:
    return str(client.post("/photos", files={"photo": data}).json()["id"])


@pytest.fixture
def on_mat(client: TestClient) -> str:
    """The printed mat from straight above, with dough on rings 1 and 5."""
    page = pypdfium2.PdfDocument(mat_pdf("a4"))[0]
    seen = np.ascontiguousarray(page.render(scale=25.4 / 72 / PX_MM).to_numpy()[..., 2::-1])
    for ring, colour in ((1, (205, 92, 120)), (5, (226, 200, 150))):
        x, y = mat_layout("a4").pads[ring - 1].at
        cv2.circle(seen, (round(x / PX_MM), round(y / PX_MM)), round(0.8 * PAD_RADIUS_MM / PX_MM), colour, -1)
    return kept(client, jpeg(cv2.GaussianBlur(seen, (0, 0), 1)))


def test_taps_for_what_is_found_and_none_for_what_is_not(client: TestClient) -> None:
    case: dict[str, Any] = json.loads(sample_images.sample_path("owl.case.json").read_text("utf-8"))
    data = sample_images.sample_path("owl.jpg").read_bytes()
    pixels = np.asarray(Image.open(io.BytesIO(data)).convert("RGB"))
    doughs = [
        {"name": one["name"], "role": one["role"], "rgb": pixels[int(y), int(x)].tolist()}
        for one in case["palette"]
        for x, y in one["taps"][:1]
    ]
    doughs.append({"name": "violet", "role": "insulating", "rgb": [120, 40, 190]})
    answer = client.post("/palettes/found", json={"photo": kept(client, data), "doughs": doughs})
    assert answer.status_code == 200
    found = answer.json()["doughs"]
    assert [one["name"] for one in found] == [one["name"] for one in doughs]
    assert all(one["taps"] and one["sure"] >= 0.6 for one in found[:-1])
    assert found[-1]["taps"] == []


@pytest.mark.parametrize(
    ("patch", "status", "says"),
    [
        ({"photo": "unknown"}, 404, "Send it again."),
        ({"doughs": []}, 422, "doughs"),
        ({"doughs": [OWL[0], OWL[0]]}, 422, "Two doughs are named pink."),
        ({"doughs": [{**OWL[0], "rgb": [0, 0, 256]}]}, 422, "rgb"),
        ({"doughs": [{**OWL[0], "shape": "round"}]}, 422, "shape"),
    ],
)
def test_what_cannot_be_used_is_told_in_one_sentence(
    client: TestClient, photo_id: str, patch: dict[str, Any], status: int, says: str
) -> None:
    answer = client.post("/palettes/found", json={"photo": photo_id, "doughs": OWL, **patch})
    assert answer.status_code == status
    assert says in answer.json()["error"]


def test_the_rings_of_the_mat_tell_the_doughs(client: TestClient, on_mat: str) -> None:
    told = client.get(f"/photos/{on_mat}/mat").json()
    assert told["mm_per_px"] == pytest.approx(PX_MM, rel=0.02)
    assert [(pad["pad"], pad["role"]) for pad in told["pads"]] == [(1, "conductive"), (5, "insulating")]
    red, green, blue = told["pads"][0]["rgb"]
    assert red > blue > green and len(told["table"]) > 2


def test_a_photo_without_the_mat_says_so(client: TestClient, photo_id: str) -> None:
    answer = client.get(f"/photos/{photo_id}/mat")
    assert answer.status_code == 422
    assert answer.json()["error"].startswith("No mat can be seen in the photo.")
    assert client.get("/photos/unknown/mat").status_code == 404
