// @ts-check
/** The photo with its overlay: view, gestures, keys, loupe. Arithmetic lies in geometry.js, drawing in marks.js. */

import { svg } from "./dom.js";
import * as geo from "./geometry.js";
import { loupe } from "./marks.js";

/**
 * @typedef {import("./geometry.js").Point} Point
 * @typedef {object} Wishes
 * @property {() => boolean} tappable whether a tap is asked for now
 * @property {() => {key: string, at: Point}[]} spots what can be dragged
 * @property {(at: Point) => void} tap
 * @property {(key: string, at: Point) => void} move
 * @property {(at: Point) => string} words what lies there
 * @property {() => "right" | "left"} hand
 * @property {() => void} moved the view has changed
 */

const LOUPE = 74;
const STILL = 6; // a pointer that moved less than this has tapped

/** @param {SVGSVGElement} root @param {Wishes} wishes */
export function createPicture(root, wishes) {
  const image = svg("image", { preserveAspectRatio: "none" });
  const veil = svg("g");
  const server = svg("g", { class: "found" });
  const lines = svg("g");
  const marks = svg("g");
  const glass = svg("g", { class: "glass" });
  root.append(image, veil, server, lines, marks, glass);

  let url = "";
  let photo = { w: 4, h: 3 };
  let view = { x: 0, y: 0, w: 4, h: 3 };
  let goal = /** @type {geo.Box | null} */ (null);
  let size = { w: 4, h: 3 };
  /** @type {Point | null} */ let cross = null;
  let glide = 0;

  function measure() {
    const box = root.getBoundingClientRect();
    if (!box.width || !box.height) return;
    size = { w: box.width, h: box.height };
    show(goal ? geo.fit(goal, size) : view);
  }

  /** @param {geo.Box} next */
  function show(next) {
    view = geo.clamped(next, photo, size);
    root.setAttribute("viewBox", `${view.x} ${view.y} ${view.w} ${view.h}`);
    rescale();
    if (cross) showGlass(cross);
    wishes.moved();
  }

  function rescale() {
    const k = geo.pxPerCss(view, size);
    for (const one of root.querySelectorAll("g.mark")) {
      const { x, y, turn } = /** @type {any} */ (one).dataset;
      const turned = turn ? ` rotate(${turn})` : "";
      one.setAttribute("transform", `translate(${x} ${y})${turned} scale(${k})`);
    }
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
    const to = geo.clamped(geo.fit(content, size), photo, size);
    if (!slowly || matchMedia("(prefers-reduced-motion: reduce)").matches) return show(to);
    const began = performance.now();
    const frame = (/** @type {number} */ now) => {
      const t = Math.min((now - began) / 240, 1);
      const e = 1 - (1 - t) ** 3;
      const mix = (/** @type {"x"|"y"|"w"|"h"} */ key) => from[key] + (to[key] - from[key]) * e;
      show({ x: mix("x"), y: mix("y"), w: mix("w"), h: mix("h") });
      if (t < 1) glide = requestAnimationFrame(frame);
    };
    glide = requestAnimationFrame(frame);
  }

  /** @param {geo.Box} next by hand: the view stays there */
  function byHand(next) {
    cancelAnimationFrame(glide);
    goal = null;
    show(next);
  }

  gestures(root, {
    view: () => view,
    size: () => size,
    byHand,
    glassAt: (at) => (cross = null, showGlass(inPhoto(at))),
    hideGlass: dropCross,
    tap: (at) => wishes.tap(inPhoto(at)),
    move: (key, at) => wishes.move(key, inPhoto(at)),
    tappable: wishes.tappable,
    spots: wishes.spots,
  });
  keys(root, {
    cross: () => cross,
    setCross: (at) => (cross = inPhoto(at), showGlass(cross)),
    dropCross,
    view: () => view,
    byHand,
    tappable: wishes.tappable,
    tap: wishes.tap,
  });
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
    whole: () => look({ x: 0, y: 0, w: photo.w, h: photo.h }, true),
    measure,
    /** @param {Node[]} parts */
    setMarks(parts) {
      marks.replaceChildren(...parts);
      rescale();
    },
    /** @param {Node[]} parts */
    setLines: (parts) => lines.replaceChildren(...parts),
    /** @param {string | null} text an SVG document in photo pixels, or null @param {boolean} anew walk step by step */
    setFound(text, anew = true) {
      const doc = text ? new DOMParser().parseFromString(text, "image/svg+xml").documentElement : null;
      server.replaceChildren(...(doc ? [...doc.childNodes].map((node) => document.importNode(node, true)) : []));
      [...server.querySelectorAll(".walk > .mark")].forEach((step, n) => step.style.setProperty("--n", String(anew ? n : -20)));
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
      const next = geo.zoomAt(view, [view.x + view.w / 2, view.y + view.h / 2], factor);
      byHand(round ? { ...next, x: round[0] - next.w / 2, y: round[1] - next.h / 2 } : next);
    },
    dropCross,
    scale: () => geo.pxPerCss(view, size),
    view: () => view,
  };
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

