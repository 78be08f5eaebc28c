"""The public formats `doughsight-case/1` and `doughsight-report/1`, as the outside world writes them.

Photo points are [x, y] in pixels of the upright photo, origin at the top left corner.
"""

from collections import Counter
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from api.check_schemas import (
    CheckedOut,
    CheckEntry,
    EnquiryState,
    NamedOut,
    NextCheckOut,
    SuspectOut,
    missing_part,
)
from api.errors import InputError
from api.fields import Id, Name, NotNegative, Positive, Role, Spot, State, Strict, Thickness
from api.part_schemas import ArrangementOut, PartEntry, PartOut, TraceOut
from api.second_schemas import ChangeOut, UndersideOut
from api.wording.sentences import Age


class PaletteEntry(Strict):
    """A colour that the helper chose, what it is, and where it was tapped, or its pad on the mat."""

    name: Name
    role: Role
    taps: tuple[Spot, ...] = ()
    pad: Annotated[int, Field(ge=1, le=6)] | None = None


class Scale(Strict):
    """One of: two points and the mm between them, mm per pixel, the printed mat, a card, a rectangle, a coin.

    card     its four corners going round, or both ends of a long edge; ISO/IEC 7810 ID-1, 85.60 x 53.98 mm
    corners  of a rectangle, going round, with `sides_mm`: first to second corner, second to third
    coin     two opposite places of its rim, or five and more all round it, with its diameter as `mm`
    """

    points: tuple[Spot, Spot] | None = None
    mm: Positive | None = None
    mm_per_px: Positive | None = None
    mat: bool = False
    card: Annotated[tuple[Spot, ...], Field(max_length=4)] | None = None
    corners: tuple[Spot, Spot, Spot, Spot] | None = None
    sides_mm: tuple[Positive, Positive] | None = None
    coin: Annotated[tuple[Spot, ...], Field(max_length=40)] | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        kinds = ("points", "mm_per_px", "mat", "card", "corners", "coin")
        told = [kind for kind in kinds if getattr(self, kind) not in (None, False)]
        if len(told) > 1:
            raise InputError(
                "The scale is told by {one} and by {other}: give one of them",
                one=told[0],
                other=told[1],
            )
        if not told:
            raise InputError(
                "The scale needs two points with their mm, mm_per_px, mat, card, corners with sides_mm, "
                "or coin with its mm"
            )
        if (self.mm is None) == (told[0] in ("points", "coin")):
            if self.mm is not None:
                raise InputError("The scale is told by {one}, so mm means nothing: take it out", one=told[0])
            if told[0] == "coin":
                raise InputError("The scale needs both: coin, and mm across the coin")
            raise InputError("The scale needs both: points, and the mm between them")
        if (self.sides_mm is None) == (told[0] == "corners"):
            raise InputError("The scale needs both: corners of a rectangle, and its sides_mm")
        return self


class StrokeEntry(Strict):
    """What was painted over the photo: a colour of the palette, `table` or `not-dough`."""

    colour: Annotated[Name, Field(alias="as")]
    points: Annotated[tuple[Spot, ...], Field(max_length=500)]
    width_mm: Positive = 4.0


class LineEntry(Strict):
    """A line along which the dough is cut, or joined."""

    points: Annotated[tuple[Spot, ...], Field(max_length=500)]


class UndersideColour(Strict):
    """A colour of the case, tapped on the photo of the underside."""

    name: Name
    taps: Annotated[tuple[Spot, ...], Field(min_length=1)]


class Underside(Strict):
    """A photo of the flipped sculpture, or its label image; without a palette its colours are found again."""

    photo: str | None = None
    labels: str | None = None
    palette: Annotated[tuple[UndersideColour, ...], Field(max_length=24)] = ()
    scale: Scale | None = None

    @model_validator(mode="after")
    def _one_picture(self) -> Self:
        if (self.photo is None) == (self.labels is None):
            raise InputError("The underside needs either a photo or labels: name one of them")
        return self


