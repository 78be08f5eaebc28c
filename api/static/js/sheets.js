// @ts-check
/** What opens over the page: the samples, and More. */

import { ageTabs } from "./ages.js";
import { el, plate } from "./dom.js";
import { mayTrySamples, roomPlate, roomsOf } from "./here.js";
import { languageTabs } from "./languages.js";
import * as server from "./server.js";
import { say } from "./words.js";

/** @param {string} title @param {any[]} choices */
export function openSheet(title, choices) {
  const sheet = /** @type {HTMLDialogElement} */ (document.getElementById("sheet"));
  const shut = plate(say("close"), () => sheet.close(), { kind: "quiet" });
  sheet.replaceChildren(el("h2", { class: "say" }, title), el("div", { class: "choices" }, ...choices, shut));
  sheet.setAttribute("aria-label", title);
  if (!sheet.open) sheet.showModal();
}

/** A plate that closes the sheet and then does its work. @param {string} words @param {() => void} act */
export function sheetChoice(words, act) {
  return plate(words, () => {
    /** @type {HTMLDialogElement} */ (document.getElementById("sheet")).close();
    act();
  });
}

/** @param {any} app */
export async function openSamples(app) {
  try {
    const all = await server.samples();
    openSheet(say("samples_title"), all.map(({ name, title }) => sheetChoice(title, () => app.sample(name))));
  } catch (error) {
    const words = error instanceof server.Refused ? error.message : say("offline_title");
    openSheet(words, []);
  }
}

/** The address of this sculpture, to be copied by hand where the browser lets no page copy. @param {string} link */
export function openLink(link) {
  const field = el("input", { class: "link", value: link, readonly: true, "aria-label": say("more_link") });
  openSheet(say("link_here"), [field]);
  field.select();
}

/** @param {any} app */
export function openMore(app) {
  const { hand, photo, photoDim, screen } = app.state();
  const dim = document.documentElement.dataset.theme === "dim";
  const choices = [
    sheetChoice(say(dim ? "more_bright" : "more_dim"), () => app.setTheme(dim ? "bright" : "dim")),
    sheetChoice(say(hand === "right" ? "more_left" : "more_right"), () => app.setHand(hand === "right" ? "left" : "right")),
  ];
  if (photo && screen !== "start") {
    choices.push(
      sheetChoice(say("more_whole"), () => app.whole()),
      sheetChoice(say("picture_turn"), () => app.turn()),
      sheetChoice(say(photoDim ? "more_photo_bright" : "more_photo_dim"), () => app.set({ photoDim: !photoDim })),
    );
  }
  if (photo) {
    if (app.link()) choices.push(sheetChoice(say("more_link"), () => app.copyLink()));
    if (mayTrySamples(app.state().here)) choices.push(sheetChoice(say("start_sample"), () => app.chooseSample()));
    if (photo.id) choices.push(roomPlate({ words: say("more_cover"), href: `rooms/cover?photo=${photo.id}` }));
    choices.push(sheetChoice(say("more_delete"), async () => {
      if (photo.id) await server.deletePhoto(photo.id).catch(() => undefined);
      await app.forgetPhoto();
    }));
  }
  choices.push(...roomsOf(app.state().here).map((room) => roomPlate(room)));
  choices.push(ageTabs(app, () => {
    openMore(app);
    /** @type {HTMLElement | null} */ (document.querySelector(".ages [aria-pressed=true]"))?.focus();
  }));
  choices.push(languageTabs());
  openSheet(say("more_title"), choices);
}
