// @ts-check
/** A sculpture put on record: named, shown before and now, finished; then printed, exported, or deleted. */

import { Refused, ask } from "../server.js";
import { say } from "../words.js";
import { createBothKept } from "./both-kept.js";
import { createFinish } from "./finish-parts.js";
import { askBench } from "./finish-bench.js";
import { draw, root } from "./room.js";
import { createSaving } from "./saving.js";
import { asked, wished } from "./work.js";
import { el, plate, symbol } from "../dom.js";

/** @typedef {{title: string, maker: string, learned: string, before_id: string | null, after_id: string | null,
 * overlay: boolean, finished: boolean}} Entry */

/** What may be changed of a sculpture. @param {any} one @returns {Entry} */
const entryOf = ({ title, maker, learned, before_id, after_id, overlay, finished }) =>
  ({ title, maker, learned, before_id, after_id, overlay, finished: Boolean(finished) });

/** @param {any} one a sculpture @returns {import("./saving.js").Kept} */
const keptOf = (one) => ({ entry: entryOf(one), revision: one.revision });

/** @param {string} id */
async function open(id) {
  const where = `sculptures/${encodeURIComponent(id)}`;
  const all = [asked("GET", `${where}/record`), asked("GET", `${where}/inspections`), asked("GET", "here")];
  const [record, looks, here] = await Promise.all(all);
  const call = await callOf(record.sculpture, here.role);
  const first = keptOf(record.sculpture);
  const both = createBothKept(first, send);
  const saving = createSaving({ kept: first, put: both.put, changed });
  const page = createFinish({ saving, where, record, looks, here, call });

  /** @param {object} entry @param {number} after */
  async function send(entry, after) {
    try {
      return keptOf(await (await ask("PUT", `${root}${where}?after=${after}`, entry, undefined, true)).json());
    } catch (error) {
      const theirs = error instanceof Refused ? error.told?.sculpture : null;
      if (!theirs) throw error;
      const kept = keptOf(theirs);
      throw new Refused(/** @type {Refused} */ (error).message, 409, { kept, workshop: kept });
    }
  }

  async function changed() {
    if (saving.state !== "kept") return page.tell();
    const { entry } = saving.kept;
    const reckoned = ["before_id", "after_id", "finished"].some((key) => both.base[key] !== entry[key]);
    both.base = entry;
    if (both.merged) saving.entry = entry;
    if (reckoned) page.took(await asked("GET", `${where}/record`).catch(() => null));
    if (reckoned || both.merged || document.getElementById("mine")) page.show();
    else page.tell();
    both.merged = false;
  }

  addEventListener("pagehide", () => void saving.leave());
  addEventListener("hashchange", () => {
    page.show();
    document.getElementById("room")?.scrollTo(0, 0);
  });
  page.show();
}

/** Its call, if it is with whoever looks; on the laptop, with anybody. @param {any} sculpture @param {string} role */
async function callOf(sculpture, role) {
  if (role === "bench") return null;
  const queue = await asked("GET", `workshops/${encodeURIComponent(sculpture.workshop)}/queue`).catch(() => null);
  const its = (/** @type {any} */ one) => one.sculpture === sculpture.id && one.state === "taken";
  return queue?.calls.find((/** @type {any} */ one) => its(one) && (one.yours || role === "owner")) ?? null;
}

/** What could not be done, and a plate to try again. @param {unknown} error */
function failed(error) {
  const words = error instanceof Refused && error.message ? error.message : say("offline_title");
  draw({
    title: say("finish_title"),
    back: { words: say("room_back"), href: "" },
    body: [el("div", { class: "work-empty" }, symbol("state-error", "state"), el("h1", { class: "say" }, words))],
    foot: [plate(say("error_again"), () => location.reload(), { kind: "main" })],
  });
}

async function start() {
  const id = wished("sculpture");
  if (id) return open(id);
  const found = await askBench(wished("case") ?? "", wished("before"));
  history.replaceState(null, "", `?sculpture=${encodeURIComponent(found)}`);
  return open(found);
}

start().catch(failed);
// A page that comes back from the browser's memory may be old.
addEventListener("pageshow", (event) => event.persisted && location.reload());
