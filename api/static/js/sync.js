// @ts-check
/**
 * What was told goes to the server as a draft, and what another phone told of the same sculpture comes from there.
 * Edits are sent one after the other; `base` is what both sides last agreed on (merge.js).
 */

import { isOut } from "./here.js";
import { askedOf, emptyJob, nextTarget, entryAt, thing } from "./job.js";
import { changedThings, keyOf, merge, same } from "./merge.js";
import { newsOver, tellNews } from "./news.js";
import * as server from "./server.js";
import { knows, say } from "./words.js";

const AFTER_MS = 400; // the tapping pauses
const POLL_MS = 2000;
const WAITS_MS = [1000, 2000, 4000, 8000, 15_000]; // before the next try when nobody answers
const MOST_NAMES = 3;

/**
 * @typedef {{id: string, photo: string, revision: number, base: any, inspection: string | null, sent: any}} Draft
 * `sent` went off and may or may not have arrived
 */

/** @param {any} app */
export function createSync(app) {
  /** @type {Draft | null} */ let draft = null;
  /** @type {any} */ let timer = null;
  let busy = false;
  let silent = 0;
  let gone = "";

  /** The inspection of exactly what is told now. @param {any} state @returns {string | null} */
  const inspectionOf = ({ inspection, asked, job, photo }) =>
    (inspection && asked === askedOf(job, photo.id) ? inspection.id : null);

  /** Whether something was told that the server does not know of. */
  function unsent() {
    const { photo, job } = app.state();
    if (!photo?.id || photo.id === gone) return false;
    return !draft || !same(job, draft.base) || inspectionOf(app.state()) !== draft.inspection;
  }

  /** @param {Draft | null} next */
  function setDraft(next) {
    draft = next;
    const hash = next ? `#${next.id}` : "";
    if (location.hash !== hash) history.replaceState(null, "", hash || location.pathname + location.search);
    app.keepNow();
  }

  function soon(ms = AFTER_MS) {
    clearTimeout(timer);
    timer = setTimeout(push, ms);
  }

  /** @param {any} state @param {any} before */
  function changed(state, before) {
    if (draft && state.photo?.id !== draft.photo) setDraft(null);
    if (state.photo?.id && (state.job !== before.job || state.photo !== before.photo || state.inspection !== before.inspection)) soon();
  }

  async function push() {
    clearTimeout(timer);
    if (!unsent()) return;
    if (busy) return soon();
    const { photo, job } = app.state();
    const inspection = inspectionOf(app.state());
    await alone(async () => {
      if (draft?.sent) {
        // Whether the last one arrived, nobody knows: the page went away before the answer came.
        const newer = await server.draft(draft.id, draft.revision);
        if (newer && typing()) return soon(POLL_MS);
        if (newer) {
          take(newer);
          return soon(0);
        }
      }
      if (draft) setDraft({ ...draft, sent: job });
      const kept = draft
        ? await server.putDraft(draft.id, draft.revision, { job, inspection })
        : await server.addDraft({ photo: photo.id, job, inspection });
      if (app.state().photo?.id !== photo.id) return;
      setDraft({ id: kept.id, photo: photo.id, revision: kept.revision, base: job, inspection, sent: null });
      if (app.state().job !== job) soon();
    });
  }

  /** One question at a time. @param {() => Promise<void>} work */
  async function alone(work) {
    busy = true;
    try {
      await work();
      silent = 0;
      newsOver(say("news_kept"));
      if (app.state().loose && !app.state().pending && !unsent()) app.set({ loose: false });
    } catch (error) {
      failed(error);
    } finally {
      busy = false;
    }
  }

  /** @param {unknown} error */
  function failed(error) {
    if (isOut(error)) return;
    if (error instanceof server.Refused && error.told?.draft) {
      if (typing()) return soon(POLL_MS);
      take(error.told.draft);
      return soon(0);
    }
    if (error instanceof server.Refused) {
      if (error.status !== 404) return console.warn(error);
      // The photo was deleted on another phone: what is told stays in this browser.
      gone = app.state().photo?.id ?? "";
      setDraft(null);
      return tellNews({ words: say("news_gone") }, true);
    }
    if (!(error instanceof server.Unreachable)) console.warn(error);
    soon(WAITS_MS[Math.min(silent, WAITS_MS.length - 1)]);
    silent += 1;
    if (silent < 2 || !unsent()) return;
    tellNews({ words: say("news_kept"), act: now });
    if (!app.state().loose && !typing()) app.set({ loose: true });
  }

  /** What the other phone told comes in: into the job and into every step of undo. @param {server.Draft} kept */
  function take(kept) {
    if (!draft) return;
    const { job, inspection } = app.state();
    const theirs = { ...emptyJob(), ...kept.job };
    // An answer may have been lost: what was sent is there if it adds nothing more.
    const arrived = draft.sent && same(merge(draft.base, draft.sent, theirs).job, theirs);
    const base = arrived ? draft.sent : draft.base;
    const things = changedThings(base, theirs);
    const { renamed } = merge(base, job, theirs);
    const into = (/** @type {any} */ one) => merge(base, one, theirs).job;
    setDraft({ ...draft, revision: kept.revision, base: theirs, inspection: kept.inspection, sent: null });
    if (things.length) app.rebase(into, (/** @type {any} */ next) => following(app.state(), next, renamed));
    const told = things.filter(({ kind }) => kind !== "base" || things.length === 1);
    if (told.length) tellNews({ words: say("news_changed", { what: named(told) }) }, true);
    if (kept.inspection && kept.inspection !== inspection?.id) look(kept.inspection, theirs);
  }

  /** Another phone has the answer: it is there, but the screen stays. @param {string} id @param {any} theirs */
  async function look(id, theirs) {
    const found = await server.inspection(id).catch(() => null);
    const { job, photo } = app.state();
    if (!found || !same(job, theirs)) return;
    app.set({ inspection: found, asked: askedOf(job, photo.id), finding: 0, pieces: found.report.pieces });
    tellNews({ words: say("news_answer"), act: () => { tellNews(null); app.goOn(); } });
  }

  async function poll() {
    if (!draft || busy || document.hidden || typing()) return;
    const asked = draft;
    await alone(async () => {
      const kept = await server.draft(asked.id, asked.revision);
      if (kept && draft?.id === asked.id) take(kept);
    });
  }

  function now() {
    silent = 0;
    if (app.state().photo?.id) push();
  }

  addEventListener("online", now);
  addEventListener("visibilitychange", () => (document.hidden ? push() : poll()));
  setInterval(poll, POLL_MS);
  return {
    changed,
    now,
    draft: () => draft,
    /** What this browser keeps of another sculpture goes over before it is put away.
     * @param {{job: any, draft: Draft | null} | undefined} kept */
    async flush(kept) {
      if (!kept?.draft || same(kept.job, kept.draft.base)) return;
      const { id, revision, base } = kept.draft;
      await server.putDraft(id, revision, { job: kept.job, inspection: null }).catch(async (error) => {
        const theirs = error.told?.draft;
        if (!theirs) return;
        const job = merge(base, kept.job, { ...emptyJob(), ...theirs.job }).job;
        await server.putDraft(id, theirs.revision, { job, inspection: null }).catch(() => undefined);
      });
    },
    /** After the page was loaded anew. @param {Draft | null} kept */
    restore(kept) {
      // What this browser kept may be a moment older than what it had sent: ask before sending more.
      if (kept) setDraft({ ...kept, sent: kept.sent ?? kept.base });
      soon(0);
    },
    /** @param {server.Draft} kept */
    opened: (kept) => setDraft({ id: kept.id, photo: kept.photo.id, revision: kept.revision,
      base: { ...emptyJob(), ...kept.job }, inspection: kept.inspection, sent: null }),
  };
}

