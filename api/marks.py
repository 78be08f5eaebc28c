"""The marks of the picture language as SVG text: every one cased, paper wide under ink narrow.

Marks are drawn in units of one screen pixel around (0, 0) and set into the photo by `mark`, which a page can
rescale so that they keep their size. Only presentation attributes, no inline style.
"""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from xml.sax.saxutils import escape, quoteattr

Point = tuple[float, float]

INK, PAPER, PLUS, LAMP = "#0C1512", "#FFFDF5", "#B3122F", "#F5B53A"
"""The pens: the same in a bright and a dim room, because the photo is."""

PREFIX = "mark-"
TEXT_UNITS = 14.0
THICK = 8.0  # blades are cut off square, thinner lines end round
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def clean(text: str) -> str:
    """`text` without the characters that XML 1.0 forbids, and escaped."""
    return escape(_NOT_XML.sub("", text))


def _embedded(text: str) -> str:
    """A right-to-left text with its own base direction (Unicode annex 9), whatever stands around it."""
    turned = any(unicodedata.bidirectional(letter) in ("R", "AL") for letter in text)
    return f"\u202b{text}\u202c" if turned else text


def num(value: float) -> str:
    """A coordinate with at most two decimals."""
    return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".")


def el(name: str, *inner: str, **attributes: str | float | None) -> str:
    """An element; `stroke_width` becomes `stroke-width`, `class_` `class`, None is left out."""
    parts = [name]
    for key, value in attributes.items():
        if value is not None:
            text = value if isinstance(value, str) else num(value)
            parts.append(f"{key.rstrip('_').replace('_', '-')}={quoteattr(_NOT_XML.sub('', text))}")
    head = " ".join(parts)
    return f"<{head}>{''.join(inner)}</{name}>" if inner else f"<{head}/>"


def stroke(d: str, colour: str, width: float, **more: str | float | None) -> str:
    """A line without fill."""
    return el("path", d=d, fill="none", stroke=colour, stroke_width=width, **more)


def cased(d: str, colour: str = INK, core: float = 2.0, case: float = 5.0, dash: str | None = None) -> str:
    """A line drawn twice: wide in paper, narrow in ink."""
    soft: dict[str, str] = {"stroke_linejoin": "round", "stroke_linecap": "round"}
    return stroke(d, PAPER, case, **soft) + stroke(d, colour, core, stroke_dasharray=dash, **soft)


@dataclass(frozen=True)
class Pen:
    """Draws lines in photo pixels: `scale` px per mark unit; `live` lines keep their width when zoomed."""

    scale: float
    live: bool

    @property
    def unit(self) -> float:
        """The width of one line unit."""
        return 1.0 if self.live else self.scale

    def line(self, d: str, colour: str, width: float, dash: tuple[float, ...] = ()) -> str:
        """One line; `width` and `dash` in units."""
        return stroke(
            d,
            colour,
            width * self.unit,
            stroke_linejoin="round",
            stroke_linecap="round" if width < THICK and not dash else None,
            stroke_dasharray=" ".join(num(x * self.unit) for x in dash) or None,
            vector_effect="non-scaling-stroke" if self.live else None,
        )

    def cased(self, d: str, colour: str = INK, core: float = 2.2, dash: tuple[float, ...] = ()) -> str:
        """Wide in paper, narrow in `colour`."""
        return self.line(d, PAPER, core + 3.2) + self.line(d, colour, core, dash)


def words(
    text: str,
    x: float = 0.0,
    y: float = 0.0,
    size: float = TEXT_UNITS,
    anchor: str = "middle",
    *,
    bold: bool = True,
    colour: str = INK,
) -> str:
    """Words, vertically in the middle of y."""
    return el(
        "text",
        clean(_embedded(text)),
        x=x,
        y=y,
        class_="bold" if bold else None,
        color=colour,
        font_family="sans-serif",
        font_size=size,
        font_weight="700" if bold else None,
        fill=colour,
        text_anchor=anchor,
        dominant_baseline="central",
    )


