"""The marks of what is there: pool of light, lumps and walls, contacts, entries and lights."""

import math
from dataclasses import dataclass

import numpy as np

from api import hatch
from api.canvas import Sheet, Tag, middle, mm_number, put_over, put_tag
from api.hints import light_of
from api.language.speech import _, translated
from api.marks import INK, PLUS, Point, badge, badge_half, broken, cased_words, el, mark, num, use
from api.part_marks import ends_of
from api.parting import off_line
from api.placing import Taken, along, around
from api.schemas import LedEntry

LED_CLEAR_SHARE = 0.42  # of the distance of its legs: about the radius of its body; estimated
CONTACT_UNITS = 44.0  # nearer to each other, two contacts of one kind are drawn as one
CUT_UNITS = 22.0  # nearer to a cut than this, the mark of a contact would lie under it
LEG_UNITS, LED_CLEAR_UNITS = 12.0, 16.0
BESIDE_MM = 25.0  # farther off, the nearer dough says nothing; estimated


def pool(sheet: Sheet) -> str:
    """The veil that leaves a pool of light: wide on `ask`, else around the place of the finding."""
    if "pool" not in sheet.layers or sheet.finding is None:
        return ""
    frame, (core, dark) = sheet.frame, light_of(sheet.level)
    x, y = sheet.finding.at if sheet.level != "ask" else middle(frame[:2], frame[2:])
    reach = 0.7 * max(frame[2] - frame[0], frame[3] - frame[1])
    stops = [
        el("stop", offset=o, stop_color="#0A110E", stop_opacity=a) for o, a in ((core, 0.0), (1.0, dark))
    ]
    light = el("radialGradient", *stops, id="pool-light", gradientUnits="userSpaceOnUse", cx=x, cy=y, r=reach)
    size = {"width": sheet.report.photo.width, "height": sheet.report.photo.height}
    return light + el("rect", class_="pool", fill="url(#pool-light)", **size)


def lumps(sheet: Sheet) -> str:
    """Hatched lumps with their rims, and walls."""
    kinds = hatch.kinds(sheet.report)
    used = sorted(set(kinds.values()) - {"both"})
    drawn = ["".join(hatch.pattern(kind, 0.8 * sheet.scale) for kind in used)]
    walls = [sheet.rims[piece.id] for piece in sheet.report.pieces if piece.role == "insulating"]
    drawn += [el("g", hatch.wall(rim, sheet.pen), class_="wall") for rim in walls if len(rim)]
    if not sheet.report.lumps:  # nothing is wired yet, so the rims are all there is to say
        pieces = [sheet.rims[piece.id] for piece in sheet.report.pieces if piece.role == "conductive"]
        drawn += [
            el("g", hatch.lump("both", [rim], [], sheet.pen), class_="piece") for rim in pieces if len(rim)
        ]
    for lump in sheet.report.lumps:
        mine = [sheet.rims[i] for i in lump.pieces if i in sheet.rims]
        others = [rim for i, rim in sheet.rims.items() if i not in lump.pieces]
        drawn.append(
            el("g", hatch.lump(kinds[lump.id], mine, others, sheet.pen), class_=f"lump {kinds[lump.id]}")
        )
    return "".join(drawn)


def badges(sheet: Sheet, taken: Taken) -> str:
    """The letter of each lump, where there is most room in it."""
    kinds, drawn, used = hatch.kinds(sheet.report), [], set(sheet.report.entries.values())
    for lump in sheet.report.lumps:
        mine = [sheet.rims[i] for i in lump.pieces if i in sheet.rims and len(sheet.rims[i])]
        if not mine or (sheet.after is not None and kinds[lump.id] == "both"):
            continue  # parted by what no raster shows: better no letter than a wrong sign
        rim = max(mine, key=lambda line: float(np.ptp(line, axis=0).prod()))
        others = [line for line in sheet.dough if line is not rim]
        signs = hatch.SIGNS[kinds[lump.id]]
        half = badge_half(lump.id, signs) * sheet.scale
        at, room_px = taken.room(rim, hatch.holes(rim, others), 0.5 * half)
        if lump.id not in used and room_px < 8 * sheet.scale:
            continue  # a scrap that nothing goes into, and smaller than its badge
        taken.add([around(at, 2 * half, 32 * sheet.scale)])
        drawn.append(mark(at, badge(lump.id, signs), sheet.scale, f"badge {kinds[lump.id]}"))
    return "".join(drawn)