/** One finger taps or drags a mark, two fingers pinch; a mouse drags the view. @param {SVGSVGElement} root @param {any} on */
function gestures(root, on) {
  /** @type {Map<number, Point>} */ const down = new Map();
  /** @type {{key: string | null, began: Point, mouse: boolean, panning: boolean} | null} */ let one = null;
  const place = (/** @type {MouseEvent} */ event) => {
    const box = root.getBoundingClientRect();
    return /** @type {Point} */ ([event.clientX - box.left, event.clientY - box.top]);
  };
  const inPhoto = (/** @type {Point} */ at) => geo.toPhoto(on.view(), on.size(), at);
  const panned = (/** @type {Point} */ from, /** @type {Point} */ to) => {
    const k = geo.pxPerCss(on.view(), on.size());
    on.byHand({ ...on.view(), x: on.view().x - (to[0] - from[0]) * k, y: on.view().y - (to[1] - from[1]) * k });
  };

  root.addEventListener("pointerdown", (event) => {
    if (event.button !== 0) return;
    root.setPointerCapture(event.pointerId);
    down.set(event.pointerId, place(event));
    if (down.size > 1) {
      one = null;
      on.hideGlass();
      return;
    }
    const mouse = event.pointerType === "mouse";
    // While a tap is asked for, a mark is caught only close by: the next place may lie beside it.
    const reach = mouse ? 12 : on.tappable() ? 14 : 28;
    const spot = geo.nearest(on.spots(), place(event), reach, on.view(), on.size());
    one = { key: spot?.key ?? null, began: place(event), mouse, panning: false };
    if (one.key || on.tappable()) on.glassAt(inPhoto(place(event)));
  });
  root.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (!before) return;
    const at = place(event);
    if (down.size === 2) {
      const other = /** @type {Point} */ ([...down].find(([id]) => id !== event.pointerId)?.[1]);
      on.byHand(geo.pinched(on.view(), on.size(), [before, other], [at, other]));
    } else if (one) {
      const far = geo.distance(one.began, at) > STILL;
      const pans = !one.key && far && (one.mouse || !on.tappable());
      if (pans && !one.panning) {
        one.panning = true;
        on.hideGlass();
      }
      if (one.panning) panned(before, at);
      else if (one.key || on.tappable()) on.glassAt(inPhoto(at));
    }
    down.set(event.pointerId, at);
  });
  root.addEventListener("pointerup", (event) => {
    const was = down.delete(event.pointerId) && one;
    if (down.size) return;
    one = null;
    on.hideGlass();
    if (!was || was.panning) return;
    const at = inPhoto(place(event));
    if (was.key && geo.distance(was.began, place(event)) > STILL) on.move(was.key, at);
    else if (on.tappable()) on.tap(at);
  });
  root.addEventListener("pointercancel", (event) => {
    down.delete(event.pointerId);
    one = null;
    on.hideGlass();
  });
  root.addEventListener("wheel", (event) => {
    event.preventDefault();
    on.byHand(geo.zoomAt(on.view(), inPhoto(place(event)), 1.0015 ** -event.deltaY));
  }, { passive: false });
}

const ARROWS = /** @type {Record<string, Point>} */ ({
  ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1],
});

/** Step of an arrow key in photo pixels: 1, with Shift 10, held down 8. @param {KeyboardEvent} event @returns {Point | null} */
export function arrowStep(event) {
  const way = ARROWS[event.key];
  if (!way) return null;
  const far = event.shiftKey ? 10 : event.repeat ? 8 : 1;
  return [way[0] * far, way[1] * far];
}

/** @param {SVGSVGElement} root @param {any} on */
function keys(root, on) {
  const centre = () => [on.view().x + on.view().w / 2, on.view().y + on.view().h / 2];
  root.addEventListener("keydown", (event) => {
    const step = arrowStep(event);
    const from = on.cross() ?? centre();
    if (step && on.tappable()) on.setCross([from[0] + step[0], from[1] + step[1]]);
    else if (step) on.byHand({ ...on.view(), x: on.view().x + step[0] * 10, y: on.view().y + step[1] * 10 });
    else if ((event.key === "Enter" || event.key === " ") && on.cross() && on.tappable()) on.tap(on.cross());
    else if (event.key === "+" || event.key === "=") on.byHand(geo.zoomAt(on.view(), from, 1.25));
    else if (event.key === "-") on.byHand(geo.zoomAt(on.view(), from, 0.8));
    else if (event.key === "Escape") on.dropCross();
    else return;
    event.preventDefault();
  });
  root.addEventListener("blur", on.dropCross);
}
