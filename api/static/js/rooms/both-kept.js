// @ts-check
/**
 * Sends what was changed on this page, and keeps what another phone changed meanwhile, unless both changed the same
 * field: then somebody has to choose. No DOM here.
 */

import { Refused } from "../server.js";

/** @typedef {Record<string, any>} Entry @typedef {{entry: Entry, revision: number}} Kept */

/** @param {Entry} a @param {Entry} b @returns {Entry} what is other in `a` */
export const differing = (a, b) => Object.fromEntries(Object.entries(a).filter(([key, value]) => value !== b[key]));

/**
 * @param {Kept} first
 * @param {(entry: Entry, after: number) => Promise<Kept>} send refused with `told.kept` if it is not at `after` any more
 */
export function createBothKept(first, send) {
  let latest = first;
  const both = {
    /** What the fields on the page come from; whoever puts newer values there says so. */
    base: first.entry,
    /** Whether something of another phone came in. */
    merged: false,
    put,
  };

  /** @param {Entry} entry @returns {Promise<Kept>} */
  async function put(entry) {
    const mine = differing(entry, both.base);
    try {
      latest = await send({ ...latest.entry, ...mine }, latest.revision);
      return latest;
    } catch (error) {
      /** @type {Kept | undefined} */ const theirs = error instanceof Refused && error.status === 409 ? error.told?.kept : undefined;
      if (!theirs) throw error;
      const other = differing(theirs.entry, latest.entry);
      latest = theirs;
      if (Object.keys(other).some((key) => key in mine && mine[key] !== other[key])) throw error;
      both.merged = true;
      return put(entry);
    }
  }

  return both;
}
