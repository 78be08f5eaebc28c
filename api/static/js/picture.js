// @ts-check
/** The photo with its overlay: view, loupe. Arithmetic lies in geometry.js, hands in gestures.js, drawing in marks.js. */

import { svg } from "./dom.js";
import * as geo from "./geometry.js";
import { gestures, keys } from "./gestures.js";
import { loupe } from "./marks.js";
import { createPen } from "./pen.js";

/**
 * @typedef {import("./geometry.js").Point} Point
 * @typedef {object} Wishes
 * @property {() => boolean} tappable whether a tap is asked for now, and the loupe with it
 * @property {() => {key: string, at: Point}[]} spots what can be dragged
 * @property {(at: Point) => void} tap where a tap is asked for
 * @property {(at: Point) => void} touch where none is
 * @property {(key: string, at: Point) => void} move
 * @property {(key: string) => void} choose what can be dragged was tapped
 * @property {(key: string) => void} remove it is to go
 * @property {(at: Point) => string} words what lies there
 * @property {() => "right" | "left"} hand
 * @property {() => void} moved the view has changed
 * @property {() => import("./pen.js").Pen | null} pen what a finger draws now, if anything
 * @property {(line: Point[]) => void} drawn
 * @property {(what: string) => void} said what became of a line drawn with keys
 * @property {(turn: number) => void} turned the photo was turned by hand, degrees clockwise
 */

const LOUPE = 74;
const TIES = ".leader, .yarn"; // lines from a place to its tag

