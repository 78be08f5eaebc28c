"""The dialogue of checks: case and report, its words for three ages, its routes, and what is kept."""

import json
import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import Any, get_args

import numpy as np
import pytest
from askers import at_laptop
from fastapi.testclient import TestClient
from pydantic import ValidationError
from typer.testing import CliRunner

import sample_images
from api import check_words as words
from api import commands, recent
from api.app import create_app
from api.check_schemas import CheckEntry
from api.checks_told import enquiry_lines, with_checks
from api.errors import InputError, sentence
from api.routes.checks import ELSEWHERE
from api.schemas import Case, Report
from api.settings import Settings
from api.wording import DIALOGUES, TABLES
from api.wording.sentences import MOST_LETTERS_ON_TOP, Age
from circuit.checks import KINDS
from circuit.model import Answer, Answered, Cause, CauseCode, CheckAction, Sculpture

AGES: tuple[Age, ...] = get_args(Age)
ACTIONS: tuple[CheckAction, ...] = get_args(CheckAction)
CAUSES: tuple[CauseCode, ...] = get_args(CauseCode)
ANSWERS: tuple[Answer, ...] = get_args(Answer)
MOST_WORDS: dict[Age, int] = {"6-8": 9, "9-12": 14, "13+": 24}
OF_LUMPS = ("pinch-apart", "press-together", "knead", "short-underneath", "contact-open", "contact-closed")
VERBS = re.compile(r"(Cut|Leave|Lift|Press|Pull|Put|Switch|Touch|Try|Turn|Unplug|Wet|Mend)\b")
BLAME = re.compile(
    r"\b(just|simply|oops|wrong|mistakes?|fault|easy|easily|obviously|forgot|bad|careless|should have"
    r"|you (made|did not|must))\b|!",
    re.IGNORECASE,
)


def parts_of(name: str) -> list[tuple[str, ...]]:
    """What a check or a cause of this name may be about, with long and with missing names."""
    if name == "press-in":
        return [("pack",), ("L2",), ("ABCDEFGHIJ12",)]
    if name in ("look-underneath", "swap-pack", "lead-loose", "pack-flat"):
        return [("pack",)]
    if name in OF_LUMPS:
        return [("A", "B"), ("A",), ("AB", "AC"), ()]
    return [("A",), ()] if name == "dough-dry" else [("L2",), ("ABCDEFGHIJ12",)]


def sentences(text: str) -> list[str]:
    return re.split(r"(?<=[.?])\s+", text)


def said_of_checks(age: Age) -> Iterator[tuple[str, str]]:
    for action in ACTIONS:
        for parts in parts_of(action):
            said = words.check_words(action, parts, age)
            yield f"{action} ask", said.ask
            yield f"{action} why", said.why
            yield f"{action} do", said.do


def said_of_causes(age: Age) -> Iterator[tuple[str, str]]:
    for code in CAUSES:
        for parts in parts_of(code):
            for mended in (True, False):
                says, do = words.named_words(Cause(code, parts, (0.0, 0.0)), mended, age, mended)
                yield f"{code} named", says
                yield f"{code} cure", do
    yield "cannot tell", words.cannot_tell_words(age)
    yield "worked", words.worked_words(age)


# ---------------------------------------------------------------- words


@pytest.mark.parametrize("age", AGES)
def test_every_check_answer_and_cause_has_words(age: Age) -> None:
    table = DIALOGUES[age]
    for part in (table.ask, table.why, table.do, table.done):
        assert {key.partition(":")[0] for key in part} == set(ACTIONS)
    for of_cause in (table.cause, table.named, table.was, table.cure):
        assert set(of_cause) == set(CAUSES)
    assert {key.rpartition(":")[2] for key in table.answer} == set(ANSWERS)


@pytest.mark.parametrize("age", AGES)
def test_sentences_are_whole_and_short_enough(age: Age) -> None:
    for where, text in (*said_of_checks(age), *said_of_causes(age)):
        for one in sentences(text):
            assert len(one.split()) <= MOST_WORDS[age], (where, one)
            assert one[-1] in ".?" and not one[0].islower(), (where, one)
        assert not re.search(r"[{}]|  |None", text), (where, text)
        assert not BLAME.search(text), (where, text)
        assert age != "6-8" or not re.search(r"\d", text), (where, text)
        if where.endswith("named"):
            assert len(text) <= MOST_LETTERS_ON_TOP, text
        if where.endswith((" do", " cure")):
            assert VERBS.match(text), (where, text)


