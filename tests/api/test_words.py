"""The words of every finding: three ages, three levels, with any facts or none."""

import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import astuple, replace
from pathlib import Path

import pytest

import circuit
from api import words
from api.wording import TABLES
from api.wording.sentences import Age, Texts
from api.wording.slots import FACTS, OF_PARTS, amperes, ohms, volts
from circuit.model import Action, Finding, Level, Remedy, Step

SHORTS = ("short-pressed-together", "short-bridge", "short-round-the-end", "short-over-the-wall")
CODES = (
    *SHORTS,
    *("short-wire", "led-backwards", "legs-in-one-lump", "leg-out", "leg-in-insulator", "gap-in-lump"),
    *("too-many-in-a-row", "near-touch", "thin-wall", "leads-touching", "led-without-dough"),
    *("colours-too-alike", "leads-swapped", "seen-differs", "switch-open", "part-backwards"),
    *("part-starved", "long-way", "in-a-row", "weak-neck", "led-overloaded", "leads-in-one-lump"),
)
ACTIONS = (
    *("turn", "swap-leads", "cut", "move", "join", "press-in", "thicken-wall", "look-underneath"),
    *("swap-pack", "swap-led", "take-out", "close"),
)
MOST_WORDS: Mapping[Age, int] = {"6-8": 9, "9-12": 14, "13+": 24}
KNOWN: Mapping[str, str | float] = {
    "emf_V": 6.0,
    "volts_V": -1.62,
    "drop_V": 1.2,
    "pack_A": 0.21,
    "led_A": 0.0019,
    "share_A": 0.19,
    "safe_A": 0.02,
    "works_A": 0.01,
    "leak_A": 0.0004,
    "way_ohm": 26.3,
    "cut_mm": 13.2,
    "gap_mm": 1.2,
    "off_mm": 1.4,
    "wall_mm": 1.5,
    "neck_mm": 4.2,
    "long_mm": 180.0,
    "delta_e": 1.2,
    "count": 3.0,
    "lump": "A",
    "to": "B",
    "dough": "teal",
    "other": "rose",
    "near": "sky",
    "beside": "L3",
    "crosses": "L1",
    "seen": "off",
    "state": "bright",
}
PARTS: Mapping[str, tuple[str, ...]] = {
    "short-wire": ("W1",),
    "leg-out": ("L2.short",),
    "leg-in-insulator": ("pack.plus",),
    "too-many-in-a-row": ("L1", "L2"),
    "switch-open": ("S1",),
    "part-backwards": ("B1",),
    "part-starved": ("M1",),
    "leads-swapped": ("pack",),
    "leads-touching": ("pack",),
    "leads-in-one-lump": ("pack",),
    "near-touch": (),
    "gap-in-lump": (),
    "colours-too-alike": (),
}
KINDS = {"short-wire": "wire", "switch-open": "switch", "part-backwards": "buzzer", "part-starved": "motor"}
VERBS = re.compile(
    r"(Check|Close|Cut|Knead|Make|Move|Press|Pull|Put|Roll|Set|Swap|Take|Turn|Unplug)\b",
)
BLAME = re.compile(
    r"\b(just|simply|oops|wrong|mistakes?|fault|easy|easily|obviously|forgot|bad|careless|should have"
    r"|you (made|did not|must))\b|!",
    re.IGNORECASE,
)


def finding(code: str, facts: bool = True, lights: bool = False, table: bool = False) -> Finding:
    """A finding of this code with all facts that it may carry, or with none and no parts."""
    level: Level = "stop" if code.startswith("short-") and not lights else "fix"
    told: dict[str, str | float] = {"against": "table" if table else "dough"}
    if not facts:
        return Finding(code, level, (), (0.0, 0.0), facts=told)
    parts = PARTS.get(code, ("L2",))
    if code in SHORTS and not lights:
        parts = ("pack",)
    told |= KNOWN
    if code in KINDS:
        told["part_kind"] = KINDS[code]
    if table:
        told["other"] = "the table"
    return Finding(code, level, parts, (0.0, 0.0), facts=told, cut_mm=13.2 if code in SHORTS else None)


