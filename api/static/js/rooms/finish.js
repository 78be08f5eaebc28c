// @ts-check
/** A sculpture put on record: named, shown before and now, finished; then printed, exported, or deleted. */

import { Refused, ask } from "../server.js";
import { say } from "../words.js";
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

/** @param {any} a @param {any} b @returns {any} what is other in `a` */
const differing = (a, b) => Object.fromEntries(Object.entries(a).filter(([key, value]) => value !== b[key]));

/** @param {string} id */
async function open(id) {
  const where = `sculptures/${encodeURIComponent(id)}`;
  const read = () => Promise.all([asked("GET", `${where}/record`), asked("GET", `${where}/inspections`), asked("GET", "here")]);
  const [record, looks, here] = await read();
  let latest = record.sculpture;
  let base = entryOf(latest); // what the fields on this page come from
  let merged = false;
  const saving = createSaving({ kept: { entry: base, revision: latest.revision }, put, changed });
  const page = createFinish({ saving, where, record, looks, here });

  /** Of what two phones change at once both is kept, unless it is the same field. @param {Entry} entry
   * @returns {Promise<import("./saving.js").Kept>} */
  async function put(entry) {
    const mine = differing(entry, base);
    try {
      const path = `${root}${where}?after=${latest.revision}`;
      latest = await (await ask("PUT", path, { ...entryOf(latest), ...mine }, undefined, true)).json();
      return { entry: entryOf(latest), revision: latest.revision };
    } catch (error) {
      const theirs = error instanceof Refused && error.status === 409 ? error.told?.sculpture : null;
      if (!theirs) throw error;
      const other = differing(entryOf(theirs), entryOf(latest));
      latest = theirs;
      const kept = { entry: entryOf(theirs), revision: theirs.revision };
      if (Object.keys(other).some((key) => key in mine && mine[key] !== other[key])) {
        throw new Refused(/** @type {Error} */ (error).message, 409, { workshop: kept });
      }
      merged = true;
      return put(entry);
    }
  }

  async function changed() {
    if (saving.state !== "kept") return page.tell();
    const before = base;
    base = saving.kept.entry;
    if (merged) saving.entry = base;
    const shown = ["before_id", "after_id", "finished"].some((key) => before[/** @type {keyof Entry} */ (key)] !== base[/** @type {keyof Entry} */ (key)]);
    if (shown) page.took(await asked("GET", `${where}/record`).catch(() => null));
    if (shown || merged) page.show();
    else page.tell();
    merged = false;
  }

  addEventListener("pagehide", () => void saving.flush());
  addEventListener("hashchange", () => {
    page.show();
    document.getElementById("room")?.scrollTo(0, 0);
  });
  page.show();
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