def cased_words(text: str, size: float) -> str:
    """A figure straight on the photo, on a rim of paper."""
    front = words(text, size=size)
    back = front.replace(' class="bold"', f' stroke="{PAPER}" stroke-width="4.5" stroke-linejoin="round"')
    return back + front


def _led(*inside: str) -> str:
    body = "M-4 2V-2.5a4 4 0 0 1 8 0V2z"
    frame = stroke(f"{body}M-6 2.5H6M-2 3v7.5M2 3v4.5", INK, 1.9, stroke_linejoin="round")
    return el("path", d=body, fill=PAPER) + inside[0] + frame + "".join(inside[1:])


def _rays(d: str, width: float = 1.9) -> str:
    return stroke(d, INK, width, stroke_linecap="round")


def _square(fill: str, line: str | None) -> str:
    case = el("rect", x=-11, y=-11, width=22, height=22, fill=PAPER)
    r = 9.0 if line is None else 8.0
    return case + el(
        "rect", x=-r, y=-r, width=2 * r, height=2 * r, fill=fill, stroke=line, stroke_width=line and 2.4
    )


def _disc(fill: str, line: str | None) -> str:
    r = 9.0 if line is None else 8.5
    return el("circle", r=11, fill=PAPER) + el(
        "circle", r=r, fill=fill, stroke=line, stroke_width=line and 2.4
    )


def _ghost(shape: str, line: str, sign: str) -> str:
    size = {"x": -12, "y": -12, "width": 24, "height": 24} if shape == "rect" else {"r": 12}
    frame = el(
        shape, fill=PAPER, fill_opacity=0.72, stroke=line, stroke_width=2.2, stroke_dasharray="5 4", **size
    )
    return frame + stroke(sign, line, 2.4)


def _ring(r: float, width: float, sign: str) -> str:
    """A hollow ring with a sign in it."""
    case = el("circle", r=r + width / 2 + 2, fill=PAPER)
    return case + el("circle", r=r, fill=PAPER, stroke=INK, stroke_width=width) + sign


def _open_and_shut(blade: str) -> str:
    """A switch from the side: two posts, and a blade that lies on both or stands up."""
    posts = "".join(el("circle", cx=x, r=4.2, fill=PAPER, stroke=INK, stroke_width=2.2) for x in (-14, 14))
    case = el("rect", x=-20, y=-8, width=40, height=16, rx=8, fill=PAPER)
    case += stroke(blade, PAPER, 9, stroke_linecap="round")
    return case + posts + stroke(blade, INK, 3.8, stroke_linecap="round")


_A = "M3.2-3V4M3.2.5A3.3 3.5 0 1 1-3.4.5A3.3 3.5 0 1 1 3.2.5"
_B = "M-3.2-5.5V4M-3.2.5A3.3 3.5 0 1 0 3.4.5A3.3 3.5 0 1 0-3.2.5"
_PATCH = {"x": -24, "y": -11, "width": 48, "height": 22, "rx": 9}
_BOX = {"x": -17, "y": -8, "width": 34, "height": 16}


def _halves(apart: float) -> str:
    left, right = f"M{num(-apart)} -12a12 12 0 0 0 0 24z", f"M{num(apart)} -12a12 12 0 0 1 0 24z"
    case = el("path", d=left + right, fill=PAPER, stroke=PAPER, stroke_width=5.5, stroke_linejoin="round")
    return case + el("path", d=left + right, fill=PAPER, stroke=INK, stroke_width=2.2)


_PLUS_SIGN, _MINUS_SIGN = "M-4.7 0H4.7M0-4.7V4.7", "M-4.5 0H4.5"
_BUZZ = "M-6-3.2V3.2M-2-6V6M2-6V6M6-3.2V3.2"
_STEP = "M-5.5 0C-5.5-2.4-2.6-2.2-.4-3 3-4.2 6-2.8 6 0S3 4.2-.4 3C-2.6 2.2-5.5 2.4-5.5 0Z"
_JOIN = "M-26-10-8 0-26 10zM26-10 8 0 26 10z"
_HEAD = "M-5-5.5 6 0-5 5.5-2.5 0z"
_ARROW = "M-5.5 0H4.5M1-4 5 0 1 4"

