"""The command line: `doughsight inspect`, `again`, `netlist`, `mat`, `serve`.

Exit status: 0 nothing to fix, 1 something to fix, 2 bad input with one clear sentence.
"""

import socket
import sys
import tempfile
from enum import StrEnum
from pathlib import Path
from typing import Annotated

try:
    import cv2
except ImportError as error:  # as on a bare server without OpenGL
    raise SystemExit(
        f"OpenCV cannot be loaded ({error}): apt install libgl1 libglib2.0-0, or install opencv-python anew."
    ) from None
import typer
from pydantic import ValidationError
from rich.console import Console
from rich.progress import Progress, SpinnerColumn, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

from api.backup_commands import backup, restore
from api.checks_told import enquiry_lines, with_checks
from api.door import DEFAULT_PORT, Door
from api.drawing import marked_up_png
from api.errors import USER_ERRORS, InputError, sentence, told
from api.fields import Spot
from api.flow_picture import flow_png
from api.hints import Level, hints
from api.language.languages import ENGLISH, languages, speak
from api.language.speech import N_, _, figure, translated
from api.pipeline import Result, inspect_case, read_sculpture
from api.remedy_picture import remedy_png
from api.reporting import LABELS_NAME
from api.schemas import Case, Report
from api.seeing import seeing_png
from circuit.graphml import sculpture_graphml
from circuit.netlist import sculpture_deck
from vision.mat_layout import Paper

FIXABLE = ("stop", "fix")
STAGES = {
    "photo": "opening the photo",
    "dough": "finding the dough",
    "underside": "looking underneath",
    "colours": "learning the colours",
    "shapes": "outlining the dough",
    "pieces": "counting the pieces",
    "contacts": "looking what touches",
    "sums": "doing the sums",
    "shorts": "looking for shorts",
    "remedies": "trying remedies",
    "picture": "drawing the picture",
}
LEVEL_SIGN = {"stop": N_("STOP "), "fix": N_("FIX  "), "watch": N_("WATCH")}
STATE_SIGN = {"bright": N_("bright *"), "dim": N_("dim    ."), "off": N_("off    o")}

app = typer.Typer(
    help="Finds out from a top-down photo why a light-up dough sculpture does not light.",
    no_args_is_help=True,
    add_completion=False,
)
out, err = Console(highlight=False), Console(stderr=True, highlight=False)


def _speak(code: str) -> str:
    if code not in languages():
        raise typer.BadParameter(f"{code} is not spoken here; choose one of {', '.join(languages())}.")
    speak(code)
    return code


InLanguage = Annotated[
    str, typer.Option("--language", help="Language of sentences and pictures.", callback=_speak)
]
CaseFile = Annotated[Path, typer.Argument(metavar="CASE.json", help="The case: photo, colours, entries.")]


def main() -> None:
    """Run the command line; one sentence and status 2 for whatever a user can get wrong."""
    try:
        app()
    except USER_ERRORS as error:
        err.print(told(error), soft_wrap=True, markup=False)
        sys.exit(2)


@app.command()
def inspect(
    case_file: CaseFile,
    to: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Where to write; NAME-report without it.")
    ] = None,
    seeing: Annotated[
        Path | None,
        typer.Option(metavar="FILE.png", help="Also draw what was taken for what, and how sure that is."),
    ] = None,
    flow: Annotated[
        Path | None, typer.Option(metavar="FILE.png", help="Also draw where the electricity goes.")
    ] = None,
    remedy: Annotated[
        Path | None, typer.Option(metavar="FILE.png", help="Also draw a remedy: now and afterwards.")
    ] = None,
    rank: Annotated[int, typer.Option(help="Which remedy to draw; 1 is the best.", min=1)] = 1,
    hint: Annotated[
        Level, typer.Option(help="How much to give away: a question, where to look, or what to do.")
    ] = "do",
    check: Annotated[
        list[str] | None,
        typer.Option(metavar="CHECK", help="A check by hand and what was seen: 'turn L2=same'. Repeatable."),
    ] = None,
    _language: InLanguage = ENGLISH,
) -> None:
    """Say what is wrong with a sculpture and what to do first."""
    if remedy is not None and hint != "do":
        raise InputError(f"--remedy gives away what --hint {hint} keeps back: leave out one of the two.")
    case, photo, labels = load(case_file)
    case = with_checks(case, check or [])
    target = to if to is not None else Path(case_file.name.split(".")[0] + "-report")
    if target.exists() and not target.is_dir():
        raise InputError(f"{target} is a file, not a folder: give --out another name.")
    with Progress(
        SpinnerColumn(), TextColumn("{task.description}"), TimeElapsedColumn(), console=err, transient=True
    ) as bar:
        task = bar.add_task("starting")

        def on_stage(stage: str) -> None:
            bar.update(task, description=STAGES.get(stage, stage))

        below = load_below(case_file, case)
        result = inspect_case(case, photo, labels, on_stage, flow=flow is not None, below=below)
        on_stage("picture")
        write(result, target, hint)
        if remedy is not None:
            _write_remedy(remedy, result, rank)
        if seeing is not None:
            _write_picture(seeing, seeing_png(result.pixels, result.scene, result.case))
        if flow is not None:
            _write_picture(flow, flow_png(result.pixels, result.report, result.case))
    if hint == "do":
        tell(result.report)
    else:
        tell_hints(result.report, result.case, hint)
    for line in _suggestion_lines(result.report):
        out.print(Text(line, style="dim"), soft_wrap=True)
    out.print(
        "\n"
        + _("Written to {target}: {files}", target=target, files=f"report.json, {LABELS_NAME}, picture.png"),
        markup=False,
    )
    raise typer.Exit(1 if any(f.level in FIXABLE for f in result.report.findings) else 0)


