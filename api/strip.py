"""The paper strip under a marked-up picture: why, what to do, what will light, and a small key."""

from dataclasses import dataclass

from api.fields import State
from api.fonts import drawable, width_of
from api.hatch import pattern
from api.hints import Level, hint
from api.language.speech import N_, _, counted, translated
from api.marks import INK, LAMP, PAPER, PLUS, badge, broken, cased, defs, el, num, stroke, use, words
from api.schemas import Case, Report

WIDTH = 800.0
"""The strip is laid out 800 units wide, whatever its size in pixels."""
MARGIN, BAR_HEIGHT = 24.0, 46.0
SLIP, HAIR, SOFT, POOL, ALARM, ON_ALARM = "#FAFBF6", "#C3CEC4", "#42534B", "#FBE6B4", "#A2152E", "#FFF6F0"
UNPLUG = N_("Stop. Unplug the pack first.")
SWATCH = "#D98A96"


@dataclass(frozen=True)
class Block:
    """Something drawn in the strip and its height in units."""

    svg: str
    height: float

    def at(self, x: float, y: float) -> str:
        """The block moved."""
        return el("g", self.svg, transform=f"translate({num(x)} {num(y)})")


def wrapped(text: str, size: float, width: float) -> list[str]:
    """`text` in lines of at most `width` units, broken between words."""
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return lines


def _lines(text: str, x: float, y: float, size: float, leading: float, width: float, bold: bool) -> Block:
    lines = wrapped(text, size, 0.93 * width)  # a fallback face may be wider than the one measured
    drawn = [
        words(line, x, y + leading * (i + 0.5), size, "start", bold=bold, colour=INK)
        for i, line in enumerate(lines)
    ]
    return Block("".join(drawn), leading * len(lines))


def headline(report: Report, level: Level = "do") -> tuple[str, str, str]:
    """Level (`stop`, `fix`, `watch` or `good`), the sentence on top and what to do.

    On `ask` and `look` a question, or where to look, is all that is said.
    """
    check = report.next_check.do if report.next_check and level == "do" else ""
    if report.findings and level != "do":
        return report.findings[0].level, hint(report.findings[0], level), ""
    if report.findings:
        first = report.findings[0]
        if report.remedies:
            return first.level, first.why, report.remedies[0].do
        unseen = first.code == "seen-differs" and report.next_check is not None
        return first.level, first.why, check if unseen else first.do
    if not report.leds:
        said = counted(
            "{n} piece of dough, no LED tapped yet.",
            "{n} pieces of dough, no LED tapped yet.",
            len(report.pieces),
        )
        return "watch", said, check
    if all(led.state != "off" for led in report.leds):
        return "good", _("Every light is on."), check
    return "watch", _("Nothing to fix can be seen on this photo."), check


def alarm_bar(report: Report, units: float = WIDTH) -> Block:
    """The bar before everything, when something may get hot."""
    if not any(finding.level == "stop" for finding in report.findings):
        return Block("", 0.0)
    body = el("rect", width=units, height=BAR_HEIGHT, fill=ALARM)
    sign = el("path", d="M-4-10.5h8L10.5-4v8L4 10.5h-8L-10.5 4v-8z", fill=ON_ALARM)
    sign += el("path", d="M-6.2 6.2-1.7 1.7M1.7-1.7 6.2-6.2", fill="none", stroke=ALARM, stroke_width=3.4)
    sign = el("g", sign, transform=f"translate({num(MARGIN + 11)} {num(BAR_HEIGHT / 2)})")
    said = words(translated(UNPLUG), MARGIN + 34, BAR_HEIGHT / 2, 20, "start", colour=ON_ALARM)
    return Block(body + sign + said, BAR_HEIGHT)


def _title(report: Report, y: float, hints: Level) -> Block:
    level, why, do = headline(report, hints)
    if not drawable(why + do):  # the report was written in letters that this machine cannot draw
        why, do = _("Read on the page what to do."), ""
    inner = WIDTH - 2 * MARGIN
    sign = use(f"level-{level}", MARGIN + 12, y + 16, 1.15)
    said = _lines(why, MARGIN + 36, y, 26, 32, inner - 36, bold=True)
    act = _lines(do, MARGIN + 36, y + said.height + 6, 18, 25, inner - 36, bold=False) if do else Block("", 0)
    return Block(sign + said.svg + act.svg, said.height + 6 + act.height)


