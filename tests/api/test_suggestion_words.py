"""Suggestions in the report and on the command line: named as such, and no + is claimed."""

from api.commands import _suggestion_lines
from api.reporting import suggestions_out
from api.schemas import PhotoOut, Report
from vision.model import LeadSeen, LedSeen, Suggestions

FOUND = Suggestions(
    leds=(
        LedSeen((10.04, 20.0), 2.4, None, "off", 0.806, ((1.0, 2.0), (3.0, 4.0))),
        LedSeen((50.0, 60.0), 5.2, "red", "bright", 0.9),
    ),
    leads=(LeadSeen("black", (7.0, 8.0), 0.55),),
)


def test_suggestions_stand_in_the_report_in_photo_pixels() -> None:
    out = suggestions_out(FOUND)
    assert out is not None
    assert out.model_dump(mode="json") == {
        "leds": [
            {
                "at": [10.0, 20.0],
                "size_mm": 5,
                "colour": None,
                "seen": "off",
                "legs": [[1.0, 2.0], [3.0, 4.0]],
                "confidence": 0.81,
            },
            {
                "at": [50.0, 60.0],
                "size_mm": 10,
                "colour": "red",
                "seen": "bright",
                "legs": None,
                "confidence": 0.9,
            },
        ],
        "leads": [{"colour": "black", "at": [7.0, 8.0], "confidence": 0.55}],
    }


def test_nothing_was_looked_for_in_a_drawing() -> None:
    assert suggestions_out(None) is None


def test_one_line_each_names_it_a_suggestion() -> None:
    photo = PhotoOut(width=9, height=9, mm_per_px=0.1, true_scale=True, labels="labels.png")
    lines = _suggestion_lines(Report(photo=photo, pieces=[], contacts=[], suggestions=suggestions_out(FOUND)))
    assert len(lines) == 3
    assert all(line.startswith("Suggestion to confirm: ") for line in lines)
    assert "colour cannot be told" in lines[0]
    assert "+ unknown" in lines[0]
    assert "legs" not in lines[1]
    assert "black lead" in lines[2]
