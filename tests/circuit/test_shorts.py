"""All shorts are found: of the pack, past one LED or a group, several at once, by dough and by wires.

Places and widths are those of the pictures: a sign is 2 mm.
"""

import math
from collections.abc import Callable
from dataclasses import replace

import pytest

from circuit import materials
from circuit.board import lay_out, own_placing
from circuit.inspection import inspect
from circuit.model import Entry, Finding, Inspection, Part, PartKind, Sculpture
from circuit.outcome import operate
from circuit.shorts import Shorts, find_shorts

Draw = Callable[..., Sculpture]
HEIGHT, WIDTH, SLIT = 8, 9, 2
STEP = WIDTH + SLIT


def row_of(lumps: int, slits: str = "#") -> tuple[list[str], list[str]]:
    """A row of lumps 18 mm wide and 16 mm high with slits 4 mm wide, an LED across each, leads at the ends.

    `slits`: what fills each of them, wall or table; the last sign goes on.
    """
    fill = [slits[min(i, len(slits) - 1)] for i in range(lumps - 1)]
    line = "".join("a" * WIDTH + (fill[i] * SLIT if i < lumps - 1 else "") for i in range(lumps))
    places = [["."] * len(line) for _ in range(HEIGHT)]
    places[6][1], places[6][-2] = "P", "M"
    for i in range(lumps - 1):
        left = i * STEP + WIDTH
        places[2][left - 2], places[2][left + SLIT + 1] = "123"[i], "qwe"[i]
    return [line] * HEIGHT, ["".join(row) for row in places]


def fill(dough: list[str], slit: int, rows: range) -> list[str]:
    """Dough in these rows of a slit."""
    at = slit * STEP + WIDTH
    return [line[:at] + "a" * SLIT + line[at + SLIT :] if r in rows else line for r, line in enumerate(dough)]


def slit_x(slit: int) -> float:
    """The middle of a slit [mm]."""
    return 2.0 * (slit * STEP + WIDTH + SLIT / 2)


def make(draw: Draw, dough: list[str], entries: list[str], cells: int = 6) -> Sculpture:
    return replace(draw("\n".join(dough), "\n".join(entries)), pack=materials.default_pack(cells))


def search(sculpture: Sculpture) -> Shorts:
    board, placing = lay_out(sculpture), own_placing(sculpture)
    return find_shorts(board, placing, operate(board, placing))


def told(findings: tuple[Finding, ...]) -> list[tuple[str, str, tuple[str, ...]]]:
    return [(f.code, f.level, f.parts) for f in findings]


def wired(sculpture: Sculpture, *ends: tuple[tuple[float, float], ...], kind: PartKind = "wire") -> Sculpture:
    """The sculpture with a wire, or something else of no resistance, between each two places."""
    parts, entries = [], dict(sculpture.entries)
    for i, (a, b) in enumerate(ends, start=1):
        parts.append(Part(f"W{i}", kind, 0.1))
        for end, (x, y) in (("a", a), ("b", b)):
            piece = int(sculpture.grid[int(y / sculpture.cell_mm), int(x / sculpture.cell_mm)])
            entries[f"W{i}.{end}"] = Entry(f"W{i}.{end}", (x, y), piece)
    return replace(sculpture, parts=tuple(parts), entries=entries)


@pytest.mark.parametrize("slits", ["#", "."])
@pytest.mark.parametrize("lumps", [2, 3])
def test_good_rows_have_no_short(draw: Draw, lumps: int, slits: str) -> None:
    found = inspect(make(draw, *row_of(lumps, slits)))
    assert found.findings == ()
    assert {led.state for led in found.leds} <= {"bright", "dim"}


