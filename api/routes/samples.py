"""Sample sculptures, so that the page can be tried without dough."""

import json
from typing import Any

from fastapi import APIRouter, HTTPException
from pydantic import BaseModel

import sample_images
from api.language.speech import translated
from api.routes.parts import AnyoneInside, HelperOrOwner, Needs, place_for
from api.routes.photos import PhotoAnswer, keep_photo

router = APIRouter(tags=["samples"], dependencies=[AnyoneInside])


class SampleAnswer(BaseModel):
    """A sample by name, with one line on what is to be seen."""

    name: str
    title: str


class LoadedSample(BaseModel):
    """A sample's photo, now kept, and its case with the photo's id in it."""

    photo: PhotoAnswer
    case: dict[str, Any]


@router.get("/samples")
def list_samples() -> list[SampleAnswer]:
    """All samples."""
    titles = _titles()
    return [
        SampleAnswer(name=name, title=translated(titles.get(name, name.replace("_", " ").replace("-", " "))))
        for name in sample_images.names()
    ]


@router.post("/samples/{name}", status_code=201, dependencies=[HelperOrOwner])
def load_sample(has: Needs, name: str) -> LoadedSample:
    """Keep the photo of a sample and hand out its case. Not for a bench: it would stand for what it built."""
    if name not in sample_images.names():
        raise HTTPException(404, "There is no sample of this name. Choose one from the list.")
    photo = keep_photo(has, sample_images.sample_path(f"{name}.jpg").read_bytes(), place=place_for(has, None))
    case: dict[str, Any] = json.loads(sample_images.sample_path(f"{name}.case.json").read_text("utf-8"))
    case.pop("labels", None)
    return LoadedSample(photo=photo, case={**case, "photo": photo.id})


def _titles() -> dict[str, str]:
    """Titles by name from `samples.json`; a sample without one is shown by its name."""
    rows = json.loads(sample_images.sample_path("samples.json").read_text("utf-8"))
    return {str(row["name"]): str(row["title"]) for row in rows if row.get("title")}