SYMBOLS: Mapping[str, str] = {
    "lead-plus": _square(PLUS, None) + stroke(_PLUS_SIGN, PAPER, 2.6),
    "lead-minus": _square(PAPER, INK) + stroke(_MINUS_SIGN, INK, 2.6),
    "leg-long": _disc(PLUS, None) + stroke(_PLUS_SIGN, PAPER, 2.4),
    "leg-short": _disc(PAPER, INK) + stroke("M-4 0H4", INK, 2.4),
    "lead-plus-ghost": _ghost("rect", PLUS, _PLUS_SIGN),
    "lead-minus-ghost": _ghost("rect", INK, _MINUS_SIGN),
    "leg-long-ghost": _ghost("circle", PLUS, _PLUS_SIGN),
    "leg-short-ghost": _ghost("circle", INK, _MINUS_SIGN),
    "end-a": _ring(8, 2, stroke(_A, INK, 1.9)),
    "end-b": _ring(8, 2, stroke(_B, INK, 1.9)),
    "end-a-ghost": _ghost("circle", INK, _A),
    "end-b-ghost": _ghost("circle", INK, _B),
    "switch-closed": _open_and_shut("M-14 0H14"),
    "switch-open": _open_and_shut("M-14 0 10-15"),
    "resistor": el("rect", fill=PAPER, stroke=PAPER, stroke_width=9, **_BOX)
    + el("rect", fill=PAPER, stroke=INK, stroke_width=2.6, **_BOX),
    "buzzer": _ring(16, 2.6, stroke(_BUZZ, INK, 2.6, stroke_linecap="round")),
    "motor": _ring(16, 2.6, stroke("M-6.5 7V-7L0 2.5 6.5-7V7", INK, 2.8, stroke_linejoin="round")),
    "footstep": el("path", d=_STEP, fill=PAPER, stroke=PAPER, stroke_width=3.4, stroke_linejoin="round")
    + el("path", d=_STEP, fill=PLUS),
    "footstep-minus": el("path", d=_STEP, fill=PAPER, stroke=PAPER, stroke_width=5, stroke_linejoin="round")
    + el("path", d=_STEP, fill=PAPER, stroke=INK, stroke_width=1.8, stroke_linejoin="round"),
    "led-bright": _led(
        el("path", d="M-4 2V-2.5a4 4 0 0 1 8 0V2z", fill=LAMP),
        _rays("M0-9.2V-11.1M-5.3-7.4-6.8-8.9M5.3-7.4l1.5-1.5M-7.2-2.6H-9.6M7.2-2.6h2.4"),
    ),
    "led-dim": _led(
        el("path", d="M-4-1.8H4V2H-4z", fill=LAMP), stroke("M-4-1.8H4", INK, 1.9), _rays("M0-9.4v-.5", 2.2)
    ),
    "led-off": _led(""),
    "flow-head": el("path", d=_HEAD, fill=INK, stroke=PAPER, stroke_width=2.4, paint_order="stroke"),
    "way-head": el(
        "path", d="M-8-9 9 0-8 9-4 0z", fill=INK, stroke=PAPER, stroke_width=3, paint_order="stroke"
    ),
    "then": stroke(_ARROW, INK, 2, stroke_linecap="round", stroke_linejoin="round"),
    "sign-plus": el("circle", r=7, fill=PLUS) + stroke("M-3.8 0H3.8M0-3.8V3.8", PAPER, 2),
    "sign-minus": el("circle", r=6.3, fill=PAPER, stroke=INK, stroke_width=1.8)
    + stroke("M-3.4 0H3.4", INK, 2),
    "sign-none": el("circle", r=4.5, fill="none", stroke=INK, stroke_width=1.8, stroke_dasharray="2.5 2"),
    "touching": _halves(0),
    "doubtful": el("circle", r=19, fill="none", stroke=PAPER, stroke_width=5.5)
    + el(
        "circle",
        r=19,
        fill="none",
        stroke=INK,
        stroke_width=2.2,
        stroke_dasharray="0.1 4.5",
        stroke_linecap="round",
    )
    + _halves(3),
    "gap": _halves(14),
    "joined": _halves(0),
    "cut-end": stroke("M0-10V10", PAPER, 7, stroke_linecap="round")
    + stroke("M0-10V10", INK, 3.5, stroke_linecap="round"),
    "join": stroke("M-24 0H24", PAPER, 12.5)
    + el("path", d=_JOIN, fill=INK, stroke=PAPER, stroke_width=3.2, stroke_linejoin="round")
    + stroke("M-24 0H24", INK, 7)
    + el("path", d=_JOIN, fill=INK),
    "old-place": el("circle", r=9, fill="none", stroke=PAPER, stroke_width=5, stroke_opacity=0.7)
    + el("circle", r=9, fill="none", stroke=INK, stroke_width=1.8, stroke_dasharray="4 3.4"),
    "press": cased("M0-30V-15M-5.5-20.5 0-14.5 5.5-20.5", INK, 3.2, 7.6)
    + el("circle", r=13.5, fill="none", stroke=PAPER, stroke_width=5.5)
    + el("circle", r=13.5, fill="none", stroke=INK, stroke_width=2.2),
    "push": cased("M0-34V-16M-5.5-21.5 0-15.5 5.5-21.5", INK, 3.2, 7.6),
    "pull": cased("M0-13V-29M-5.5-23.5 0-29.5 5.5-23.5", INK, 3.2, 7.6),
    "thicker": el("rect", fill=PAPER, stroke=INK, stroke_width=2.2, stroke_dasharray="7 5", **_PATCH)
    + stroke(_PLUS_SIGN, INK, 2.6),
    "thick": el(
        "rect", fill=PAPER, fill_opacity=0.8, stroke=INK, stroke_width=2.2, stroke_dasharray="7 5", **_PATCH
    ),
    "try": _ring(
        13,
        2.4,
        stroke("M-5-1.5a5 5 0 1 1 7.5 4.3C.8 4.2.2 5 .2 6.5M.2 9.4v.4", INK, 2.6, stroke_linecap="round"),
    ),
    "turn": cased("M-12 3a12.5 12.5 0 0 1 23-6.5M12-12 11.5-3.5 3.5-4", PLUS, 2.6, 6.5),
    "level-stop": el("path", d="M-4-10.5h8L10.5-4v8L4 10.5h-8L-10.5 4v-8z", fill="#A2152E")
    + stroke("M-6.2 6.2-1.7 1.7M1.7-1.7 6.2-6.2", PAPER, 3.4),
    "level-fix": el("path", d="M-9.5-9.5h6.2L-5-1H5L3.3-9.5h6.2v19h-19z", fill="#1B4C90"),
    "level-watch": el("circle", r=9, fill="none", stroke="#6B4E00", stroke_width=3)
    + el("circle", r=3.4, fill="#6B4E00"),
    "level-good": el("path", d="M-3-9h6l5 8H-8z", fill="#0F5F45")
    + stroke("M-2.5 1.5-5 8M2.5 1.5 5 8M-10 10h20", "#0F5F45", 2.2),
}
"""Each symbol once, by its name, around (0, 0)."""


