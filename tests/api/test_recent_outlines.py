"""Outlines while doughs are being tapped: how far the dough reached the last time spares a look."""

from functools import cache
from typing import Any

import pytest

from api.recent import RecentSculptures
from api.schemas import Case, Report
from sample_images import sample_path
from vision import eyes
from vision.seen import Seen

NAME = "frog"


@cache
def photo() -> bytes:
    return sample_path(f"{NAME}.jpg").read_bytes()


def tapped(taps: int) -> Case:
    """The case without its entries, with so many taps on each dough."""
    told = Case.model_validate_json(sample_path(f"{NAME}.case.json").read_text("utf-8"))
    palette = tuple(one.model_copy(update={"taps": one.taps[:taps]}) for one in told.palette)
    return told.model_copy(update={"pack": None, "leds": (), "palette": palette})


def outlined(recent: RecentSculptures, case: Case) -> Report:
    return recent.inspect(case, photo(), on_stage=lambda _: None).report


def area_mm2(report: Report) -> dict[str, float]:
    out: dict[str, float] = {}
    for piece in report.pieces:
        out[piece.colour] = out.get(piece.colour, 0.0) + piece.area_mm2
    return out


def test_outlines_after_one_more_tap_need_one_look(monkeypatch: pytest.MonkeyPatch) -> None:
    looks: list[Any] = []
    real = eyes._look_at

    def counting(*told: Any) -> Seen:
        looks.append(told)
        return real(*told)

    monkeypatch.setattr(eyes, "_look_at", counting)
    recent = RecentSculptures()
    outlined(recent, tapped(1))
    first = len(looks)
    assert first > 1
    after = area_mm2(outlined(recent, tapped(2)))
    assert len(looks) == first + 1
    afresh = area_mm2(outlined(RecentSculptures(), tapped(2)))
    assert after == pytest.approx(afresh, rel=0.03)