def all_findings(facts: bool = True) -> Iterator[Finding]:
    for code in CODES:
        yield finding(code, facts)
        if code.startswith("short-"):
            yield finding(code, facts, lights=True)
    yield finding("colours-too-alike", facts, table=True)


def odd_findings() -> Iterator[Finding]:
    """Without one fact, with one alone, with long names, with many parts, with facts of no use."""
    odd: list[str | float] = [math.nan, "", "twelve", math.inf, 0.0, -1e-9, 1e9]
    nonsense = dict(zip(FACTS, odd * len(FACTS), strict=False))
    many = tuple(f"L{i}" for i in range(1, 13))
    for whole in all_findings():
        for name in whole.facts:
            yield replace(whole, facts={k: v for k, v in whole.facts.items() if k != name})
            yield replace(whole, facts={name: whole.facts[name]})
            yield replace(whole, facts={name: whole.facts[name]}, parts=())
        long_names = {"dough": "light greenish blue with some glitter 2", "other": "rose No! {part}"}
        yield replace(whole, facts={**whole.facts, **long_names})
        yield replace(whole, facts={**whole.facts, "other": "teal"})
        yield replace(whole, facts=nonsense)
        yield replace(whole, parts=many)
        yield replace(whole, parts=("B1.a",), facts={**whole.facts, "part_kind": "buzzer"})


def sentences(text: str) -> list[str]:
    return re.split(r"(?<=[.?])\s+", text)


def templates(age: Age) -> Iterator[tuple[str, Texts]]:
    table = TABLES[age]
    for name, part in (
        ("why", table.why),
        ("look", table.look),
        ("do", table.do),
        ("step", table.step),
        ("sums", table.sums),
    ):
        for key, texts in part.items():
            yield f"{age} {name} {key}", texts
    for key, text in table.ask.items():
        yield f"{age} ask {key}", (text,)


@pytest.mark.parametrize("age", words.AGES)
def test_every_code_has_every_level(age: Age) -> None:
    table = TABLES[age]
    for part in (table.why, table.ask, table.look, table.do):
        assert set(CODES) <= part.keys()
        assert {key.partition(":")[0] for key in part} == set(CODES)
    assert {key.partition(":")[0] for key in table.sums} == (set(CODES) if age == "13+" else set())
    assert set(table.step) == {*ACTIONS, "both-legs"}


def test_every_code_of_the_sums_has_words() -> None:
    source = "".join(path.read_text() for path in Path(circuit.__file__).parent.glob("*.py"))
    found = set(re.findall(r'Finding\(\s*"([a-z-]+)"', source))
    found |= set(re.findall(r'"(short-(?:pressed|bridge|round|over|wire)[a-z-]*)"', source))
    assert len(found) >= 13 and found <= set(CODES)


@pytest.mark.parametrize("age", words.AGES)
def test_every_slot_is_known_and_the_last_way_has_none(age: Age) -> None:
    for where, texts in templates(age):
        slots = set(re.findall(r"{(.*?)}", " ".join(texts)))
        assert slots <= {*FACTS, *OF_PARTS, "high", "low"}, where
        if " sums " not in where:
            assert "{" not in texts[-1], where


def test_no_fact_is_defined_in_vain() -> None:
    used = {
        slot
        for age in words.AGES
        for _, texts in templates(age)
        for slot in re.findall(r"{(\w+)}", str(texts))
    }
    assert used - {"high", "low"} == {*FACTS, *OF_PARTS}


@pytest.mark.parametrize("age", words.AGES)
def test_no_sentence_is_too_long_whatever_is_known(age: Age) -> None:
    for said_of in (*all_findings(), *all_findings(facts=False), *odd_findings()):
        said = words.finding_words(said_of, age)
        assert len(said.why) < 45 and len(sentences(said.why)) == 1, said.why
        for text in astuple(said):
            for sentence in sentences(text):
                assert len(sentence.split()) <= MOST_WORDS[age], sentence
                assert sentence[-1] in ".?" and not sentence[0].islower(), sentence
            assert not re.search(r"  |\bnan\b|\binf\b|None|[{}]", text.replace("{part}", "part")), text