@pytest.mark.parametrize(
    ("slits", "rows", "code", "y", "width"),
    [
        ("#", range(4, 6), "short-over-the-wall", 10, 4),
        ("#", range(6, 8), "short-round-the-end", 14, 4),
        (".", range(5, 6), "short-bridge", 11, 2),
        (".", range(3, 8), "short-pressed-together", 11, 10),
    ],
)
@pytest.mark.parametrize("lumps", [2, 3])
def test_each_kind_past_the_pack_and_past_one_light(
    draw: Draw, lumps: int, slits: str, rows: range, code: str, y: float, width: float
) -> None:
    dough, entries = row_of(lumps, slits)
    short = search(make(draw, fill(dough, lumps - 2, rows), entries))
    past = ("stop", ("pack",)) if lumps == 2 else ("fix", ("L2",))
    assert told(short.findings) == [(code, *past)]
    (finding,) = short.findings
    assert finding.at == pytest.approx((slit_x(lumps - 2), y), abs=3)
    assert finding.cut_mm == pytest.approx(width, abs=1.5)
    assert finding.cut is not None and math.dist(*finding.cut) == pytest.approx(finding.cut_mm)
    assert "off" not in short.after.states.values()


def test_a_short_past_one_light_is_not_both_legs_in_one_lump_as_well(draw: Draw) -> None:
    dough, entries = row_of(3)
    found = inspect(make(draw, fill(dough, 1, range(6, 8)), entries))
    assert [f.code for f in found.findings] == ["short-round-the-end"]
    assert [step.action for step in found.remedies[0].steps] == ["cut"]
    assert "off" not in found.remedies[0].then.values()


def test_both_legs_in_one_wide_lump_are_no_short(draw: Draw) -> None:
    """No neck, no wall, no border between the legs: the LED was set wrongly, the dough is right."""
    dough, entries = row_of(2)
    places = [list(row) for row in entries]
    places[4][2], places[4][6] = "2", "w"
    found = inspect(make(draw, dough, ["".join(row) for row in places]))
    assert [(f.code, f.parts) for f in found.findings] == [("legs-in-one-lump", ("L2",))]


def test_a_group_of_two_is_bypassed_together(draw: Draw) -> None:
    """The third lump reaches back under the second to the first: L1 and L2 are off, L3 alone shines."""
    dough, entries = row_of(4)
    width = len(dough[0])
    table, dots = "." * width, "." * width
    below = "a" * (2 * STEP + WIDTH) + "." * (width - 2 * STEP - WIDTH)
    link = "." * 3 + "a" * 2 + "." * (2 * STEP - 3) + "aaa" + "." * (width - 2 * STEP - 5)
    full = [*dough, link, link, below, below, below, table]
    short = search(make(draw, full, [*entries, *[dots] * 6]))
    assert [(f.level, f.parts) for f in short.findings] == [("fix", ("L1", "L2"))]
    assert short.findings[0].at == pytest.approx((8, 18), abs=3)
    assert short.findings[0].cut_mm == pytest.approx(4, abs=1.5)
    assert all(short.after.led_A[led] > 1e-5 for led in ("L1", "L2", "L3"))


def test_two_shorts_in_different_lumps_are_both_found(draw: Draw) -> None:
    """L1 and L3 of a row of three: neither cut is a cut of the other."""
    dough, entries = row_of(4)
    full = fill(fill(dough, 0, range(4, 5)), 2, range(7, 8))
    short = search(make(draw, full, entries))
    found = {f.parts: f for f in short.findings}
    assert {parts: (f.code, f.level) for parts, f in found.items()} == {
        ("L1",): ("short-over-the-wall", "fix"),
        ("L3",): ("short-round-the-end", "fix"),
    }
    assert found["L1",].at == pytest.approx((slit_x(0), 9), abs=3)
    assert found["L3",].at == pytest.approx((slit_x(2), 15), abs=3)
    assert len({short.board.lump_at(short.placing[f"L{i}.long"]) for i in (1, 2, 3)}) == 3