/** Drawing the page anew would lose what is being typed. */
const typing = () => document.activeElement instanceof HTMLInputElement || document.activeElement instanceof HTMLSelectElement;

/** What is chosen on the screen stays chosen, under whatever name and number it has now.
 * @param {any} state @param {any} job @param {Record<string, string>} renamed */
function following({ job: before, active, led, target }, job, renamed) {
  const [id, leg] = (target ?? "").split(".");
  const now = leg && renamed[id] ? `${renamed[id]}.${leg}` : target;
  const key = before.palette[active] && keyOf(before.palette[active]);
  const at = job.palette.findIndex((/** @type {any} */ one) => keyOf(one) === key);
  const chosen = renamed[led] ?? led;
  const known = thing(job, chosen);
  // Asked for here, tapped there meanwhile: ask for the next one.
  const one = leg && thing(job, now.split(".")[0]);
  const told = target && (leg === "order" ? one?.order !== "ask" : !entryAt(before, target) && entryAt(job, now));
  const lost = leg && !one;
  return {
    active: Math.max(0, at),
    led: thing(job, chosen) ? chosen : null,
    target: told || lost ? nextTarget(job) : now,
  };
}

/** @param {{kind: string, name: string}[]} things */
function named(things) {
  const words = things.map(({ kind, name }) => name || say(knows(`thing_${kind}`) ? `thing_${kind}` : "thing_base"));
  const shown = [...new Set(words)];
  return shown.length > MOST_NAMES ? [...shown.slice(0, MOST_NAMES), say("thing_more")] : shown;
}