def contacts(sheet: Sheet, taken: Taken) -> str:
    """Doubtful contacts and those in `otherwise`; with `contacts` all of conductive pieces."""
    conductive = {piece.id for piece in sheet.report.pieces if piece.role == "conductive"}
    unsure = {other.contact for other in sheet.report.otherwise}
    drawn: list[str] = []
    done: list[tuple[str, Point]] = []
    # What may not touch is said first: a sure touch close by must not hide it.
    for i, contact in sorted(enumerate(sheet.report.contacts), key=lambda item: item[1].kind == "touching"):
        wanted = "contacts" in sheet.layers or ("answer" in sheet.layers and i in unsure)
        wanted = wanted or ("lumps" in sheet.layers and contact.kind == "doubtful")
        near = CONTACT_UNITS * sheet.scale
        twice = any(
            contact.kind in (kind, "touching") and math.dist(at, contact.at) < near for kind, at in done
        )
        # A contact under a cut is what the cut parts: the cut stays.
        under = any(off_line(contact.at, *line) < CUT_UNITS * sheet.scale for line, _ in sheet.cuts)
        if (
            not wanted
            or twice
            or (under and "answer" in sheet.layers)
            or not conductive.issuperset(contact.between)
        ):
            continue
        done.append((contact.kind, contact.at))
        inner = use(contact.kind)
        if contact.kind == "gap":
            inner += cased_words(mm_number(contact.gap_mm), 13)
        taken.add([around(contact.at, 44 * sheet.scale, 40 * sheet.scale)])
        drawn.append(mark(contact.at, inner, sheet.scale, f"contact {contact.kind}"))
    return "".join(drawn)


@dataclass(frozen=True)
class EntryMarks:
    """Tails lie under everything, marks over it."""

    tails: str
    marks: str


def symbol_of(name: str) -> str:
    """The symbol of an entry by its name: `pack.plus`, `L1.short`, `W1.a`."""
    part, _, end = name.rpartition(".")
    if end in ("a", "b"):
        return f"end-{end}"
    return f"lead-{end}" if part == "pack" else f"leg-{end if end in ('long', 'short') else 'short'}"


def _wanted_leds(sheet: Sheet) -> list[LedEntry]:
    """LEDs whose legs are drawn: all with `legs`, else those that the finding is about."""
    if "legs" in sheet.layers:
        return list(sheet.case.leds)
    if sheet.traces:
        return [led for led in sheet.case.leds if led.id == sheet.led]
    return [led for led in sheet.case.leds if led.id in sheet.about] if "answer" in sheet.layers else []


def entries(sheet: Sheet, taken: Taken) -> EntryMarks:
    """Leads square, legs round with a long and a short tail to the LED."""
    tails, marks, pen = [], [], sheet.pen
    named: list[tuple[str, Point]] = []
    for led in _wanted_leds(sheet):
        (lx, ly), (sx, sy) = led.long_leg, led.short_leg
        mx, my = middle(led.long_leg, led.short_leg)
        taken.add(along(led.long_leg, led.short_leg, 6 * sheet.scale))
        tails.append(pen.cased(f"M{num(lx)} {num(ly)}L{num(mx)} {num(my)}", PLUS))
        ex, ey = sx + 0.6 * (mx - sx), sy + 0.6 * (my - sy)
        tails.append(pen.cased(f"M{num(sx)} {num(sy)}L{num(ex)} {num(ey)}", INK))
        named += [(f"{led.id}.long", led.long_leg), (f"{led.id}.short", led.short_leg)]
    if sheet.case.pack is not None and sheet.layers & {"answer", "lumps", "legs", "leads", "trace"}:
        named += [("pack.plus", sheet.case.pack.plus), ("pack.minus", sheet.case.pack.minus)]
    for name, at in named:
        taken.add([around(at, 24 * sheet.scale, 24 * sheet.scale)])
        missed = name in sheet.report.entries and sheet.report.entries[name] is None
        inner = broken(symbol_of(name)) if missed else use(symbol_of(name))
        marks.append(mark(at, inner, sheet.scale, f"entry {symbol_of(name)}" + (" missed" if missed else "")))
    return EntryMarks("".join(tails), "".join(marks))