@app.command()
def again(
    case_file: CaseFile,
    new: Annotated[
        Path,
        typer.Argument(metavar="NEW.jpg", help="A second photo; a label image if the case has no photo."),
    ],
    to: Annotated[Path, typer.Option("--out", metavar="DIR", help="Where to write the new case and report.")],
    _language: InLanguage = ENGLISH,
) -> None:
    """Look at a second photo of the same sculpture: entries are carried over, and what changed is said."""
    # Here and not at the top: the other commands start without it.
    from api.again import inspect_again

    case, photo, labels = load(case_file)
    data = _read(new, "photo")
    result = inspect_again(case, photo, data, name=new.name, labels=labels)
    write(result, to)
    (to / new.name).write_bytes(data)
    (to / "case.json").write_text(result.case.model_dump_json(by_alias=True, exclude_unset=True, indent=1))
    for change in result.report.changes:
        out.print(Text(change.says))
    tell(result.report)
    out.print(
        "\n"
        + _(
            "Written to {target}: {files}",
            target=to,
            files=f"case.json, report.json, {LABELS_NAME}, picture.png",
        ),
        markup=False,
    )
    raise typer.Exit(1 if any(f.level in FIXABLE for f in result.report.findings) else 0)


class Form(StrEnum):
    """How a circuit is written down."""

    SPICE = "spice"
    GRAPHML = "graphml"


@app.command()
def netlist(
    case_file: CaseFile,
    form: Annotated[Form, typer.Option("--as", help="A deck for ngspice, or a graph.")] = Form.SPICE,
) -> None:
    """Print the circuit of a sculpture: a SPICE deck, or what is joined to what as GraphML."""
    case, photo, labels = load(case_file)
    sculpture = read_sculpture(case, photo, labels, load_below(case_file, case))
    if form is Form.GRAPHML:
        sys.stdout.write(sculpture_graphml(sculpture))
    else:
        sys.stdout.write(sculpture_deck(sculpture, title=case_file.stem))


@app.command()
def mat(
    paper: Annotated[Paper, typer.Option(help="The paper in the printer.")] = "a4",
    to: Annotated[
        Path | None,
        typer.Option("--out", "-o", metavar="FILE.pdf", help="Where to write; mat-PAPER.pdf without."),
    ] = None,
) -> None:
    """Write the work mat to print: put a sculpture on it, and every photo has true lengths and colours."""
    # Here and not at the top: the other commands start faster without the PDF writer.
    from api.mat_sheet import mat_pdf

    target = to if to is not None else Path(f"mat-{paper}.pdf")
    try:
        target.write_bytes(mat_pdf(paper))
    except OSError as error:
        raise InputError(f"{target} cannot be written ({error.strerror}): give -o another name.") from error
    out.print(
        f"Written to {target}. Print it at 100 % (not 'fit to page') and check its ruler.", markup=False
    )


app.command()(backup)
app.command()(restore)


