// @ts-check
/** Fingers, mouse, pen, wheel and keys on the picture. Arithmetic lies in geometry.js. */

import * as geo from "./geometry.js";

/**
 * @typedef {import("./geometry.js").Point} Point
 * @typedef {object} Hands what the gestures do
 * @property {() => geo.View} view
 * @property {() => geo.Size} size
 * @property {(next: geo.View) => void} byHand the view stays there
 * @property {() => void} settled fingers were lifted, the wheel turned: the view is where it was wanted
 * @property {() => void} whole
 * @property {(way: 1 | -1) => void} turn by a quarter
 * @property {(at: Point) => void} glassAt
 * @property {() => void} hideGlass
 * @property {(at: Point) => void} tap where a tap is asked for
 * @property {(at: Point) => void} touch where none is
 * @property {(key: string, at: Point) => void} move it has been dragged there
 * @property {(key: string, at: Point) => void} drag it is under the finger
 * @property {(key: string) => void} choose
 * @property {(key: string) => void} remove
 * @property {() => boolean} tappable
 * @property {() => {key: string, at: Point}[]} spots
 * @property {import("./pen.js").HeldPen} pen
 * @property {() => Point | null} cross
 * @property {(at: Point) => void} setCross
 * @property {() => void} dropCross
 */

const STILL = 6; // a pointer that moved less than this has tapped
const DOUBLE_MS = 300;
const DOUBLE_PX = 24;
/** How far a mark may be from the pointer. While a tap is asked for, a mark is caught only close by: the next place
 * may lie beside it. */
const REACH = { mouse: 12, finger: 28, asked: 14 };

/** One finger taps or drags a mark, two fingers pinch and twist; a mouse drags the view.
 * @param {SVGSVGElement} root @param {Hands} on */
export function gestures(root, on) {
  /** @type {Map<number, Point>} */ const down = new Map();
  /** @type {{key: string | null, began: Point, mouse: boolean, panning: boolean} | null} */ let one = null;
  /** @type {geo.View | null} */ let twisted = null; // as the fingers have it, before quarter turns pull
  let last = { ms: 0, at: /** @type {Point} */ ([0, 0]) };
  const place = (/** @type {MouseEvent} */ event) => {
    const box = root.getBoundingClientRect();
    return /** @type {Point} */ ([event.clientX - box.left, event.clientY - box.top]);
  };
  const inPhoto = (/** @type {Point} */ at) => geo.toPhoto(on.view(), on.size(), at);

  root.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    root.setPointerCapture(event.pointerId);
    down.set(event.pointerId, place(event));
    if (down.size > 1) {
      one = null;
      twisted = on.view();
      on.pen.drop();
      on.hideGlass();
      return;
    }
    const mouse = event.pointerType === "mouse";
    const reach = mouse ? REACH.mouse : on.tappable() ? REACH.asked : REACH.finger;
    const spot = geo.nearest(on.spots(), place(event), reach, on.view(), on.size());
    one = { key: spot?.key ?? null, began: place(event), mouse, panning: false };
    if (!spot && on.pen.ready()) on.pen.begin(inPhoto(place(event)));
    if (one.key || on.tappable()) on.glassAt(inPhoto(place(event)));
  });
  root.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (!before) return;
    const at = place(event);
    if (down.size === 2 && twisted) pinch(event.pointerId, before, at);
    else if (one) drag(one, before, at);
    down.set(event.pointerId, at);
  });
  root.addEventListener("pointerup", (event) => {
    const was = down.delete(event.pointerId) && one;
    if (down.size) return;
    twisted = null;
    one = null;
    on.hideGlass();
    on.settled();
    if (was && on.pen.drawing()) on.pen.end();
    else if (was && !was.panning) lifted(was, place(event), event.timeStamp);
  });
  root.addEventListener("pointercancel", (event) => {
    down.delete(event.pointerId);
    one = null;
    twisted = null;
    on.pen.drop();
    on.hideGlass();
    on.settled();
  });
  root.addEventListener("wheel", (event) => {
    event.preventDefault();
    const base = event.ctrlKey ? 1.01 : 1.0015; // with Ctrl it is two fingers on a touch pad
    on.byHand(geo.zoomAt(on.view(), inPhoto(place(event)), base ** -event.deltaY));
    on.settled();
  }, { passive: false });

  /** @param {number} id @param {Point} before @param {Point} at */
  function pinch(id, before, at) {
    const other = /** @type {Point} */ ([...down].find(([one]) => one !== id)?.[1]);
    twisted = geo.pinched(/** @type {geo.View} */ (twisted), on.size(), [before, other], [at, other]);
    const held = geo.toPhoto(twisted, on.size(), geo.middle(at, other));
    on.byHand(geo.turnedAbout(twisted, held, geo.snapped(twisted.turn ?? 0)));
  }

  /** @param {{key: string | null, began: Point, mouse: boolean, panning: boolean}} it @param {Point} before @param {Point} at */
  function drag(it, before, at) {
    const far = geo.distance(it.began, at) > STILL;
    if (on.pen.drawing()) on.pen.to(inPhoto(at));
    const pans = !it.key && far && !on.pen.drawing() && (it.mouse || !on.tappable());
    if (pans && !it.panning) {
      it.panning = true;
      on.hideGlass();
    }
    if (it.panning) on.byHand(geo.panned(on.view(), on.size(), [at[0] - before[0], at[1] - before[1]]));
    else if (it.key || on.tappable()) on.glassAt(inPhoto(at));
    if (it.key && far) on.drag(it.key, inPhoto(at));
  }

  /** @param {{key: string | null, began: Point}} was @param {Point} at @param {number} ms */
  function lifted(was, at, ms) {
    const still = geo.distance(was.began, at) <= STILL;
    if (was.key && !still) return on.move(was.key, inPhoto(at));
    if (on.tappable()) return on.tap(inPhoto(at));
    const twice = ms - last.ms < DOUBLE_MS && geo.distance(last.at, at) < DOUBLE_PX;
    last = { ms: twice ? 0 : ms, at };
    if (was.key) on.choose(was.key);
    else if (twice) on.whole();
    else on.touch(inPhoto(at));
  }
}