def use(name: str, x: float = 0.0, y: float = 0.0, scale: float = 1.0) -> str:
    """The symbol `name` of `SYMBOLS` at (x, y)."""
    move = f"translate({num(x)} {num(y)})" + ("" if scale == 1.0 else f" scale({num(scale)})")
    return el("use", href=f"#{PREFIX}{name}", transform=None if not (x or y or scale != 1.0) else move)


def broken(symbol: str) -> str:
    """The mark of an entry that misses the dough, broken in two along a crack."""
    left = el("g", use(symbol), clip_path="url(#break-left)")
    right = el("g", use(symbol), clip_path="url(#break-right)")
    halves = el("g", left, transform="translate(-3.6 -1.8)") + el("g", right, transform="translate(3.6 1.8)")
    return el("g", halves, class_="broken", transform="scale(1.2)")


def _half(side: str, edge: int) -> str:
    return el("clipPath", el("path", d=f"M{edge}-15H2L-3-7 3-1-3 6 1 15H{edge}z"), id=f"break-{side}")


def defs(body: str) -> str:
    """Definitions of the symbols that `body` uses."""
    wanted = [
        el("g", shape, id=PREFIX + name) for name, shape in SYMBOLS.items() if f'"#{PREFIX}{name}"' in body
    ]
    if "#break-left" in body:
        wanted += [_half("left", -15), _half("right", 15)]
    return el("defs", *wanted) if wanted else ""


