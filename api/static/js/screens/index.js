// @ts-check
/** All screens, by name. */

import { answer } from "./answer.js";
import { check } from "./check.js";
import { colours } from "./colours.js";
import { correct } from "./correct.js";
import { entries } from "./entries.js";
import { size } from "./size.js";
import { start } from "./start.js";
import { offline, trouble, waiting } from "./states.js";
import { whatIf } from "./what-if.js";

/** @type {Record<string, import("./screen.js").Screen>} */
export const SCREENS = { start, colours, correct, size, entries, answer, check, waiting, trouble, offline, "what-if": whatIf };

/** What all screens keep for themselves. @returns {Record<string, any>} */
export const ownState = () => Object.assign({}, ...Object.values(SCREENS).map((one) => one.state ?? {}));