@app.command()
def serve(
    port: Annotated[int, typer.Option(help="Port to listen on.", min=1, max=65535)] = DEFAULT_PORT,
    network: Annotated[
        bool, typer.Option("--network", help="Let phones on the same network in, with a code.")
    ] = False,
    certificate: Annotated[
        Path | None, typer.Option(metavar="FILE.pem", help="Encrypt the connection with this certificate.")
    ] = None,
    key: Annotated[
        Path | None, typer.Option(metavar="FILE.pem", help="The key of the certificate, without a password.")
    ] = None,
) -> None:
    """Start the app; it is open to this machine only, unless --network lets phones in."""
    # Here and not at the top: the other commands start in half the time without the web.
    import segno

    from api.app import create_app
    from api.exposure import FOR_PHONES, check_certificate, exposure
    from api.logs import configure
    from api.serving import only_server, serve_app, told_to_serve
    from api.settings import Settings

    https = check_certificate(certificate, key)
    settings = Settings()
    configure(settings.log, settings.log_form)
    host = "0.0.0.0" if network else "127.0.0.1"
    door = Door(network, port, https, settings.host_names)
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as error:
            raise InputError(
                f"Port {port} is not free ({error.strerror}): choose another with --port."
            ) from error
    with only_server(settings.data_dir):
        web = create_app(settings, door=door)
        *lines, stop = exposure(door)
        for line in lines:
            out.print(line, markup=False, soft_wrap=True)
        if network:
            out.print(FOR_PHONES, markup=False, soft_wrap=True)
            segno.make(f"{door.address()}/rooms/join", micro=False).terminal(compact=True)
        out.print(stop, markup=False, soft_wrap=True)
        serve_app(told_to_serve(web, host, port, certificate, key))


@app.command()
def doctor(
    port: Annotated[int, typer.Option(help="Port that is to be free.", min=1, max=65535)] = DEFAULT_PORT,
    as_json: Annotated[bool, typer.Option("--json", help="For programs.")] = False,
) -> None:
    """Look whether this installation is well, and say what to do where it is not; nothing is changed."""
    from api import doctor as checks

    findings = list(checks.examine(port=port))
    print(checks.as_json(findings) if as_json else checks.report(findings))
    raise typer.Exit(0 if checks.well(findings) else 1)


def load(case_file: Path) -> tuple[Case, bytes | None, bytes | None]:
    """A case with the bytes of its photo and of its label image."""
    text = _read(case_file, "case")
    try:
        case = Case.model_validate_json(text)
    except ValidationError as error:
        raise InputError(sentence(error)) from error
    photo = None
    if case.photo is not None:
        photo = _read(case_file.parent / case.photo, "photo")
    labels = None if case.labels is None else _read(case_file.parent / case.labels, "label image")
    return case, photo, labels


def load_below(case_file: Path, case: Case) -> bytes | None:
    """The bytes of the photo, or of the label image, of the underside that a case names."""
    if case.underside is None:
        return None
    return _read(case_file.parent / (case.underside.photo or case.underside.labels or ""), "underside")


def _read(path: Path, what: str) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError as error:
        raise InputError(f"There is no {what} {path}: check the name.") from error
    except OSError as error:
        raise InputError(f"The {what} {path} cannot be read ({error.strerror}): check it.") from error


def write(result: Result, target: Path, level: Level = "do") -> None:
    """Write report, labels and picture, all or nothing; `level`: how much the picture gives away."""
    done, png = cv2.imencode(".png", result.labels)
    if not done:
        raise InputError("The label image could not be written: the photo is too large for a PNG.")
    files = {
        "report.json": result.report.to_json().encode(),
        LABELS_NAME: png.tobytes(),
        "picture.png": marked_up_png(result.pixels, result.report, result.case, level=level),
    }
    try:
        target.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=target) as aside:
            for name, data in files.items():
                (Path(aside) / name).write_bytes(data)
            for name in files:
                (Path(aside) / name).replace(target / name)
    except OSError as error:
        raise InputError(
            f"{target} cannot be written ({error.strerror}): give --out another folder."
        ) from error


def _write_picture(target: Path, png: bytes) -> None:
    try:
        target.write_bytes(png)
    except OSError as error:
        raise InputError(f"{target} cannot be written ({error.strerror}): give another name.") from error


def _write_remedy(target: Path, result: Result, rank: int) -> None:
    """Draw the remedy of this rank; without one, say so and draw nothing."""
    count = len(result.report.remedies)
    if count and rank > count:
        raise InputError(
            "There is no remedy {rank} here: there are {count}. Give a smaller --rank.",
            rank=rank,
            count=count,
        )
    if count:
        _write_picture(target, remedy_png(result.pixels, result.report, result.case, rank))
    else:
        err.print(f"There is no remedy to draw here, so {target} was not written.", markup=False)