class PackEntry(Strict):
    """The pack and where its two leads go in; a `block` is a 9 V battery, six small cells in one case."""

    plus: Spot
    minus: Spot
    kind: Literal["cells", "block"] = "cells"
    cells: Annotated[int, Field(ge=1, le=6)] = 4
    emf_V: Positive | None = None
    internal_ohm: NotNegative | None = None

    @model_validator(mode="before")
    @classmethod
    def _block_of_six(cls, told: Any) -> Any:
        if isinstance(told, dict) and told.get("kind") == "block":
            if told.get("cells", 6) != 6:
                raise InputError(
                    "A block has 6 cells, but the pack says {count}: take cells out",
                    count=told["cells"],
                )
            return {**told, "cells": 6}
        return told


class LedModel(Strict):
    """An LED that somebody measured: Shockley diode with series resistance."""

    is_A: Positive
    n: Positive
    rs_ohm: NotNegative


class LedEntry(Strict):
    """An LED: where its long (+) and its short (-) leg go in, and how it looks now."""

    id: Id
    colour: Name = "red"
    long_leg: Spot
    short_leg: Spot
    seen: State | None = None
    model: LedModel | None = None


class Material(Strict):
    """What somebody measured of a dough."""

    resistivity_ohm_m: Positive | None = None
    thickness_mm: Thickness | None = None


class ElectrodeEntry(Strict):
    """What somebody measured of metal in dough; `drop_i0_A` null means no drop."""

    leg_ohm: NotNegative | None = None
    lead_ohm: NotNegative | None = None
    drop_n: Positive | None = None
    drop_i0_A: Positive | None = None


class BrightnessEntry(Strict):
    """Least current in mA at which an LED counts as dim, and as bright."""

    dim: Positive
    bright: Positive

    @model_validator(mode="after")
    def _in_order(self) -> Self:
        if self.dim >= self.bright:
            raise InputError(
                "brightness_mA has dim {dim:g} at or above bright {bright:g}: lower it",
                dim=self.dim,
                bright=self.bright,
            )
        return self


