// @ts-check
/** Whom the words are for: an answer that is there is said anew, and the choice holds for the next photo. */

import { el, tabs } from "./dom.js";
import { askedOf } from "./job.js";
import * as server from "./server.js";
import { say } from "./words.js";

const AGES = ["6-8", "9-12", "13+"];
const USUAL = "9-12";

/** @param {any} state */
export const ageOf = ({ inspection, job, age }) => job.base.age ?? inspection?.case.age ?? age ?? USUAL;

/** @param {any} job @param {string | null} age */
export const forAge = (job, age) => (age ? { ...job, base: { ...job.base, age } } : job);

/** @param {any} app @param {() => void} then drawn anew */
export function ageTabs(app, then) {
  const choices = AGES.map((value) => ({ value, words: value }));
  const chosen = (/** @type {string} */ age) => {
    app.setAge(age);
    then();
  };
  return el("div", { class: "ages" }, el("p", { class: "label" }, say("ages")),
    tabs(choices, ageOf(app.state()), chosen, { label: say("ages") }));
}

/** Says all of the answer anew. @param {any} app @param {string} age */
export async function sayTo(app, age) {
  const { photo, inspection, asked } = app.state();
  const same = photo?.id && asked === askedOf(app.state().job, photo.id);
  app.rebase((/** @type {any} */ job) => forAge(job, age), () => ({ age }));
  if (!inspection) return;
  const told = await server.putAge(inspection.id, age).catch(() => null);
  if (!told) return app.speak(say("ages_later"));
  if (app.state().inspection?.id !== told.id) return;
  app.set({ inspection: told, ...(same ? { asked: askedOf(app.state().job, photo.id) } : {}) });
}
