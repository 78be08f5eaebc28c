"""Codes into sentences, in the language that is spoken, for three ages.

The sculpture has the fault, never the child.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar, get_args

from api.language.languages import ENGLISH, speaking, spoken
from api.language.speech import _, known, translated
from api.wording import TABLES
from api.wording.sentences import MOST_LETTERS_ON_TOP, Age, Texts
from api.wording.slots import Facts, slots_of
from circuit.model import Finding, Remedy, Step

AGES: tuple[Age, ...] = get_args(Age)
CAUTIONS = (
    "Unplug the pack before you cut, press or move anything. Two leads that touch make it hot.",
    "Never put an LED straight on the pack: it breaks, and a broken one can be sharp.",
    "LEDs and cells are small parts. Keep them from small children. A swallowed cell: get help at once.",
    "The dough is salty and may hold wheat: not for eating, not for pets, and mind allergies.",
    "The makers' instructions, local rules and whoever supervises come first.",
)
BLOCK_CAUTION = (
    "The two snaps of a 9 V block are close together and short easily: keep metal off them. "
    "A short gives amperes and heat, and an LED may get more than its safe current."
)
END_OF_SENTENCE = re.compile(r"(?<=[.?؟])\s+")
SLOT = re.compile(r"{(\w+)}")
STRETCH = 1.3
"""Other languages may be longer than English by so much (estimated)."""
T = TypeVar("T")


@dataclass(frozen=True)
class Words:
    """What a finding says: why, and on three levels what to do about it."""

    why: str
    ask: str
    look: str
    do: str


def cautions(pack_kind: str | None) -> tuple[str, ...]:
    """What to mind with any sculpture, and with a pack of this kind; None when no pack is known."""
    told = (*CAUTIONS, BLOCK_CAUTION) if pack_kind == "block" else CAUTIONS
    return tuple(map(translated, told))


def finding_words(finding: Finding, age: Age = "9-12") -> Words:
    """The sentences of a finding. A fact that is missing leaves out what would need it."""
    said = Speaker(age, finding.parts, _with_cut(finding.facts, finding.cut_mm))
    table, keys = said.table, _keys(finding)
    do = said.say(_of(table.do, keys))
    sums = said.maybe(_of(table.sums, keys)) if table.sums else ""
    return Words(
        why=said.say(_of(table.why, keys), MOST_LETTERS_ON_TOP),
        ask=translated(_of(table.ask, keys)),
        look=said.say(_of(table.look, keys)),
        do=f"{do} {sums}" if sums else do,
    )


def step_words(step: Step, age: Age = "9-12") -> str:
    """One step of a remedy."""
    said = Speaker(age, step.parts, step.facts)
    return said.say(said.table.step[step.action])


def remedy_words(remedy: Remedy, age: Age = "9-12") -> str:
    """All steps of a remedy, in order; the two legs of one LED in one sentence."""
    told, rest = [], list(remedy.steps)
    while rest:
        step = rest.pop(0)
        other = rest[0] if rest else None
        if other is not None and _one_led(step, other):
            rest.pop(0)
            told.append(_both_legs(step, other, age))
        else:
            told.append(step_words(step, age))
    return " ".join(told)


class Speaker:
    """Says things to one age about these parts with these facts."""

    def __init__(self, age: Age, parts: Sequence[str], facts: Facts, **more: str) -> None:
        self.table = TABLES[age]
        self._about = parts, facts, more
        self.slots = self._slots()

    def phrase(self, texts: Texts) -> str:
        """What is no sentence: the first way of which every slot is known."""
        told = (text for text in with_words(texts) if self.slots.keys() >= set(SLOT.findall(text)))
        return self._filled(next(told, texts[-1]))

    def maybe(self, texts: Texts, most_letters: int | None = None) -> str:
        """The first way to say it that is known and short enough, empty when there is none."""
        for text in with_words(texts):
            if self.slots.keys() >= set(SLOT.findall(text)):
                said = _capitals(self._filled(text))
                if self._short(said) and (most_letters is None or len(said) <= most_letters * _stretch()):
                    return said
        return ""

    def say(self, texts: Texts, most_letters: int | None = None) -> str:
        """The same; the last way, which has no slot, if need be."""
        return self.maybe(texts, most_letters) or translated(texts[-1])

    def _filled(self, text: str) -> str:
        """What has no words in the language is English as a whole, its units, too."""
        if known(text):
            return translated(text).format_map(self.slots)
        with speaking(ENGLISH):
            return text.format_map(self._slots())

    def _slots(self) -> dict[str, str]:
        parts, facts, more = self._about
        slots = {**slots_of(parts, facts), **more}
        return {name: text for name, text in slots.items() if self.table.numbers or not _digits(text)}

    def _short(self, said: str) -> bool:
        most = self.table.most_words * _stretch()
        return all(len(one.split()) <= most for one in END_OF_SENTENCE.split(said))


def with_words(texts: Texts) -> Texts:
    """Those ways to say a thing that the language has words for; all of them where it has none."""
    return tuple(filter(known, texts)) or texts


def _stretch() -> float:
    return 1.0 if spoken().code == ENGLISH else STRETCH


def _keys(finding: Finding) -> tuple[str, ...]:
    """Where to look in a table: the case of a code first, then the code."""
    code = finding.code
    if code.startswith("short-") and finding.level == "fix":
        return f"{code}:lights", code
    if code == "colours-too-alike" and finding.facts.get("against") == "table":
        return f"{code}:table", code
    return (code,)


def _of(table: Mapping[str, T], keys: tuple[str, ...]) -> T:
    return table[keys[0]] if keys[0] in table else table[keys[-1]]


def _with_cut(facts: Facts, cut_mm: float | None) -> Facts:
    return facts if cut_mm is None else {"cut_mm": cut_mm, **facts}


def _one_led(step: Step, other: Step) -> bool:
    """Whether two steps move the long and then the short leg of one LED."""
    if step.action != "move" or other.action != "move":
        return False
    part, _, leg = step.parts[0].partition(".")
    return leg == "long" and other.parts[0] == f"{part}.short"


def _both_legs(step: Step, other: Step, age: Age) -> str:
    said = Speaker(age, step.parts, {}, high=_place(step, other), low=_place(other, step))
    return said.say(said.table.step["both-legs"])


def _place(step: Step, other: Step) -> str:
    """Where a leg goes: by its dough, or by its lump when the other leg goes into the same dough."""
    dough = translated(str(step.facts.get("dough", "")), "word")
    if step.facts.get("dough") != other.facts.get("dough"):
        return _("{dough} dough", dough=dough)
    return _("{dough} lump {letter}", dough=dough, letter=step.to)


def _digits(text: str) -> bool:
    return any(letter.isdigit() for letter in text)


def _capitals(text: str) -> str:
    """Every sentence begins with a capital."""
    return " ".join(one[:1].upper() + one[1:] for one in END_OF_SENTENCE.split(text))