/** @param {SVGSVGElement} root @param {Wishes} wishes */
export function createPicture(root, wishes) {
  const image = svg("image", { preserveAspectRatio: "none" });
  const veil = svg("g");
  const server = svg("g", { class: "found" });
  const lines = svg("g");
  const marks = svg("g");
  const glass = svg("g", { class: "glass" });
  const ink = svg("g");
  const table = svg("g", {}, image, veil, server, lines, marks, ink);
  root.append(table, glass);

  let url = "";
  let photo = { w: 4, h: 3 };
  let view = /** @type {geo.View} */ ({ x: 0, y: 0, w: 4, h: 3 });
  let goal = /** @type {geo.Box | null} */ (null);
  let size = { w: 4, h: 3 };
  /** @type {Point | null} */ let cross = null;
  let glide = 0;

  function measure() {
    const box = root.getBoundingClientRect();
    if (!box.width || !box.height) return;
    size = { w: box.width, h: box.height };
    show(goal ? geo.fit(goal, size, view.turn) : view);
  }

  /** @param {geo.View} next */
  function show(next) {
    view = geo.clamped(next, photo, size);
    root.setAttribute("viewBox", `${view.x} ${view.y} ${view.w} ${view.h}`);
    const turn = view.turn ?? 0;
    if (turn) table.setAttribute("transform", `rotate(${turn} ${geo.centre(view).join(" ")})`);
    else table.removeAttribute("transform");
    rescale();
    if (cross) showGlass(cross);
    wishes.moved();
  }

  function rescale() {
    const k = geo.pxPerCss(view, size);
    for (const one of root.querySelectorAll("g.mark")) {
      const { x, y, turn } = /** @type {any} */ (one).dataset;
      const stays = turn ?? (one.matches(TIES) ? 0 : null); // a direction on the photo stays, all else is upright
      const turned = stays ?? -(view.turn ?? 0);
      one.setAttribute("transform", `translate(${x} ${y})${Number(turned) ? ` rotate(${turned})` : ""} scale(${k})`);
    }
    for (const one of server.querySelectorAll("pattern")) upright(one, view.turn ?? 0);
    for (const tag of server.querySelectorAll("g.mark > g:has(> .tagbox)")) standOff(tag, view.turn ?? 0);
  }

  /** @param {Point} at in the photo */
  function showGlass(at) {
    const spot = geo.toScreen(view, size, at);
    const centre = geo.loupeAt(spot, size, LOUPE, wishes.hand());
    const parts = loupe({ at: spot, spot: at, centre, view, size, photo, url, words: wishes.words(at) });
    const k = geo.pxPerCss(view, size);
    glass.setAttribute("transform", `translate(${view.x} ${view.y}) scale(${k})`);
    glass.replaceChildren(...parts);
  }

  function hideGlass() {
    glass.replaceChildren();
  }

  function dropCross() {
    cross = null;
    hideGlass();
  }

  /** @param {geo.Box} content @param {boolean} slowly */
  function look(content, slowly) {
    goal = content;
    cancelAnimationFrame(glide);
    const from = view;
    const to = geo.clamped(geo.fit(content, size, view.turn), photo, size);
    if (!slowly || matchMedia("(prefers-reduced-motion: reduce)").matches) return show(to);
    const began = performance.now();
    const frame = (/** @type {number} */ now) => {
      const t = Math.min((now - began) / 240, 1);
      const e = 1 - (1 - t) ** 3;
      const mix = (/** @type {"x"|"y"|"w"|"h"} */ key) => from[key] + (to[key] - from[key]) * e;
      show({ x: mix("x"), y: mix("y"), w: mix("w"), h: mix("h"), turn: to.turn });
      if (t < 1) glide = requestAnimationFrame(frame);
    };
    glide = requestAnimationFrame(frame);
  }

  /** @param {geo.View} next by hand: the view stays there */
  function byHand(next) {
    cancelAnimationFrame(glide);
    goal = null;
    show(next);
  }

  /** A mark follows the finger; it is drawn anew where it belongs once the finger is lifted.
   * @param {string} key @param {Point} at */
  function drag(key, at) {
    const one = [...marks.querySelectorAll("[data-key]")].find((mark) => mark.dataset.key === key);
    if (!one) return;
    [one.dataset.x, one.dataset.y] = inPhoto(at);
    rescale();
  }

  /** To another angle about the middle of what is seen. @param {number} turn degrees clockwise */
  function setTurn(turn) {
    if (turn === (view.turn ?? 0)) return;
    cancelAnimationFrame(glide);
    const round = geo.turnedAbout(view, geo.centre(view), turn);
    show(goal ? geo.fit(goal, size, turn) : round);
  }

  const whole = () => look({ x: 0, y: 0, w: photo.w, h: photo.h }, true);
  /** @type {import("./gestures.js").Hands} */
  const hands = {
    view: () => view,
    size: () => size,
    byHand,
    settled: () => (wishes.moved(), wishes.turned(view.turn ?? 0)),
    whole,
    turn: (way) => setTurn(geo.nextQuarter(view.turn ?? 0, way)),
    glassAt: (at) => (cross = null, showGlass(inPhoto(at))),
    hideGlass: dropCross,
    tap: (at) => wishes.tap(inPhoto(at)),
    touch: (at) => wishes.touch(inPhoto(at)),
    move: (key, at) => wishes.move(key, inPhoto(at)),
    drag,
    choose: wishes.choose,
    remove: wishes.remove,
    tappable: wishes.tappable,
    spots: wishes.spots,
    pen: createPen(ink, { ...wishes, inPhoto, scale: () => geo.pxPerCss(view, size) }),
    cross: () => cross,
    setCross: (at) => (cross = inPhoto(at), showGlass(cross)),
    dropCross,
  };
  gestures(root, hands);
  keys(root, hands);
  new ResizeObserver(measure).observe(root);

  /** @param {Point} at @returns {Point} */
  function inPhoto(at) {
    const hold = (/** @type {number} */ v, /** @type {number} */ most) => Math.min(Math.max(v, 0), most - 1);
    return [Math.round(hold(at[0], photo.w) * 10) / 10, Math.round(hold(at[1], photo.h) * 10) / 10];
  }

  return {
    /** @param {string} href @param {number} w @param {number} h */
    setPhoto(href, w, h) {
      if (href === url && w === photo.w) return;
      const same = w / h === photo.w / photo.h && goal === null && url;
      url = href;
      photo = { w, h };
      image.setAttribute("href", href);
      image.setAttribute("width", String(w));
      image.setAttribute("height", String(h));
      if (!same) look({ x: 0, y: 0, w, h }, false);
    },
    look,
    whole,
    setTurn,
    /** By a quarter. @param {1 | -1} way */
    turn: (way) => (hands.turn(way), hands.settled()),
    measure,
    /** @param {Node[]} parts */
    setMarks(parts) {
      const held = marks.contains(document.activeElement) && /** @type {any} */ (document.activeElement).dataset.key;
      marks.replaceChildren(...parts);
      rescale();
      if (held) [...marks.querySelectorAll("[data-key]")].find((one) => one.dataset.key === held)?.focus({ preventScroll: true });
    },
    /** @param {Node[]} parts */
    setLines: (parts) => lines.replaceChildren(...parts),
    /** @param {string | null} text an SVG document in photo pixels, or null @param {boolean} anew walk step by step */
    setFound(text, anew = true) {
      const doc = text ? new DOMParser().parseFromString(text, "image/svg+xml").documentElement : null;
      server.replaceChildren(...(doc ? [...doc.childNodes].map((node) => document.importNode(node, true)) : []));
      for (const walk of server.querySelectorAll(".walk")) {
        [...walk.querySelectorAll(".mark")].forEach((step, n) => step.style.setProperty("--n", String(anew ? n : -20)));
      }
      for (const dash of server.querySelectorAll(".flow-line path")) dash.style.setProperty("--dash", String(-dashOf(dash)));
      rescale();
    },
    /** Light falls here; the rest is dimmed. @param {{at: Point, r: number, dark: number, core: number} | null} lamp */
    setLamp(lamp) {
      veil.replaceChildren(...(lamp ? lampParts(lamp, photo) : []));
    },
    /** @param {Point} at @returns {Point} in CSS pixels of the window */
    onScreen(at) {
      const box = root.getBoundingClientRect();
      const [x, y] = geo.toScreen(view, size, at);
      return [box.left + x, box.top + y];
    },
    /** @param {number} factor @param {Point | null} round the photo point that comes to the middle */
    zoom(factor, round) {
      const next = geo.zoomAt(view, geo.centre(view), factor);
      byHand(round ? { ...next, x: round[0] - next.w / 2, y: round[1] - next.h / 2 } : next);
    },
    dropCross,
    scale: () => geo.pxPerCss(view, size),
    /** What is seen, without so many CSS pixels at the foot. @param {number} [covered] */
    view: (covered = 0) => geo.withoutFoot(view, size, covered),
  };
}