def _lights(report: Report, case: Case, level: Level) -> Block:
    """Every LED, now and then; changed ones on lit paper. Only `do` tells what will light."""
    then = report.remedies[0].then if report.remedies and level == "do" else {}
    seen = {led.id: led.seen for led in case.leds}
    across, high = (3 if len(report.leds) <= 6 else 6), 42.0
    wide = (WIDTH - 2 * MARGIN) / across
    cells = []
    for i, led in enumerate(report.leds):
        now = seen.get(led.id) or led.state
        says = ""
        if across == 3:
            says = says_of(now, then.get(led.id), led.state) if level == "do" else is_words(now)
        cell = _light(led.id, now, then.get(led.id, now), says, wide - 6)
        cells.append(cell.at(MARGIN + wide * (i % across), high * (i // across)))
    return Block("".join(cells), high * -(-len(report.leds) // across))


def is_words(state: State) -> str:
    """How an LED looks now."""
    return _("is {state}", state=translated(state, "word"))


def says_of(now: State, after: State | None, reckoned: State) -> str:
    """What becomes of an LED that looks `now`; `reckoned` is how it should look as things are."""
    if after is None:
        right = translated(reckoned, "word")
        return right if now == reckoned else _("should be {state}", state=right)
    if after == now:
        return _("stays {state}", state=translated(now, "word"))
    if after == "off":
        return _("goes off")
    if (now, after) == ("off", "bright"):
        return _("will light")
    return _("will be {state}", state=translated(after, "word"))


def _light(name: str, now: State, after: State, says: str, wide: float) -> Block:
    high = 36.0
    name = short_name(name, 15, wide / 3)
    x = 10 + width_of(name, 15) * 1.04 + 20
    body = words(name, 10, high / 2, 15, "start") + use(f"led-{now}", x, high / 2 + 1, 1.15)
    if after != now:
        lit = el("rect", width=wide, height=high, fill=POOL)
        lit += el("rect", y=high - 4, width=wide, height=4, fill=LAMP)
        body = lit + body + use("then", x + 24, high / 2) + use(f"led-{after}", x + 48, high / 2 + 1, 1.15)
        x += 48
    return Block(body + words(says, x + 22, high / 2, 15, "start", bold=False), high)


def short_name(text: str, size: float, room: float) -> str:
    """A name with its last letters left out until it fits."""
    while len(text) > 2 and width_of(text, size) > room:
        text = text[:-1]
    return text


def _hatched(kind: str) -> str:
    blob = "M-24 0C-24-16-10-15 0-15S24-13 24 0 12 15 0 15-24 14-24 0z"
    tile = pattern(kind, 0.6).replace(f'"hatch-{kind}"', f'"key-{kind}"')
    fill = el("path", d=blob, fill=SWATCH) + el("path", d=blob, fill=f"url(#key-{kind})")
    return tile + fill + cased(blob, PLUS if kind == "plus" else INK)


def _samples() -> list[tuple[str, str, str]]:
    """What to look for in the overlay, a sample of it, and its word."""
    cut = stroke("M-26 0H26", INK, 9) + stroke("M-26 0H26", PAPER, 4.5)
    blades = cut + use("cut-end", -26) + use("cut-end", 26)
    opened = "".join(stroke("M-22 0H22", pen, wide) for pen, wide in ((INK, 15.5), (PAPER, 11)))
    steps = "".join(use("footstep", x, y) for x, y in ((-20, 5), (-7, -5), (6, 5), (19, -5)))
    swap = cased("M-24 4Q0-16 24 4", PLUS, dash="5 4") + cased("M24 4Q0 24-24 4", INK, dash="5 4")
    tails = cased("M-20 6 6-12", PLUS) + cased("M22 6 13-4", INK)
    legs = tails + use("leg-long", -20, 6) + use("leg-short", 22, 6)
    states = "".join(
        use(f"led-{state}", x, 1, 1.15) for state, x in (("bright", -25), ("dim", 1), ("off", 23))
    )
    edge = cased("M-24 4C-10-8 10 8 24-4")
    dashed = edge.replace('stroke-width="2"', 'stroke-width="2" stroke-dasharray="7 5"')
    ends = cased("M-22 0H22", core=3.6, case=7.4) + use("end-a", -22) + use("end-b", 22)
    switches = el("g", use("switch-closed", -20, 0, 0.7), use("switch-open", 22, 3, 0.7))
    return [
        ('"#mark-footstep"', steps, _("way without a light")),
        ('class="cut"', blades, _("cut here")),
        ('class="opened"', opened, _("cut: it stands open")),
        ('"#mark-joined"', use("joined"), _("pressed together")),
        ("mark thickened", use("thick"), _("thicker wall")),
        ('"#mark-press"', use("press", 0, 8, 0.8), _("press it in here")),
        ('"#mark-push"', use("push", 0, 25, 0.9), _("close the switch here")),
        ('"#mark-pull"', use("pull", 0, 18, 0.9), _("pull it out")),
        ('"#mark-thicker"', use("thicker"), _("thicken the wall here")),
        ('"#mark-try"', use("try"), _("look or try here")),
        ('"#mark-old-place"', use("old-place"), _("where it was")),
        ('"#mark-join"', use("join"), _("press together here")),
        ('"#mark-lead-', use("lead-plus", -13) + use("lead-minus", 13), _("red and black lead")),
        ('"#mark-leg-', legs, _("long and short leg")),
        ("entry end-", ends, _("wire or other part")),
        ('"#mark-switch-', switches, _("switch: on, off")),
        ('"#mark-resistor"', use("resistor"), _("resistor")),
        ('"#mark-buzzer"', use("buzzer"), _("buzzer")),
        ('"#mark-motor"', use("motor"), _("motor")),
        ('"#mark-led-', states, _("bright, dim, off")),
        (" missed", broken("leg-short"), _("misses the dough")),
        ("-ghost", use("leg-long-ghost", -15) + use("leg-short-ghost", 15), _("put it here")),
        ('"swap"', swap, _("change places")),
        ('"#mark-turn"', use("turn", 0, 2), _("turn it round")),
        ('"lump plus"', _hatched("plus"), _("joined to +")),
        ('"lump minus"', _hatched("minus"), _("joined to -")),
        (' badge both"', badge("A", ("sign-plus", "sign-minus")), _("joined to both")),
        ('"lump none"', _hatched("none"), _("joined to no lead")),
        ('class="wall"', dashed, _("insulating dough")),
        ('"#mark-touching"', use("touching"), _("touching")),
        ('"#mark-doubtful"', el("g", use("doubtful"), transform="scale(.85)"), _("may touch: doubtful")),
        ('"#mark-gap"', use("gap"), _("gap, in mm")),
    ]


def key(overlay: str, units: float = WIDTH) -> Block:
    """A sample and a word for each kind of mark in `overlay`."""
    shown = [(sample, word) for sign, sample, word in _samples() if sign in overlay]
    across, high = int((units - 2 * MARGIN) // 236), 44.0
    wide = (units - 2 * MARGIN) / across
    drawn = []
    for i, (sample, word) in enumerate(shown):
        told = wrapped(word, 15, 0.93 * (wide - 84))[:2]
        lines = [
            words(line, 84, 22 + 18 * (j - (len(told) - 1) / 2), 15, "start", bold=False)
            for j, line in enumerate(told)
        ]
        cell = el("g", sample, transform="translate(38 22)") + "".join(lines)
        drawn.append(Block(cell, high).at(MARGIN + wide * (i % across), high * (i // across)))
    return Block("".join(drawn), high * -(-len(shown) // across))


def strip(report: Report, case: Case, overlay: str, level: Level = "do") -> Block:
    """The whole strip, 800 units wide; on `ask` and `look` nothing of what to do and what will light."""
    title = _title(report, 20.0, level)
    body, y = [title.svg], 20.0 + title.height + 14
    for made in (_lights(report, case, level), key(overlay)):
        if made.svg:
            body += [
                el("path", d=f"M{num(MARGIN)} {num(y)}H{num(WIDTH - MARGIN)}", stroke=HAIR, stroke_width=1.5)
            ]
            body.append(made.at(0, y + 8))
            y += made.height + 14
    paper = el("rect", width=WIDTH, height=y + 6, fill=SLIP)
    return Block(paper + "".join(body), y + 6)


def page(block: Block, units: float = WIDTH) -> str:
    """A block as an SVG document so many units wide."""
    return el(
        "svg",
        defs(block.svg),
        block.svg,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {num(units)} {num(block.height)}",
        width=units,
        height=block.height,
    )