class Case(Strict):
    """One photo plus what the helper told us."""

    schema_: Annotated[Literal["doughsight-case/1"], Field(alias="schema")]
    photo: str | None = None
    labels: str | None = None
    palette: Annotated[tuple[PaletteEntry, ...], Field(min_length=1, max_length=24)]
    scale: Scale | None = None
    pack: PackEntry | None = None
    leds: Annotated[tuple[LedEntry, ...], Field(max_length=60)] = ()
    parts: Annotated[tuple[PartEntry, ...], Field(max_length=30)] = ()
    thickness_mm: Thickness = 15.0
    age: Age = "9-12"
    materials: dict[str, Material] = Field(default_factory=dict)
    electrode: ElectrodeEntry | None = None
    brightness_mA: BrightnessEntry | None = None
    strokes: Annotated[tuple[StrokeEntry, ...], Field(max_length=60)] = ()
    cuts: Annotated[tuple[LineEntry, ...], Field(max_length=60)] = ()
    joins: Annotated[tuple[LineEntry, ...], Field(max_length=30)] = ()
    checks: Annotated[tuple[CheckEntry, ...], Field(max_length=60)] = ()
    underside: Underside | None = None

    @field_validator("leds")
    @classmethod
    def _legs_apart(cls, leds: tuple[LedEntry, ...]) -> tuple[LedEntry, ...]:
        for led in leds:
            if led.long_leg == led.short_leg:
                raise InputError(
                    "LED {id} has both legs at {at}: tap one by one",
                    id=led.id,
                    at=list(led.long_leg),
                )
        return leds

    @model_validator(mode="after")
    def _names(self) -> Self:
        ids = [led.id for led in self.leds], [part.id for part in self.parts]
        for what, names in (
            ("LEDs", ids[0]),
            ("parts", ids[1]),
            ("LEDs or parts", [*ids[0], *ids[1]]),
            ("colours", self._dough_names()),
        ):
            twice = [name for name, n in Counter(names).items() if n > 1]
            if twice:
                raise InputError(
                    "Two {what} are named {name}: give each its own name",
                    what=what,
                    name=twice[0],
                )
        for what, names in zip(("An LED", "A part"), ids, strict=True):
            if any(name.lower() == "pack" for name in names):
                raise InputError(
                    "{what} is named pack: choose another name, that one means the battery pack",
                    what=what,
                )
        if not any(entry.role == "conductive" for entry in self.palette):
            raise InputError("The palette has no conductive colour: say which dough is the salty one")
        unknown = set(self.materials) - set(self._dough_names())
        if unknown:
            raise InputError(
                "materials names {name}, which is no dough here: correct it",
                name=sorted(unknown)[0],
            )
        return self

    @model_validator(mode="after")
    def _enough_to_go_on(self) -> Self:
        if self.photo is None and self.labels is None:
            raise InputError("The case has neither photo nor labels: name one of them")
        on_mat = self.scale is not None and self.scale.mat
        if self.labels is None and not on_mat:
            untapped = [entry.name for entry in self.palette if not entry.taps]
            if untapped:
                raise InputError(
                    "The colour {name} has no tap: tap it once on the photo",
                    name=untapped[0],
                )
        pads = Counter(entry.pad for entry in self.palette if entry.pad is not None)
        twice = [pad for pad, n in pads.items() if n > 1]
        if twice:
            raise InputError("Two colours name pad {pad}: each dough has its own", pad=twice[0])
        if self.pack and self.pack.plus == self.pack.minus:
            raise InputError(
                "Both leads are at {at}: tap red and black one by one",
                at=list(self.pack.plus),
            )
        if (self.leds or self.parts) and self.pack is None:
            what = "LEDs" if self.leds else "parts"
            raise InputError(
                "The case has {what} but no pack: tap where the red and the black lead go in",
                what=what,
            )
        return self

    @model_validator(mode="after")
    def _checks_of_what_is_here(self) -> Self:
        if self.checks and self.pack is None:
            raise InputError("The case has checks but no pack: tap where the red and the black lead go in")
        for check in self.checks:
            told = missing_part(check, [led.id for led in self.leds])
            if told is not None:
                raise told
        return self

    def _dough_names(self) -> list[str]:
        return [entry.name for entry in self.palette if entry.role != "table"]


class PhotoOut(BaseModel):
    """The photo: size in pixels, scale, the name of the label image, and what is poor about the photo."""

    width: int
    height: int
    mm_per_px: float
    true_scale: bool
    labels: str
    warnings: list[str] = []


class PieceOut(BaseModel):
    """A connected area of one dough colour; `below`: only the photo of the underside shows it."""

    id: int
    colour: str
    role: Role
    area_mm2: float
    outline: list[Spot]
    below: bool = False


class LumpOut(BaseModel):
    """An electrical body and its pieces."""

    id: str
    pieces: list[int]


class ContactOut(BaseModel):
    """Where two pieces meet.

    `likely` tells of a doubtful contact whether the answer takes it as touching, `confidence` (0 to 1) how
    sure that is, or the kind.
    """

    between: tuple[int, int]
    kind: Literal["touching", "doubtful", "gap"]
    gap_mm: float
    length_mm: float
    at: Spot
    likely: bool | None = None
    confidence: float | None = None
    below: bool = False


class WallOut(BaseModel):
    """Insulating dough between two pieces, and how thick it is along its length, in mm."""

    piece: int
    between: tuple[int, int]
    thinnest_mm: float
    at: Spot
    thickness_mm: list[float]
    along: list[Spot]


class LedOut(BaseModel):
    """Current and look of an LED; `glow` is how bright it looks, 0 to 1 (1 at 20 mA and above)."""

    id: str
    current_mA: float
    state: State
    volts_V: float | None = None
    power_mW: float | None = None
    glow: float | None = None