def test_two_shorts_one_behind_the_other_past_the_whole_pack(draw: Draw) -> None:
    """Both slits of a row of two are bridged: one cut ends the danger, both make both lights shine."""
    dough, entries = row_of(3)
    short = search(make(draw, fill(fill(dough, 0, range(5, 7)), 1, range(4, 6)), entries))
    assert sorted(f.at[0] for f in short.findings) == pytest.approx([slit_x(0), slit_x(1)], abs=3)
    assert short.findings[0].level == "stop"
    assert "off" not in short.after.states.values()


def test_two_bridges_between_the_same_lumps_are_two_findings(draw: Draw) -> None:
    dough, entries = row_of(2, ".")
    short = search(make(draw, fill(fill(dough, 0, range(1)), 0, range(6, 7)), entries))
    assert told(short.findings) == [("short-bridge", "stop", ("pack",))] * 2
    assert sorted(f.at[1] for f in short.findings) == pytest.approx([1, 13], abs=2)
    for finding, other in zip(short.findings, short.findings[::-1], strict=True):
        assert min(math.dist(p, finding.at) for p in finding.path) < 2
        assert min(math.dist(p, other.at) for p in finding.path) > 6
    # Each carries its share of what the pack gives.
    shares = [float(f.facts["share_A"]) for f in short.findings]
    assert min(shares) > 0
    assert sum(shares) == pytest.approx(float(short.findings[0].facts["pack_A"]), rel=0.1)
    assert short.after.states == {"L1": "bright"}


def test_a_short_and_a_light_in_backwards(draw: Draw) -> None:
    dough, entries = row_of(3)
    turned = "\n".join(entries).translate(str.maketrans("2w", "w2")).split()
    sculpture = make(draw, fill(dough, 1, range(6, 8)), turned)
    found = inspect(sculpture)
    # Current comes in at the short leg's side, and the way is walked as it flows.
    assert found.findings[0].path[0] == sculpture.entries["L2.short"].at
    assert {f.code for f in found.findings} == {"short-round-the-end", "led-backwards"}
    assert found.findings[0].at == pytest.approx((slit_x(1), 14), abs=3)


@pytest.mark.parametrize("kind", ["wire", "switch"])
def test_a_wire_past_the_pack_is_taken_out(draw: Draw, kind: PartKind) -> None:
    sculpture = wired(make(draw, *row_of(2)), ((6, 3), (34, 3)), kind=kind)
    short = search(sculpture)
    assert told(short.findings) == [("short-wire", "stop", ("W1", "pack"))]
    assert short.findings[0].cut is None
    assert short.cleared.parts == ()
    assert short.after.states == {"L1": "bright"}


def test_a_wire_past_one_light_and_one_beside_it(draw: Draw) -> None:
    """Two wires side by side are two things to take out; one alone would change nothing."""
    sculpture = wired(make(draw, *row_of(3)), ((26, 3), (48, 3)), ((26, 12), (48, 12)))
    found = inspect(sculpture)
    assert told(found.findings) == [("short-wire", "fix", (wire, "L2")) for wire in ("W1", "W2")]
    assert [step.action for step in found.remedies[0].steps] == ["take-out"] * 2
    assert "off" not in found.remedies[0].then.values()


def test_a_wire_that_only_lengthens_a_lump_and_an_open_switch_are_no_shorts(draw: Draw) -> None:
    sculpture = make(draw, *row_of(2))
    assert search(wired(sculpture, ((4, 4), (4, 9)))).findings == ()
    across = wired(sculpture, ((6, 3), (34, 3)), kind="switch")
    shut = replace(across, parts=tuple(replace(part, closed=False) for part in across.parts))
    assert search(shut).findings == ()