@pytest.mark.parametrize("age", AGES)
def test_at_hint_level_ask_there_is_only_a_question_that_points_nowhere(age: Age) -> None:
    for action in ACTIONS:
        asked = words.check_words(action, parts_of(action)[0], age).ask
        assert asked.endswith("?")
        assert not re.search(r"\d|\b(here|there|this|L\d|[A-Z] and [A-Z]|turn|press|swap)\b", asked), asked


def test_the_richest_way_names_the_parts() -> None:
    said = words.check_words("turn", ("L2",))
    assert said.do == "Turn L2 round and look. If nothing changes, turn it back."
    assert words.check_words("press-in", ("L2",)).do != words.check_words("press-in", ("pack",)).do
    assert "A and B apart" in words.check_words("pinch-apart", ("A", "B")).do
    assert words.cause_words(Cause("short-underneath", ("A", "B"), (0, 0))) == "a short underneath, A to B"
    assert words.cause_words(Cause("contact-open", ("A",), (0, 0))) == "a gap in lump A"
    assert words.cause_words(Cause("leg-loose", ("L2",), (0, 0)), "6-8") == "a loose leg"
    assert words.done_words(Answered("turn", ("L2",), "same")) == "L2 turned round: no change"
    assert words.done_words(Answered("turn", ("L2",), "unsure"), "6-8") == "Light turned round: I cannot tell"


@pytest.mark.parametrize("age", AGES)
def test_what_is_not_sure_is_said_with_may(age: Age) -> None:
    for code in CAUSES:
        for parts in parts_of(code):
            assert " may " in words.named_words(Cause(code, parts, (0, 0)), False, age)[0]
            assert " may " not in words.named_words(Cause(code, parts, (0, 0)), True, age)[0]


@pytest.mark.parametrize("age", AGES)
def test_cautions_where_they_matter(age: Age) -> None:
    """Unplugged before dough is lifted, cut or pressed; an LED meets dough only, never the metal."""
    for action in ("look-underneath", "pinch-apart", "press-together", "knead"):
        assert words.check_words(action, ("A", "B"), age).do.startswith("Unplug the pack.")
    for code in ("short-underneath", "contact-open", "contact-closed", "dough-dry"):
        assert words.named_words(Cause(code, ("A", "B"), (0, 0)), False, age)[1].startswith(
            "Unplug the pack."
        )
    touch = words.check_words("touch-beside-leads", ("L2",), age).do
    assert len(re.findall(r"dough beside", touch)) == 2 and "Touch dough only, never the " in touch
    assert "apart" in words.check_words("press-in", ("pack",), age).do


@pytest.mark.parametrize("age", AGES)
def test_answers_fit_a_plate_and_the_last_is_always_that_one_cannot_tell(age: Age) -> None:
    for action, kind in KINDS.items():
        plates = [words.answer_words(action, answer, age) for answer in kind.answers]
        assert plates[-1] == "I cannot tell" and len(set(plates)) == len(plates)
        assert 3 <= len(plates) <= 4 and all(len(one) <= 26 for one in plates)
    assert TABLES[age].most_words == MOST_WORDS[age]


# ---------------------------------------------------------------- the case

WHOLE: dict[str, Any] = {
    "schema": "doughsight-case/1",
    "labels": "l.png",
    "palette": [{"name": "pink", "role": "conductive"}],
    "pack": {"plus": [1, 1], "minus": [20, 20]},
    "leds": [{"id": "L1", "long_leg": [3, 3], "short_leg": [6, 6]}],
}


def check(action: str, *parts: str, answer: str = "unsure") -> dict[str, Any]:
    return {"action": action, "parts": list(parts), "answer": answer}


def test_checks_are_kept_in_order() -> None:
    told = [check("turn", "L1", answer="same"), check("press-in", "pack"), check("knead", "B")]
    case = Case.model_validate({**WHOLE, "checks": told})
    assert [c.model_dump(mode="json") for c in case.checks] == told
    assert Case.model_validate(WHOLE).checks == ()


@pytest.mark.parametrize(
    ("wrong", "names"),
    [
        (check("dance", "L1"), "checks.0.action"),
        (check("turn", "L1", answer="bright"), "bright"),
        (check("turn", "L9"), "L9"),
        (check("turn", "pack"), "pack"),
        (check("swap-pack", "L1"), "L1"),
        (check("turn"), "checks.0.parts"),
        (check("turn", "L1", "L2"), "L1 and L2"),
        (check("pinch-apart", "A", "B", "C"), "checks.0.parts"),
        ({**check("turn", "L1"), "why": "so"}, "checks.0.why"),
    ],
)
def test_what_is_not_right_is_told_in_one_sentence(wrong: dict[str, Any], names: str) -> None:
    with pytest.raises(ValidationError) as caught:
        Case.model_validate({**WHOLE, "checks": [wrong]})
    told = sentence(caught.value)
    assert names in told and told.endswith(".") and len(sentences(told)) <= 2