def test_the_richest_way_is_said_for_ordinary_facts() -> None:
    """A first way that is too long with plain names would never be heard."""
    for age in words.AGES:
        for said_of in all_findings():
            key = f"{said_of.code}:lights" if said_of.level == "fix" else said_of.code
            table = TABLES[age]
            texts = table.do.get(key, table.do[said_of.code])
            told = words.finding_words(said_of, age).do
            if "{part_kind}" not in texts[0] and "table" not in said_of.facts.get("against", ""):  # type: ignore[operator]
                pattern = re.sub(r"\\{\w+\\}", ".+", re.escape(texts[0]))
                assert re.match(pattern, told), (age, said_of.code, told)


def test_ages_6_to_8_read_no_number() -> None:
    for said_of in (*all_findings(), *all_findings(facts=False), *odd_findings()):
        for text in astuple(words.finding_words(said_of, "6-8")):
            assert not re.search(r"\d", text), text
    assert not re.search(r"\d", " ".join(t for _, texts in templates("6-8") for t in texts))


def test_why_has_no_number_at_any_age() -> None:
    for age in words.AGES:
        for texts in TABLES[age].why.values():
            assert not re.search(r"\d|{\w+_(mm|V|A|ohm)}|{count}", " ".join(texts))


def test_ages_9_to_12_read_sizes_in_mm_and_no_electrical_units() -> None:
    for said_of in all_findings():
        for text in astuple(words.finding_words(said_of, "9-12")):
            assert not re.search(r"\d\s(V|mA|A|ohm)\b", text), text
    for code in (*SHORTS, "gap-in-lump", "near-touch", "thin-wall", "leg-out", "long-way", "weak-neck"):
        assert re.search(r"\d\u00a0mm", words.finding_words(finding(code), "9-12").do), code


def test_age_13_reads_the_numbers_of_this_sculpture() -> None:
    for said_of in all_findings():
        do = words.finding_words(said_of, "13+").do
        unit = r"\(CIEDE2000\)" if said_of.code == "colours-too-alike" else r"(V|mA|A|ohm)\b"
        assert re.search(rf"\d\s{unit}", do), (said_of.code, do)


@pytest.mark.parametrize(
    ("code", "lights", "expected"),
    [
        (
            "short-round-the-end",
            False,
            "Cut the 13 mm neck, right down to the table. Lump A joins both leads: 0.19 A takes the way "
            "round through about 26 ohm. Ohm's law: 0.19 A times 26 ohm is 4.9 V, of the 6.0 V of the pack.",
        ),
        (
            "short-bridge",
            True,
            "Cut the 13 mm strip, right down to the table, and take it away. The way round takes 0.19 A "
            "through about 26 ohm: 0.19 A times 26 ohm is 4.9 V. 1.9 mA is left for L2.",
        ),
        (
            "too-many-in-a-row",
            False,
            "Set L1 and L2 side by side, each from the + lump to the - lump. L1 and L2 share 6.0 V: each has "
            "about 1.6 V, and every metal contact takes its part; 1.9 mA is left.",
        ),
        (
            "led-overloaded",
            False,
            "Unplug the pack and take one with fewer cells, or add a resistor in the way. L2 carries 1.9 mA "
            "at 1.6 V; 20 mA is safe.",
        ),
    ],
)
def test_sums_as_they_are_read(code: str, lights: bool, expected: str) -> None:
    said = words.finding_words(finding(code, lights=lights), "13+").do
    assert said.replace("\u00a0", " ") == expected


@pytest.mark.parametrize("age", words.AGES)
def test_ask_points_nowhere(age: Age) -> None:
    for key, text in TABLES[age].ask.items():
        assert text.endswith("?"), key
        assert not re.search(
            r"[{}\d]|\b(here|there|this|L\d|pink|teal|blue|green|wall of|left|right)\b", text
        ), key


@pytest.mark.parametrize("age", words.AGES)
def test_do_starts_with_a_verb_and_says_how_deep(age: Age) -> None:
    for said_of in (*all_findings(), *all_findings(facts=False)):
        do = words.finding_words(said_of, age).do
        assert VERBS.match(do), do
        if said_of.code in (*SHORTS, "gap-in-lump", "thin-wall", "weak-neck"):
            assert "down to the table" in do
        if said_of.code.startswith(("leg-", "legs-")) or said_of.code == "leads-swapped":
            assert "deep" in do