def test_a_wire_that_joins_two_lumps_for_good_stays_when_dough_is_the_short(draw: Draw) -> None:
    """The red lead's lump feeds the next by a wire; the short is in the dough behind it."""
    dough, entries = row_of(3)
    places = [row.replace("1", ".").replace("q", ".").replace("2", "1").replace("w", "q") for row in entries]
    sculpture = wired(make(draw, fill(dough, 1, range(6, 8)), places), ((6, 3), (26, 3)))
    short = search(sculpture)
    assert told(short.findings) == [("short-round-the-end", "stop", ("pack",))]
    assert [part.id for part in short.cleared.parts] == ["W1"]
    assert short.after.states == {"L1": "bright"}


@pytest.mark.parametrize("slit", [0, 1])
def test_of_two_wires_one_behind_the_other_the_one_past_the_light_goes(draw: Draw, slit: int) -> None:
    dough, entries = row_of(3)
    gone, kept = ("2w", "1q") if slit == 0 else ("1q", "2w")
    table = str.maketrans(gone + kept, "..1q")
    sculpture = make(draw, dough, [row.translate(table) for row in entries])
    short = search(wired(sculpture, ((6, 3), (26, 3)), ((26, 12), (48, 12))))
    assert told(short.findings) == [("short-wire", "stop", (f"W{slit + 1}", "pack"))]
    assert short.after.states == {"L1": "bright"}


@pytest.mark.parametrize("lumps", [2, 3])
def test_the_way_goes_from_end_to_end_in_the_dough_and_through_the_cut(draw: Draw, lumps: int) -> None:
    dough, entries = row_of(lumps)
    sculpture = make(draw, fill(dough, lumps - 2, range(6, 8)), entries)
    (finding,) = search(sculpture).findings
    ends = ("pack.plus", "pack.minus") if lumps == 2 else ("L2.long", "L2.short")
    assert {finding.path[0], finding.path[-1]} == {sculpture.entries[name].at for name in ends}
    h = sculpture.cell_mm
    assert all(sculpture.grid[int(y / h), int(x / h)] > 0 for x, y in finding.path)
    assert max(math.dist(a, b) for a, b in zip(finding.path, finding.path[1:], strict=False)) < 3
    assert min(math.dist(p, finding.at) for p in finding.path) < 2


def test_volts_over_the_way_are_its_ohms_times_its_current(draw: Draw) -> None:
    dough, entries = row_of(2)
    (finding,) = search(make(draw, fill(dough, 0, range(6, 8)), entries)).findings
    facts = {name: float(finding.facts[name]) for name in ("volts_V", "way_ohm", "share_A", "pack_A")}
    assert facts["volts_V"] == pytest.approx(facts["way_ohm"] * facts["share_A"])
    assert 0 < facts["share_A"] <= facts["pack_A"] * 1.01
    # A wider end of the wall is an easier way.
    (wider,) = search(make(draw, fill(dough, 0, range(4, 8)), entries)).findings
    assert float(wider.facts["way_ohm"]) < facts["way_ohm"]


def test_what_was_found_is_gone_from_the_cleared_sculpture(draw: Draw) -> None:
    dough, entries = row_of(4)
    short = search(make(draw, fill(fill(dough, 0, range(4, 6)), 1, range(6, 8)), entries))
    assert len(short.findings) == 2
    assert search(short.cleared).findings == ()


def codes(found: Inspection) -> list[str]:
    return [finding.code for finding in found.findings]


@pytest.mark.parametrize(("moved", "at"), [("pack.minus", (3.0, 13.0)), ("L1.short", (15.1, 5.0))])
def test_entries_in_one_cell_do_not_stop_the_search(draw: Draw, moved: str, at: tuple[float, float]) -> None:
    """Both leads, or both legs, as good as in one place: no cut fits between them."""
    sculpture = make(draw, *row_of(2))
    entry = replace(sculpture.entries[moved], at=at, piece=sculpture.entries["pack.plus"].piece)
    found = inspect(replace(sculpture, entries={**sculpture.entries, moved: entry}))
    assert codes(found)[0] == ("leads-touching" if moved == "pack.minus" else "legs-in-one-lump")