/** Hatches rise and lie level as they are seen, not as they lie on the photo. @param {any} pattern @param {number} turn */
function upright(pattern, turn) {
  pattern.dataset.as ??= pattern.getAttribute("patternTransform") ?? "";
  pattern.setAttribute("patternTransform", turn ? `rotate(${-turn}) ${pattern.dataset.as}` : pattern.dataset.as);
}

/** A tag of the server stands off its place in a direction on the photo, itself upright.
 * @param {any} tag @param {number} turn degrees */
function standOff(tag, turn) {
  tag.dataset.off ??= tag.getAttribute("transform") ?? "";
  tag.setAttribute("transform", turn ? `rotate(${turn}) ${tag.dataset.off} rotate(${-turn})` : tag.dataset.off);
}

/** @param {any} lamp @param {geo.Size} photo */
function lampParts(lamp, photo) {
  const gradient = svg("radialGradient",
    { id: "lamp-light", gradientUnits: "userSpaceOnUse", cx: lamp.at[0], cy: lamp.at[1], r: lamp.r },
    svg("stop", { offset: lamp.core, "stop-color": "#0A110E", "stop-opacity": 0 }),
    svg("stop", { offset: 1, "stop-color": "#0A110E", "stop-opacity": lamp.dark }));
  const dark = svg("rect", { width: photo.w, height: photo.h, fill: "url(#lamp-light)" });
  return [gradient, dark];
}

/** How long a dash is with the gap after it, in photo pixels. @param {Element} line */
const dashOf = (line) => (line.getAttribute("stroke-dasharray") ?? "").split(" ").reduce((sum, one) => sum + Number(one), 0);