const ARROWS = /** @type {Record<string, Point>} */ ({
  ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1],
});

/** Step of an arrow key in photo pixels along the sides of the screen: 1, with Shift 10, held down 8.
 * @param {KeyboardEvent} event @returns {Point | null} */
export function arrowStep(event) {
  const way = ARROWS[event.key];
  if (!way) return null;
  const far = event.shiftKey ? 10 : event.repeat ? 8 : 1;
  return [way[0] * far, way[1] * far];
}

/** @param {SVGSVGElement} root @param {Hands} on */
export function keys(root, on) {
  const toPhoto = (/** @type {Point} */ step) => geo.turned(step, -(on.view().turn ?? 0));
  const nearer = (/** @type {number} */ factor) => on.byHand(geo.zoomAt(on.view(), on.cross() ?? geo.centre(on.view()), factor));
  /** @type {Record<string, () => void>} */
  const plain = {
    "+": () => nearer(1.25),
    "=": () => nearer(1.25),
    "-": () => nearer(0.8),
    0: on.whole,
    "[": () => on.turn(-1),
    "]": () => on.turn(1),
    Escape: () => (on.pen.drawing() ? on.pen.drop() : on.dropCross()),
  };
  root.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const step = arrowStep(event);
    const enter = event.key === "Enter" || event.key === " ";
    const mark = keyOf(event);
    const onMark = mark !== null;
    if (mark && (step || enter || event.key === "Delete" || event.key === "Backspace")) {
      const at = on.spots().find((one) => one.key === mark)?.at;
      const [x, y] = step ? toPhoto(step) : [0, 0];
      if (step) at && on.move(mark, [at[0] + x, at[1] + y]);
      else if (enter) on.choose(mark);
      else on.remove(mark);
    } else if (step && !onMark && on.tappable()) {
      const from = on.cross() ?? geo.centre(on.view());
      const [x, y] = toPhoto(step);
      on.setCross([from[0] + x, from[1] + y]);
      on.pen.hover(/** @type {Point} */ (on.cross()));
    } else if (step && !onMark) {
      const k = geo.pxPerCss(on.view(), on.size());
      on.byHand(geo.panned(on.view(), on.size(), [(-step[0] * 10) / k, (-step[1] * 10) / k]));
    } else if (enter && !onMark && on.cross() && on.tappable()) {
      const at = /** @type {Point} */ (on.cross());
      if (on.pen.ready()) on.pen.key(at);
      else on.tap(at);
    } else if (plain[event.key]) {
      plain[event.key]();
    } else return;
    on.settled();
    event.preventDefault();
  });
  root.addEventListener("blur", on.dropCross);
  // A mark that is reached with keys stays under the loupe.
  root.addEventListener("focusin", (event) => {
    const at = on.spots().find((one) => one.key === keyOf(event))?.at;
    if (at && /** @type {Element} */ (event.target).matches(":focus-visible")) on.glassAt(at);
  });
  root.addEventListener("focusout", on.hideGlass);
}

/** Which mark an event belongs to. @param {Event} event @returns {string | null} */
const keyOf = (event) => /** @type {any} */ (event.target).dataset?.key ?? null;
