"""What a table of sentences holds."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Age = Literal["6-8", "9-12", "13+"]
Texts = tuple[str, ...]
"""Ways to say one thing, the richest first. The first is taken of which every slot is known and every
sentence short enough; the last one has no slot. Every way is whole sentences, so that each can be
translated as it stands (one message of a gettext catalogue, `{slots}` kept)."""


@dataclass(frozen=True)
class Sentences:
    """All that is said to one age.

    A key is the code of a finding, or `code:case` for a case of it that needs other words; without an own
    entry a case takes the words of its code. Cases: `lights` (a short round some lights, not the whole
    pack), `table` (a dough that looks like the table).

    why    the one sentence on top
    ask    a question that points nowhere, with one thing to do by hand
    look   where, by what can be seen
    do     what to do, a verb first, with size and depth
    sums   what follows `do`, if its numbers are known: the sum behind it
    step   one step of a remedy, by action; `both-legs` for an LED that moves
    most_words  longest sentence; `numbers` False: no sentence has a digit
    """

    most_words: int
    numbers: bool
    why: Mapping[str, Texts]
    ask: Mapping[str, str]
    look: Mapping[str, Texts]
    do: Mapping[str, Texts]
    step: Mapping[str, Texts]
    sums: Mapping[str, Texts] = field(default_factory=dict)


@dataclass(frozen=True)
class Dialogue:
    """What is said to one age while hands look for what the photo cannot show.

    A key is an action, or `action:led` for an LED where the pack needs other words; or the code of a cause.

    ask    a question that points nowhere
    why    why this check comes next
    do     what to do, a verb first
    done   the same as a note of what was done, not a sentence
    answer what is seen then, short enough for a plate: by `action:answer`, else by the answer alone
    cause  a suspect in a list, not a sentence
    named  the one sentence on top once it is known what it may be; `was` when the check has mended it
    cure   what to do about it then
    leave  what to do when the check has mended it
    worked, worked_do  when every light is on
    cannot_tell, cannot_tell_do  when no check tells more
    untold  before the first check, when nobody has said how the lights look
    """

    ask: Mapping[str, str]
    why: Mapping[str, Texts]
    do: Mapping[str, Texts]
    done: Mapping[str, Texts]
    answer: Mapping[str, str]
    cause: Mapping[str, Texts]
    named: Mapping[str, Texts]
    was: Mapping[str, Texts]
    cure: Mapping[str, Texts]
    leave: str
    worked: str
    worked_do: str
    cannot_tell: str
    cannot_tell_do: str
    untold: str


MOST_LETTERS_ON_TOP = 44
"""Longest `why`: it stands large above all else."""