class OtherwiseOut(BaseModel):
    """The answer if a doubtful contact (its index in `contacts`) goes the other way."""

    contact: int
    entries: dict[str, str | None]
    leds: list[LedOut]


class PackOut(BaseModel):
    """What the pack gives, and for how long."""

    current_mA: float
    terminal_V: float
    hours_until_flat: float | None = None


class SaidOut(BaseModel):
    """What a finding says to one age."""

    why: str
    ask: str
    look: str
    do: str


class FindingOut(BaseModel):
    """One thing that is, or may be, wrong, in words of three levels; `why` is the one sentence on top.

    `colours` are two of the palette that look alike, `delta_e` their CIEDE2000 difference. The words are
    those for the age of the case; `ages` holds those for the others.
    """

    code: str
    level: Literal["stop", "fix", "watch"]
    parts: list[str]
    at: Spot
    path: list[Spot]
    cut: tuple[Spot, Spot] | None
    cut_mm: float | None
    colours: list[str] = []
    delta_e: float | None = None
    why: str
    ask: str
    look: str
    do: str
    ages: dict[Age, SaidOut] = {}


class StepOut(BaseModel):
    """One action of a remedy."""

    action: str
    parts: list[str]
    at: Spot
    to: str | None
    to_at: Spot | None
    line: tuple[Spot, Spot] | None
    do: str


class RemedyOut(BaseModel):
    """One thing to do, or a few, with what will light afterwards."""

    rank: int
    seconds: float
    then: dict[str, State]
    then_mA: dict[str, float]
    do: str
    steps: list[StepOut]


class LedSuggestion(BaseModel):
    """What looks like an LED and is not in the case yet; `legs` are in no order: a photo does not show +."""

    at: Spot
    size_mm: int
    colour: str | None
    seen: State
    legs: tuple[Spot, Spot] | None
    confidence: float


class LeadSuggestion(BaseModel):
    """Where a lead seems to go in that is not in the case yet."""

    colour: Literal["red", "black"]
    at: Spot
    confidence: float


class SuggestionsOut(BaseModel):
    """LEDs and leads to confirm: nothing else in the report makes use of them."""

    leds: list[LedSuggestion] = []
    leads: list[LeadSuggestion] = []


class FlowLineOut(BaseModel):
    """A line along which current goes through the dough, from the entry where it comes in, and its share."""

    start: str
    end: str
    current_mA: float
    points: list[Spot]


class Report(BaseModel):
    """All that Doughsight found in a case."""

    model_config = ConfigDict(populate_by_name=True)

    schema_: Annotated[Literal["doughsight-report/1"], Field(alias="schema")] = "doughsight-report/1"
    language: str = "en"
    photo: PhotoOut
    pieces: list[PieceOut]
    contacts: list[ContactOut]
    walls: list[WallOut] = []
    lumps: list[LumpOut] = []
    otherwise: list[OtherwiseOut] = []
    entries: dict[str, str | None] = {}
    entries_V: dict[str, float] = {}
    leds: list[LedOut] = []
    parts: list[PartOut] = []
    pack: PackOut | None = None
    findings: list[FindingOut] = []
    notes: list[FindingOut] = []
    remedies: list[RemedyOut] = []
    suspects: list[SuspectOut] = []
    next_check: NextCheckOut | None = None
    other_checks: list[NextCheckOut] = []
    checked: list[CheckedOut] = []
    enquiry: EnquiryState | None = None
    enquiry_says: str | None = None
    worked: bool = False
    named: list[NamedOut] = []
    alike: list[list[str]] = []
    traces: list[TraceOut] = []
    arrangements: list[ArrangementOut] = []
    cautions: list[str] = []
    suggestions: SuggestionsOut | None = None
    flow: list[FlowLineOut] = []
    underside: UndersideOut | None = None
    changes: list[ChangeOut] = []

    def to_json(self) -> str:
        """The report as it is written to disk and sent over the wire."""
        return self.model_dump_json(by_alias=True, indent=1)