def test_checks_need_a_pack() -> None:
    bare = {name: value for name, value in WHOLE.items() if name not in ("pack", "leds")}
    with pytest.raises(ValidationError, match="no pack"):
        Case.model_validate({**bare, "checks": [check("look-underneath", "pack")]})


# ---------------------------------------------------------------- the routes, with stand-ins


@pytest.fixture
def where(client: TestClient, case: dict[str, Any]) -> str:
    return f"/inspections/{client.post('/inspections', json=case).json()['id']}"


def test_an_answer_is_added_kept_and_taken_back(client: TestClient, where: str) -> None:
    first = client.get(where).json()
    for n in range(3):
        told = client.post(f"{where}/checks?after={n}", json=check("turn", "L1", answer="same"))
        assert told.status_code == 201
        assert len(told.json()["case"]["checks"]) == n + 1 == len(told.json()["report"]["checked"])
        assert client.get(where).json() == told.json()
        assert told.json()["report"]["findings"] == first["report"]["findings"]
    for n in (3, 2, 1):
        told = client.delete(f"{where}/checks/last?after={n}")
        assert told.status_code == 200 and len(told.json()["case"]["checks"]) == n - 1
    assert client.get(where).json() == first
    assert client.delete(f"{where}/checks/last?after=0").status_code == 404


def test_two_phones_do_not_answer_over_each_other(client: TestClient, where: str) -> None:
    assert client.post(f"{where}/checks?after=0", json=check("turn", "L1", answer="same")).status_code == 201
    late = client.post(f"{where}/checks?after=0", json=check("press-in", "pack", answer="same"))
    assert (late.status_code, late.json()) == (409, {"error": ELSEWHERE})
    assert client.delete(f"{where}/checks/last?after=0").status_code == 409
    assert len(client.get(where).json()["case"]["checks"]) == 1


def test_the_same_answer_sent_twice_counts_once(client: TestClient, where: str) -> None:
    once = client.post(f"{where}/checks?after=0", json=check("turn", "L1", answer="same"))
    again = client.post(f"{where}/checks?after=0", json=check("turn", "L1", answer="same"))
    assert again.status_code == 201 and again.json() == once.json()


def test_at_the_same_moment_only_one_of_two_answers_is_kept(client: TestClient, where: str) -> None:
    def answer(n: int) -> int:
        told = check("press-in", "pack", answer="same") if n % 2 else check("turn", "L1", answer="same")
        return client.post(f"{where}/checks?after=0", json=told).status_code

    with ThreadPoolExecutor(6) as pool:
        statuses = list(pool.map(answer, range(6)))
    assert set(statuses) == {201, 409}
    assert len(client.get(where).json()["case"]["checks"]) == 1


@pytest.mark.parametrize(
    "told",
    [
        check("dance", "L1"),
        check("turn", "L9"),
        check("turn", "L1", answer="across"),
        {"action": "turn"},
        {"action": [], "parts": {}, "answer": None},
        [],
        "turn",
    ],
)
def test_odd_answers_are_told_in_one_sentence(client: TestClient, where: str, told: object) -> None:
    for after in ("0", "-1", "x", "", "99999999999"):
        answer = client.post(f"{where}/checks?after={after}", json=told)
        assert answer.status_code in (409, 422)
        assert set(answer.json()) == {"error"} and len(answer.json()["error"]) < 400
    assert client.post("/inspections/nobody/checks?after=0", json=check("turn", "L1")).status_code == 404
    assert client.delete("/inspections/nobody/checks/last?after=0").status_code == 404


def test_what_was_not_told_stays_so(client: TestClient, case: dict[str, Any]) -> None:
    """A drop told as null means none; one that is not told has its usual value."""
    kept = client.post("/inspections", json={**case, "electrode": {"leg_ohm": 20}}).json()
    records = client.app.state.parts.records  # type: ignore[attr-defined]
    electrode = records.inspection(kept["id"]).case.electrode
    assert electrode.model_fields_set == {"leg_ohm"}


# ---------------------------------------------------------------- the routes, with the real engines

SNAIL = json.loads(sample_images.sample_path("snail.case.json").read_text("utf-8"))


