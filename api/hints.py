"""How much is given away: the helper chooses a question, where to look, or what to do."""

import re
from typing import Literal, get_args

from api.schemas import FindingOut, Report

Level = Literal["ask", "look", "do"]
LEVELS: tuple[Level, ...] = get_args(Level)
When = Literal["now", "then"]

_LIGHT: dict[Level, tuple[float, float]] = {"ask": (0.6, 0.5), "look": (0.16, 0.62), "do": (0.34, 0.5)}


def layers_of(level: Level, layers: frozenset[str]) -> frozenset[str]:
    """What of `layers` is drawn on a level: `ask` the two leads only, `look` nothing but the light."""
    if level == "do":
        return layers
    return layers & {"pool"} | ({"leads"} if level == "ask" else set())


def named(level: Level, report: Report, finding: FindingOut | None) -> frozenset[str]:
    """LEDs that the words of `look` name, so that the photo must say which they are."""
    if level != "look" or finding is None:
        return frozenset()
    said = set(re.findall(r"[^\s,.:;?]+", finding.look))
    return frozenset(led.id for led in report.leds if led.id in said)


def light_of(level: Level) -> tuple[float, float]:
    """Where the pool of light begins to fade, as a share of its reach, and how dark the veil is."""
    return _LIGHT[level]


def hint(finding: FindingOut, level: Level) -> str:
    """What a finding says on a level."""
    return {"ask": finding.ask, "look": finding.look, "do": finding.do}[level]


def hints(report: Report, level: Level) -> list[tuple[str, str]]:
    """Level of the finding and words of each, none of the words twice."""
    said: dict[str, str] = {}
    for finding in report.findings:
        said.setdefault(hint(finding, level), finding.level)
    return [(kind, words) for words, kind in said.items()]