def mark(at: Point, inner: str, scale: float, kind: str, turn: float | None = None) -> str:
    """`inner` at a photo point; a page may rewrite `transform` from data-x, data-y and data-turn."""
    turned = "" if turn is None else f" rotate({num(turn)})"
    return el(
        "g",
        inner,
        class_=f"mark {kind}",
        data_x=at[0],
        data_y=at[1],
        data_turn=turn,
        transform=f"translate({num(at[0])} {num(at[1])}){turned} scale({num4(scale)})",
    )


def num4(value: float) -> str:
    """A scale with four decimals."""
    return f"{value:.4f}".rstrip("0").rstrip(".")


def tag_size(text: str, symbols: int = 0) -> tuple[float, float]:
    """Width and height in units of a tag with `text` and so many symbols after it."""
    return max(34.0, 16.0 + 8.2 * len(text)) + 22.0 * symbols, 30.0 if symbols else 26.0


def tag(text: str, symbols: tuple[str, ...] = (), x: float = 0.0, y: float = 0.0, lit: bool = False) -> str:
    """A paper tag with words and symbols, its middle at (x, y); `lit` where a light changes."""
    width, height = tag_size(text, len(symbols))
    size = {"x": -width / 2, "y": -height / 2, "width": width, "height": height, "rx": 3}
    case = el("rect", fill=PAPER, stroke=PAPER, stroke_width=5, **size)
    box = el("rect", class_="tagbox", fill=PAPER, stroke=INK, stroke_width=1.5, **size)
    if lit:  # a bar of lamp light under the words, as on the slip
        box += el("rect", fill=LAMP, x=1 - width / 2, y=height / 2 - 5, width=width - 2, height=4.2)
    first = width / 2 - 22.0 * len(symbols) + 7
    signs = [
        use(name, first + 22.0 * i, 1, 0.72 if name == "turn" else 1.0) for i, name in enumerate(symbols)
    ]
    middle = -11.0 * len(symbols) + (2 if symbols else 0)
    return el("g", case, box, words(text, middle), *signs, transform=f"translate({num(x)} {num(y)})")


BLOB = "c0-12 6-15 {r}-15s{r} 3 {r} 15-6 15-{r} 15-{r}-3-{r}-15z"


def badge(letter: str, signs: tuple[str, ...]) -> str:
    """The lettered badge of a lump with its signs."""
    half = badge_half(letter, signs)
    d = f"M{num(-half)} 0" + BLOB.format(r=num(half))
    case = el("path", d=d, fill=PAPER, stroke=PAPER, stroke_width=5.5)
    body = el("path", class_="tagbox", d=d, fill=PAPER, stroke=INK, stroke_width=1.5)
    first = half - 10 - 17.0 * (len(signs) - 1)
    put = [use(sign, first + 17.0 * i, 0) for i, sign in enumerate(signs)]
    middle = (-half + 3 + first - 8) / 2
    return case + body + words(letter, middle, 0, 17) + "".join(put)


def badge_half(letter: str, signs: tuple[str, ...]) -> float:
    """Half the width of a badge in units."""
    return 5.0 + 6.0 * len(letter) + 8.5 * len(signs)