@pytest.mark.parametrize("age", words.AGES)
def test_look_cuts_nothing_and_differs_from_the_other_levels(age: Age) -> None:
    for said_of in all_findings():
        said = words.finding_words(said_of, age)
        assert said.look.startswith("Look ") and not re.search(r"\b(cut|press|13)\b", said.look, re.I)
        assert len({said.why, said.ask, said.look, said.do}) == 4


def test_no_blame_and_no_alarm() -> None:
    for age in words.AGES:
        for where, texts in templates(age):
            assert not BLAME.search(" ".join(texts)), where


def test_a_short_round_some_lights_is_not_one_of_the_pack() -> None:
    for age in words.AGES:
        for code in (*SHORTS, "short-wire"):
            for facts in (True, False):
                part = words.finding_words(finding(code, facts, lights=True), age)
                whole = words.finding_words(finding(code, facts), age)
                assert part.why != whole.why and "pack" not in part.why + part.do
                assert not re.search(r"both (leads|sides)", part.why)
    assert (
        words.finding_words(finding("short-round-the-end", lights=True)).why == "The current goes round L2."
    )


def test_what_is_read_aloud_of_numbers() -> None:
    assert [amperes(a).replace("\u00a0", " ") for a in (0.0, 4.2e-5, -0.0019, 0.072, 0.19, 1.24)] == [
        *("less than 0.01 mA", "0.042 mA", "1.9 mA", "72 mA", "0.19 A", "1.2 A")
    ]
    assert [volts(v).replace("\u00a0", " ") for v in (6.0, -1.62, 0.0)] == [
        "6.0 V",
        "1.6 V",
        "less than 0.01 V",
    ]
    assert [ohms(r).replace("\u00a0", " ") for r in (26.3, 123.0, 2400.0)] == [
        "26 ohm",
        "123 ohm",
        "2.4 kohm",
    ]


def test_two_gaps_of_one_dough_are_not_between_it_and_itself() -> None:
    same = replace(finding("gap-in-lump"), facts={"dough": "teal", "other": "teal", "gap_mm": 2.0})
    assert words.finding_words(same).look == "Look for a gap in the teal dough."


def test_a_name_that_says_dough_is_not_dough_dough() -> None:
    named = replace(finding("short-bridge"), facts={"dough": "salt dough"})
    assert words.finding_words(named).why == "A strip of salt dough joins both sides."


def actions() -> Iterator[Step]:
    def step(action: Action, *parts: str, **facts: str | float) -> Step:
        return Step(action, parts, (0.0, 0.0), "A", facts=facts)

    yield step("turn", "L2")
    yield step("swap-leads", "pack")
    yield step("cut", cut_mm=13.2, dough="teal")
    yield step("move", "L1.long", dough="teal")
    yield step("move", "pack.plus")
    yield step("join", gap_mm=1.2)
    yield step("press-in", "L1.long")
    yield step("thicken-wall")
    yield step("look-underneath")
    yield step("swap-pack", "pack")
    yield step("swap-led", "L1")
    yield step("take-out", "W1")
    yield step("close", "S1")
    yield step("cut")
    yield step("move")
    yield step("join")


@pytest.mark.parametrize("age", words.AGES)
def test_steps_keep_to_the_age(age: Age) -> None:
    both = Remedy(
        (
            Step("move", ("L2.long",), (0.0, 0.0), "A", facts={"dough": "rose"}),
            Step("move", ("L2.short",), (0.0, 0.0), "B", facts={"dough": "sky"}),
        ),
        20.0,
        {},
        {},
        0.0,
    )
    said = [words.step_words(step, age) for step in actions()]
    said.append(words.remedy_words(both, age))
    for text in said:
        assert all(len(sentence.split()) <= MOST_WORDS[age] + 1 for sentence in sentences(text)), text
        assert not re.search(r"[{}]|  ", text) and text.endswith(".")
        assert age != "6-8" or not re.search(r"\d", text)
    assert "rose dough" in said[-1] and "sky dough" in said[-1]
