// @ts-check
/** What will light, and the finger-walk of the light that was chosen. */

import { el, symbol } from "../dom.js";
import { say } from "../words.js";

/** How each light is now: as the helper sees it, else as the sums say. @param {any} inspection @returns {Map<string, string>} */
export function statesNow({ report, case: told }) {
  const seen = new Map(told.leds.map((/** @type {any} */ led) => [led.id, led.seen]));
  return new Map(report.leds.map((/** @type {any} */ led) => [led.id, seen.get(led.id) ?? led.state]));
}

/** What will light with a plan; without one only how the lights are.
 * @param {any} report @param {Map<string, string>} now @param {any} plan
 * @param {{id: string | null, pick: (id: string) => void} | null} walk which light is walked, where that may be told */
export function lights(report, now, plan, walk) {
  const items = report.leds.map((/** @type {any} */ led) => {
    const before = /** @type {string} */ (now.get(led.id));
    const after = plan?.then[led.id] ?? before;
    const changed = after !== before;
    const will = before === "off" && after === "bright" ? "on" : after;
    const words = changed ? say(`light_will_${will}`) : say(`light_${plan ? "stays" : "now"}_${before}`);
    const pair = plan
      ? [symbol(`led-${before}`, "led"), symbol("then", "arrow"), symbol(`led-${after}`, "led")]
      : [symbol(`led-${before}`, "led")];
    const inner = [el("span", { class: "pair" }, ...pair), el("span", {}, el("b", {}, led.id), ` ${words}`)];
    const held = walk ? [picker(walk, led.id, inner)] : inner;
    return el("li", { class: changed ? "changed" : "" }, ...held);
  });
  const list = el("ul", { class: "lights", "aria-label": say("lights_label") }, ...items);
  return el("div", { class: "full" }, list, walk?.id && walked(report, walk.id));
}

/** @param {{id: string | null, pick: (id: string) => void}} walk @param {string} id @param {any[]} inner */
function picker(walk, id, inner) {
  return el("button", {
    type: "button", class: "light-plate", "aria-pressed": String(walk.id === id), "data-key": `light-${id}`,
    title: say("trace_hint"), onclick: () => walk.pick(id),
  }, ...inner);
}

/** @param {any} report @param {string} id */
const walked = (report, id) =>
  el("p", { class: "label traced" }, symbol("feet-sign", "feet"), el("span", {}, traceWords(report, id)));

/** What comes of walking from both legs of a light to the pack. @param {any} report @param {string} id */
export function traceWords(report, id) {
  const [long, short] = ["long", "short"].map((leg) => report.traces.find((/** @type {any} */ one) => one.leg === `${id}.${leg}`));
  if (!long || !short) return say("trace_none", { id });
  if (long.reaches.length > 1 || short.reaches.length > 1) return say("trace_short", { id });
  const [a, b] = [comesTo(long), comesTo(short)];
  if (a === b && a !== "through") return say(`trace_both_${a}`, { id });
  const crossed = [...new Set([...long.crosses, ...short.crosses])];
  if (a === "through" || b === "through") return say("trace_through", { id, ids: crossed });
  const which = a === "free" ? "short" : "long";
  return say(`trace_${which}_${a === "free" ? b : a}`, { id });
}

/** @param {any} trace */
function comesTo(trace) {
  if (trace.path.length) return "free";
  if (!trace.lumps.length) return "out";
  if (trace.reaches.length) return "wrong";
  return trace.crosses.length ? "through" : "stuck";
}
