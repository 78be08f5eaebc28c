"""What was seen and found, as a report: mm back to photo pixels, amperes to mA, codes to words."""

from collections.abc import Sequence
from dataclasses import asdict

from api import words
from api.enquiring import with_enquiry
from api.fields import Spot
from api.language.languages import spoken
from api.language.speech import translated
from api.part_schemas import ArrangedLed, ArrangementOut, PartEntry, PartKind, PartOut, TraceOut
from api.schemas import (
    Case,
    ContactOut,
    FindingOut,
    FlowLineOut,
    LeadSuggestion,
    LedOut,
    LedSuggestion,
    LumpOut,
    OtherwiseOut,
    PackOut,
    PhotoOut,
    PieceOut,
    RemedyOut,
    Report,
    SaidOut,
    StepOut,
    SuggestionsOut,
    WallOut,
)
from api.wording.sentences import Age
from circuit.flow import FlowLine
from circuit.model import (
    Arrangement,
    Finding,
    Inspection,
    LedResult,
    PartResult,
    Remedy,
    Step,
    Trace,
)
from vision.model import Scene, Suggestions, TableView, Wall

LABELS_NAME = "labels.png"
MOST_THICKNESSES = 60


def seen_report(case: Case, scene: Scene, warnings: tuple[str, ...] = ()) -> Report:
    """The seeing half: photo with what is poor about it, pieces, contacts and colours too alike."""
    names = [entry.name for entry in case.palette if entry.role != "table"]
    height, width = scene.labels.shape
    pieces = [
        PieceOut(
            id=p.id,
            colour=names[p.colour - 1],
            role=p.role,
            area_mm2=round(p.area_mm2, 1),
            outline=[_spot(q) for q in p.outline],
            below=p.below,
        )
        for p in scene.pieces
    ]
    contacts = [
        ContactOut(
            between=c.between,
            kind=c.kind,
            gap_mm=round(c.gap_mm, 2),
            length_mm=round(c.length_mm, 1),
            at=_spot(c.at),
            likely=c.likely if c.kind == "doubtful" else None,
            confidence=round(c.confidence, 2),
            below=c.below,
        )
        for c in scene.contacts
    ]
    photo = PhotoOut(
        width=width,
        height=height,
        mm_per_px=round(scene.view.mm_per_px, 5),
        true_scale=scene.view.true_scale,
        labels=LABELS_NAME,
        warnings=list(map(translated, warnings)),
    )
    alike = [finding_out(f, scene.view, case.age) for f in alike_findings(case, scene)]
    cautions = list(words.cautions(case.pack.kind if case.pack else None))
    walls = [_wall(wall) for wall in scene.walls]
    return Report(
        language=spoken().code,
        photo=photo,
        pieces=pieces,
        contacts=contacts,
        walls=walls,
        findings=alike,
        cautions=cautions,
        suggestions=suggestions_out(scene.suggestions),
    )