def tell_hints(report: Report, case: Case, level: Level) -> None:
    """Print questions, or where to look, and how the lights are now: no remedy and no sums."""
    for warning in report.photo.warnings:
        out.print(Text(warning))
    if any(f.level == "stop" for f in report.findings):
        out.print(Text(_("Stop. Unplug the pack first."), style="bold red"))
    for kind, said in hints(report, level):
        out.print(Text(f"{translated(LEVEL_SIGN[kind])} {said}"))
    if not report.findings:
        out.print(_("Nothing to fix can be seen on this photo."))
    if report.next_check is not None and report.next_check.ask:
        out.print(Text(_("Ask next: {ask}", ask=report.next_check.ask)))
    table = Table("LED", _("looks"), box=None, pad_edge=False)
    seen = {led.id: led.seen for led in case.leds}
    for led in report.leds:
        table.add_row(led.id, translated(STATE_SIGN[seen.get(led.id) or led.state]))
    out.print(table)
    for caution in report.cautions[:2]:
        out.print(Text(caution, style="dim"))


def tell(report: Report) -> None:
    """Print findings, remedies and lights in words."""
    for warning in report.photo.warnings:
        out.print(Text(warning))
    for line in report.underside.says if report.underside is not None else ():
        out.print(Text(line))
    if not report.leds and report.pack is None:
        for f in report.findings:
            out.print(Text(f"{translated(LEVEL_SIGN[f.level])} {f.why} {f.do}  [{f.code}]"))
        out.print(
            _(
                "Pieces: {pieces}, contacts: {contacts}. Tap leads and LEDs to go on.",
                pieces=len(report.pieces),
                contacts=len(report.contacts),
            )
        )
        return
    if any(f.level == "stop" for f in report.findings):
        out.print(Text(_("Stop. Unplug the pack first."), style="bold red"))
    for f in report.findings:
        out.print(Text(f"{translated(LEVEL_SIGN[f.level])} {f.why} {f.do}  [{f.code}]"))
    if not any(f.level in FIXABLE for f in report.findings):
        lit = all(led.state != "off" for led in report.leds)
        out.print(_("Every light is on.") if lit else _("Nothing to fix can be seen on this photo."))
    for remedy in report.remedies:
        then = _(", ").join(f"{led} {translated(state, 'word')}" for led, state in remedy.then.items())
        promise = _("Then: {then}. About {n:.0f} s.", then=then, n=remedy.seconds)
        out.print(Text(f"{figure(remedy.rank)}. {remedy.do} {promise}"))
    for line in enquiry_lines(report):
        out.print(Text(line), soft_wrap=True)
    for note in report.notes:
        out.print(Text(_("Note: {why} {do}", why=note.why, do=note.do) + f"  [{note.code}]", style="dim"))
    out.print(_lights(report))
    if not report.photo.true_scale:
        out.print(_("No scale was given: lengths and currents are rough."))
    for caution in report.cautions[:2]:
        out.print(Text(caution, style="dim"))


def _suggestion_lines(report: Report) -> list[str]:
    """What the photo seems to show beside what was told, for the helper to confirm."""
    if report.suggestions is None:
        return []
    lines = []
    for led in report.suggestions.leds:
        colour = led.colour and translated(led.colour, f"colour_{led.colour}")
        look = _(
            "{colour}, {size} mm, looks {state}",
            colour=colour or _("colour cannot be told"),
            size=led.size_mm,
            state=translated(led.seen, "word"),
        )
        if led.legs is not None:
            one, other = map(_spot, led.legs)
            look += _(", legs near {one} and {other}, + unknown", one=one, other=other)
        lines.append(_("Suggestion to confirm: an LED at {at} ({look}).", at=_spot(led.at), look=look))
    for lead in report.suggestions.leads:
        name = _("the red lead") if lead.colour == "red" else _("the black lead")
        lines.append(_("Suggestion to confirm: {lead} goes in at {at}.", lead=name, at=_spot(lead.at)))
    return lines


def _spot(at: Spot) -> str:
    return f"{at[0]:.0f}, {at[1]:.0f}"


def _lights(report: Report) -> Table:
    heads = ("LED", _("looks"), _("mA"), _("long leg or a in"), _("short leg or b in"))
    table = Table(*heads, box=None, pad_edge=False)
    for led in report.leds:
        ends = (report.entries.get(f"{led.id}.{leg}") or _("no lump") for leg in ("long", "short"))
        table.add_row(led.id, translated(STATE_SIGN[led.state]), figure(led.current_mA, ".2f"), *ends)
    for part in report.parts:
        ends = (report.entries.get(f"{part.id}.{end}") or _("no lump") for end in "ab")
        kind = translated(part.kind, "word")
        works = _("{kind} works", kind=kind) if part.works else _("{kind} works not", kind=kind)
        table.add_row(part.id, works, figure(part.current_mA, ".2f"), *ends)
    if report.pack is not None:
        table.add_row(_("pack"), "", figure(report.pack.current_mA, ".1f"), "", "")
    return table