def beside(sheet: Sheet, taken: Taken) -> list[Tag]:
    """Names the nearer dough beside each entry that misses: `1 mm beside pink`, `in sky`."""
    if "answer" not in sheet.layers:
        return []
    drawn = []
    spots = {
        "pack.plus": sheet.case.pack and sheet.case.pack.plus,
        "pack.minus": sheet.case.pack and sheet.case.pack.minus,
    }
    for led in sheet.case.leds:
        spots |= {f"{led.id}.long": led.long_leg, f"{led.id}.short": led.short_leg}
    spots |= {name: at for part in sheet.case.parts for name, at in ends_of(part)}
    about = set(sheet.finding.parts) if sheet.finding else set()
    for name, at in spots.items():
        label = (
            _where(sheet, at) if at and name in about and sheet.report.entries.get(name, "") is None else ""
        )
        if at and label:
            drawn.append(put_tag(sheet, taken, at, label, (), "beside", (LEG_UNITS + 4) * sheet.scale))
    return drawn


def _where(sheet: Sheet, at: Point) -> str:
    best, near = BESIDE_MM, ""
    for piece in sheet.report.pieces:
        if not len(sheet.rims[piece.id]):
            continue
        depth = hatch.inside(sheet.rims[piece.id], at)
        if depth >= 0 and piece.role == "insulating":
            return f"in {piece.colour}"
        off_mm = abs(depth) * sheet.report.photo.mm_per_px
        if piece.role == "conductive" and off_mm < best:
            best, near = off_mm, piece.colour
    return (
        _("{n} mm beside {dough}", n=mm_number(max(best, 0.1)), dough=translated(near, "word"))
        if near
        else ""
    )


def lights(sheet: Sheet, taken: Taken) -> list[Tag]:
    """The state of each LED as a shape with its name: beside the LED, or over it where it will be other.

    The photo shows the old light, so the new one covers it, unless its legs are drawn.
    """
    looks = {led.id: led for led in sheet.report.leds}
    turned = {name for step in sheet.steps if step.action == "turn" for name in step.parts}
    drawn = []
    for led in sheet.case.leds:
        now = looks.get(led.id)
        if now is None or not _light_wanted(sheet, led.id):
            continue
        state = led.seen or now.state
        lit = sheet.after is not None and led.id in sheet.changed
        label = led.id
        if "numbers" in sheet.layers:
            label = _("{part} {mA:.1f} mA", part=led.id, mA=now.current_mA)
        turns = led.id in turned and sheet.after is None and "answer" in sheet.layers
        signs = (f"led-{state}",) + (("turn",) if turns else ())
        clear = max(LED_CLEAR_UNITS * sheet.scale, LED_CLEAR_SHARE * math.dist(led.long_leg, led.short_leg))
        at, kind = middle(led.long_leg, led.short_leg), f"light {state}" + (" lit" if lit else "")
        over = None
        if lit and led.id not in sheet.about:
            over = put_over(sheet, taken, at, label, signs, kind, lit)
        drawn.append(over or put_tag(sheet, taken, at, label, signs, kind, clear, lit))
    return drawn


def _light_wanted(sheet: Sheet, led: str) -> bool:
    """With `lights` or `numbers` all are; with `answer` those that it is about, or that will be other."""
    if sheet.layers & {"lights", "numbers"} or led in sheet.named:
        return True
    if sheet.traces:
        return led == sheet.led or any(led in one.crosses for one in sheet.traces)
    return "answer" in sheet.layers and (led in sheet.about or led in sheet.changed)