def _wall(wall: Wall) -> WallOut:
    """A wall with at most 60 of its thicknesses."""
    step = -(-len(wall.at) // MOST_THICKNESSES)
    return WallOut(
        piece=wall.piece,
        between=wall.between,
        thinnest_mm=round(wall.thinnest_mm, 2),
        at=_spot(wall.thinnest_at),
        thickness_mm=[round(thick, 2) for thick in wall.thickness_mm[::step]],
        along=[_spot(at) for at in wall.at[::step]],
    )


def suggestions_out(found: Suggestions | None) -> SuggestionsOut | None:
    """What the helper may confirm; None when nothing was looked for."""
    if found is None:
        return None
    leds = [
        LedSuggestion(
            at=_spot(led.at),
            size_mm=led.size_mm,
            colour=led.colour,
            seen=led.lit,
            legs=None if led.feet is None else (_spot(led.feet[0]), _spot(led.feet[1])),
            confidence=round(led.confidence, 2),
        )
        for led in found.leds
    ]
    leads = [
        LeadSuggestion(colour=lead.colour, at=_spot(lead.at), confidence=round(lead.confidence, 2))
        for lead in found.leads
    ]
    return SuggestionsOut(leds=leds, leads=leads)


def alike_findings(case: Case, scene: Scene) -> list[Finding]:
    """Colours that the camera cannot tell apart."""
    tables = {entry.name for entry in case.palette if entry.role == "table"}
    found = []
    for alike in scene.alike:
        table = alike.second in tables
        facts: dict[str, str | float] = {
            "dough": alike.first,
            "other": "the table" if table else alike.second,
            "against": "table" if table else "dough",
            "second": alike.second,
            "delta_e": alike.delta_e,
        }
        at = scene.view.to_mm(alike.worst_at)
        found.append(Finding("colours-too-alike", "watch", (), at, facts=facts))
    return found


def with_findings(
    report: Report,
    found: Inspection,
    view: TableView,
    parts: Sequence[PartEntry] = (),
    age: Age = "9-12",
) -> Report:
    """The report with what the sums say; `parts` and `age` are those of the case."""
    kinds = {part.id: part.kind for part in parts}
    report = with_enquiry(report, found.enquiry, view, age)
    contacts = [
        one.model_copy(update={"likely": not one.likely}) if i in found.other_way else one
        for i, one in enumerate(report.contacts)
    ]
    return report.model_copy(
        update={
            "language": spoken().code,
            "contacts": contacts,
            "lumps": [LumpOut(id=lump.id, pieces=list(lump.pieces)) for lump in found.lumps],
            "otherwise": [
                OtherwiseOut(contact=o.joint, entries=dict(o.entries), leds=leds_out(o.leds))
                for o in found.otherwise
            ],
            "entries": dict(found.entries),
            "entries_V": {name: _rounded(volts) for name, volts in found.entry_V.items()},
            "leds": leds_out(found.leds),
            "parts": [part_out(part, kinds[part.id]) for part in found.parts],
            "pack": pack_out(found.pack_A, found.terminal_V, found.hours),
            "traces": [_trace(trace, view) for trace in found.traces],
            "arrangements": [_arrangement(one) for one in found.arrangements],
            "findings": [*(finding_out(f, view, age) for f in found.findings), *report.findings],
            "notes": [finding_out(f, view, age) for f in found.notes],
            "remedies": [_remedy(i, r, view, age) for i, r in enumerate(found.remedies, start=1)],
        }
    )


def with_flow(report: Report, lines: Sequence[FlowLine], view: TableView) -> Report:
    """The report with the lines along which current goes."""
    flow = [
        FlowLineOut(
            start=line.start,
            end=line.end,
            current_mA=_mA(line.current_A),
            points=[_px(view, point) for point in line.points],
        )
        for line in lines
    ]
    return report.model_copy(update={"flow": flow})


def finding_out(finding: Finding, view: TableView, age: Age) -> FindingOut:
    """A finding with its words for all ages."""
    said = words.finding_words(finding, age)
    others = {other: words.finding_words(finding, other) for other in words.AGES if other != age}
    return FindingOut(
        code=finding.code,
        level=finding.level,
        parts=list(finding.parts),
        at=_px(view, finding.at),
        path=[_px(view, q) for q in finding.path],
        cut=_line(view, finding.cut),
        cut_mm=None if finding.cut_mm is None else round(finding.cut_mm, 1),
        colours=[str(finding.facts[key]) for key in ("dough", "second")] if "second" in finding.facts else [],
        delta_e=round(float(finding.facts["delta_e"]), 1) if "delta_e" in finding.facts else None,
        why=said.why,
        ask=said.ask,
        look=said.look,
        do=said.do,
        ages={other: SaidOut(**asdict(told)) for other, told in others.items()},
    )


def _remedy(rank: int, remedy: Remedy, view: TableView, age: Age) -> RemedyOut:
    return RemedyOut(
        rank=rank,
        seconds=round(remedy.seconds),
        then=dict(remedy.then),
        then_mA={led: _mA(current) for led, current in remedy.then_A.items()},
        do=words.remedy_words(remedy, age),
        steps=[_step(s, view, age) for s in remedy.steps],
    )


def _step(step: Step, view: TableView, age: Age) -> StepOut:
    return StepOut(
        action=step.action,
        parts=list(step.parts),
        at=_px(view, step.at),
        to=step.to,
        to_at=None if step.to_at is None else _px(view, step.to_at),
        line=_line(view, step.line),
        do=words.step_words(step, age),
    )


def _spot(at: tuple[float, float]) -> Spot:
    return round(at[0], 1), round(at[1], 1)


def _px(view: TableView, at: tuple[float, float]) -> Spot:
    return _spot(view.to_px(at))


def _line(
    view: TableView, ends: tuple[tuple[float, float], tuple[float, float]] | None
) -> tuple[Spot, Spot] | None:
    return None if ends is None else (_px(view, ends[0]), _px(view, ends[1]))


def leds_out(results: tuple[LedResult, ...]) -> list[LedOut]:
    """Currents and looks of LEDs."""
    return [
        LedOut(
            id=r.id,
            current_mA=_mA(r.current_A),
            state=r.state,
            volts_V=_rounded(r.volts_V),
            power_mW=_rounded(r.power_W * 1e3),
            glow=_rounded(min(1.0, r.glow)),
        )
        for r in results
    ]


def pack_out(current_A: float, terminal_V: float, hours: float | None) -> PackOut:
    """Hours to one decimal, whole ones from ten on: the capacity of a cell is known no better."""
    return PackOut(
        current_mA=_mA(current_A),
        terminal_V=_rounded(terminal_V),
        hours_until_flat=None if hours is None else round(hours, 1 if hours < 10 else None),
    )


def part_out(result: PartResult, kind: PartKind) -> PartOut:
    """What another part does."""
    return PartOut(
        id=result.id,
        kind=kind,
        current_mA=_mA(result.current_A),
        volts_V=_rounded(result.volts_V),
        works=result.works,
    )


def _trace(trace: Trace, view: TableView) -> TraceOut:
    return TraceOut(
        leg=trace.leg,
        wanted=trace.wanted,
        reaches=list(trace.reaches),
        lumps=list(trace.lumps),
        path=[_px(view, at) for at in trace.path],
        crosses=list(trace.crosses),
    )


def _arrangement(one: Arrangement) -> ArrangementOut:
    leds = [ArrangedLed(id=r.id, current_mA=_mA(r.current_A), state=r.state) for r in one.leds]
    return ArrangementOut(way=one.way, leds=leds, pack_mA=_mA(one.pack_A))


def _mA(current_A: float) -> float:
    return _rounded(current_A * 1e3)


def _rounded(value: float) -> float:
    """Three decimals, and no -0."""
    return round(value, 3) + 0.0
