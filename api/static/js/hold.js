// @ts-check
/** While a control is pressed it is not drawn anew: a press that begins on one plate and ends on its copy is no click. */

const CLICK_MS = 300; // a tap's click comes a little after the finger has gone, estimated

/** @param {(before: any) => void} show draws what has waited, from the state before it */
export function createHold(show) {
  let pressed = false;
  /** @type {any} */ let waits = null;
  /** @type {any} */ let timer = null;

  function first() {
    const before = waits;
    waits = null;
    return before;
  }

  function release() {
    clearTimeout(timer);
    pressed = false;
    const before = first();
    if (before) show(before);
  }

  /** @param {number} ms */
  const soon = (ms) => {
    clearTimeout(timer);
    timer = setTimeout(release, ms);
  };
  const press = () => {
    clearTimeout(timer);
    pressed = true;
  };
  // The finger may have left the control before it goes up.
  addEventListener("pointerup", () => pressed && soon(CLICK_MS));
  addEventListener("pointercancel", release);
  addEventListener("keyup", () => pressed && soon(0));
  addEventListener("blur", release);
  return {
    /** @param {HTMLElement} part */
    watch(part) {
      part.addEventListener("pointerdown", press);
      part.addEventListener("keydown", (event) => event.key === " " && press());
      // What the click does is drawn at once; what waited, with it or right after.
      part.addEventListener("click", () => {
        pressed = false;
        soon(0);
      }, true);
    },
    on: () => pressed,
    /** @param {any} before */
    wait: (before) => void (waits ??= before),
    first,
  };
}