@pytest.fixture(scope="module")
def real(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    folder: Path = tmp_path_factory.mktemp("data")
    with at_laptop(create_app(Settings(data_dir=folder))) as client:
        yield client


@pytest.fixture(scope="module")
def dark(real: TestClient) -> dict[str, Any]:
    """A sample on whose photo nothing is to be found, though L1 is dark."""
    photo = real.post("/samples/snail").json()["photo"]["id"]
    leds = [{**led, "seen": "off" if led["id"] == "L1" else led["seen"]} for led in SNAIL["leds"]]
    told = {name: value for name, value in SNAIL.items() if name != "labels"}
    answer = real.post("/inspections", json={**told, "photo": photo, "leds": leds})
    assert answer.status_code == 201
    found: dict[str, Any] = answer.json()
    return found


def test_a_dark_light_is_asked_about_until_it_is_named(real: TestClient, dark: dict[str, Any]) -> None:
    report, where = dark["report"], f"/inspections/{dark['id']}"
    assert report["enquiry"] == "asking" and report["checked"] == []
    best = report["suspects"][0]
    assert (best["cause"], best["parts"], best["says"]) == ("led-backwards", ["L1"], "L1 in backwards")
    asked = [report["next_check"], *report["other_checks"]]
    check_next = next(one for one in asked if one["action"] == "turn")
    assert check_next["do"].startswith("Turn L1 round")
    assert [a["answer"] for a in check_next["answers"]] == list(KINDS["turn"].answers)
    leg = next(led for led in SNAIL["leds"] if led["id"] == "L1")["long_leg"]
    assert max(abs(a - b) for a, b in zip(check_next["at"], leg, strict=True)) < 300
    told = real.post(f"{where}/checks?after=0", json=check("turn", "L1", answer="all")).json()["report"]
    assert told["enquiry"] == "named" and told["next_check"] is None and told["worked"]
    assert told["enquiry_says"].startswith("Every light is on.")
    named = told["named"][0]
    assert (named["says"], named["mended"]) == ("L1 was in backwards.", True)
    changed = {
        "worked",
        "enquiry_says",
        "suspects",
        "next_check",
        "other_checks",
        "checked",
        "enquiry",
        "named",
        "alike",
    }
    assert {name for name in told if told[name] != report[name]} <= changed
    back = real.delete(f"{where}/checks/last?after=1").json()
    assert back["report"] == report


def test_without_memory_the_photo_is_seen_again_and_tells_the_same(
    real: TestClient, dark: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    where, told = f"/inspections/{dark['id']}", check("turn", "L1", answer="same")
    quick = real.post(f"{where}/checks?after=0", json=told).json()
    real.delete(f"{where}/checks/last?after=1")
    monkeypatch.setattr(recent.RecentSculptures, "_recall", lambda *_: None)
    assert real.post(f"{where}/checks?after=0", json=told).json() == quick
    monkeypatch.undo()
    real.delete(f"{where}/checks/last?after=1")


def test_who_said_nothing_of_the_lights_is_asked_for_that_first(
    real: TestClient, dark: dict[str, Any]
) -> None:
    unseen = [{**led, "seen": None} for led in dark["case"]["leds"]]
    report = real.post("/inspections", json={**dark["case"], "leds": unseen}).json()["report"]
    assert report["enquiry"] == "asking" and report["next_check"]
    assert report["enquiry_says"] == "First say which lights are on: that spares checks."
    assert report["enquiry_says"] in list(enquiry_lines(Report.model_validate(report)))
    assert dark["report"]["enquiry_says"] is None


def test_a_lump_that_is_not_there_is_told(real: TestClient, dark: dict[str, Any]) -> None:
    answer = real.post(f"/inspections/{dark['id']}/checks?after=0", json=check("knead", "Z", answer="same"))
    assert answer.status_code == 422 and "Z" in answer.json()["error"]


def test_it_never_goes_on_for_ever(real: TestClient, dark: dict[str, Any]) -> None:
    """Whoever always answers that nothing changed is told at last that hands cannot tell."""
    where, report = f"/inspections/{dark['id']}", dark["report"]
    for n in range(40):
        if report["enquiry"] != "asking":
            break
        asked = report["next_check"]
        answer = asked["answers"][-2]["answer"]
        told = check(asked["action"], *asked["parts"], answer=answer)
        report = real.post(f"{where}/checks?after={n}", json=told).json()["report"]
    assert report["enquiry"] in ("named", "cannot-tell")
    assert len(report["checked"]) < 30
    assert report["enquiry"] == "named" or report["enquiry_says"]


@dataclass(frozen=True)
class LookedAt:
    """As much of a result as is remembered."""

    sculpture: Any
    found: Any = field(default_factory=object)
    scene: Any = field(default_factory=lambda: SimpleNamespace(view=None))
    pixels: Any = None


def test_only_the_last_sculptures_are_remembered() -> None:
    memory = recent.RecentSculptures()
    cases = [Case.model_validate({**WHOLE, "thickness_mm": 1 + n}) for n in range(recent.MOST + 5)]
    for n, case in enumerate(cases):
        memory._remember(case, LookedAt(sculpture=a_sculpture(n)))
    seen = [memory._recall(case) for case in cases]
    assert seen[:5] == [None] * 5
    assert [one and one.sculpture.grid.tolist() for one in seen[5:]] == [
        a_sculpture(n).grid.tolist() for n in range(5, len(cases))
    ]
    answered = cases[-1].model_copy(
        update={"checks": (CheckEntry(action="turn", parts=("L1",), answer="same"),)}
    )
    again = memory._recall(answered)
    assert again is not None
    assert again.found is seen[-1].found  # type: ignore[union-attr]


def a_sculpture(n: int) -> Sculpture:
    """A grid of one number, for nobody to solve."""
    return Sculpture(
        grid=np.full((2, 3), n, np.int32),
        cell_mm=1.0,
        dough_of={},
        doughs=(),
        joints=(),
        entries={},
        leds=(),
        pack=None,  # type: ignore[arg-type]
        electrode=None,  # type: ignore[arg-type]
        brightness=None,  # type: ignore[arg-type]
    )


# ---------------------------------------------------------------- the command line


def test_a_check_of_the_command_line_is_added_to_those_of_the_case() -> None:
    case = Case.model_validate({**WHOLE, "checks": [check("turn", "L1", answer="same")]})
    both = with_checks(case, ["press-in pack=same", " pinch-apart  A B = unsure "])
    assert [(c.action, c.parts, c.answer) for c in both.checks] == [
        ("turn", ("L1",), "same"),
        ("press-in", ("pack",), "same"),
        ("pinch-apart", ("A", "B"), "unsure"),
    ]
    assert with_checks(case, []) == case


@pytest.mark.parametrize("told", ["", "turn", "turn=same", "turn L1", "=", "turn L9=same", "turn L1=blue"])
def test_a_check_that_cannot_be_read_is_told_in_one_sentence(told: str) -> None:
    with pytest.raises(InputError) as caught:
        with_checks(Case.model_validate(WHOLE), [told])
    assert str(caught.value).endswith(".") and len(str(caught.value)) < 250


def test_the_command_line_prints_what_to_type_for_each_answer(real: TestClient, dark: dict[str, Any]) -> None:
    lines = list(enquiry_lines(Report.model_validate(dark["report"])))
    typed = [
        line.partition("--check ")[2].strip("'") for line in lines if line.startswith("  ") and "--" in line
    ]
    assert len(typed) == len(dark["report"]["next_check"]["answers"])
    assert sum(line.startswith("Or check") for line in lines) == len(dark["report"]["other_checks"])
    case = Case.model_validate(dark["case"])
    assert all(len(with_checks(case, [one]).checks) == 1 for one in typed)
    assert any(re.match(r"  \*+\.* L1 in backwards$", line) for line in lines)
    told_case = {**dark["case"], "checks": [check("turn", "L1", answer="all")]}
    after = real.post("/inspections", json=told_case).json()["report"]
    told = list(enquiry_lines(Report.model_validate(after)))
    assert told[0].startswith("Checked: L1 turned round") and told[1].startswith("L1 was in backwards.")


def test_the_command_line_takes_checks(tmp_path: Path) -> None:
    leds = [{**led, "seen": "off" if led["id"] == "L1" else led["seen"]} for led in SNAIL["leds"]]
    case = {**SNAIL, "leds": leds, "labels": str(sample_images.sample_path("snail.labels.png"))}
    case["photo"] = str(sample_images.sample_path("snail.jpg"))
    (tmp_path / "snail.case.json").write_text(json.dumps(case))
    to = ["--out", str(tmp_path / "out")]
    told = ["--check", "turn L1=same", "--check", "press-in L1=unsure"]
    done = CliRunner().invoke(commands.app, ["inspect", str(tmp_path / "snail.case.json"), *to, *told])
    assert done.exit_code == 1, done.output
    report = Report.model_validate_json((tmp_path / "out" / "report.json").read_text())
    assert [one.answer for one in report.checked] == ["same", "unsure"]
