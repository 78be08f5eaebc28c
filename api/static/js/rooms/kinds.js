// @ts-check
/** Kinds of faults in words: in the chart, as a guess, and what to show the class. */

import { knows, say } from "../words.js";

/** What a call may turn out to be besides what was guessed and what this workshop had: the commonest first
 * (nine in ten unlit LEDs are backwards: common practice, no published source; the rest estimated). */
const COMMON = ["led-backwards", "leg-out", "short-pressed-together", "gap-in-lump", "pack-flat"];
const MOST = 6;
export const OTHER = "other";
/** Guesses that are said of one LED, and need its name. */
const OF_LED = ["led-backwards", "leg-out", "legs-in-one-lump", "leg-in-insulator", "led-without-dough"];

/** @param {string} kind */
export const kindWords = (kind) => (knows(`kind_${kind}`) ? say(`kind_${kind}`) : say("kind_other"));

/** The kind as a call may be solved with; `other` where it has no words. @param {string | undefined} code */
export const kindOf = (code) => (code && knows(`kind_${code}`) ? code : OTHER);

/** A guess that names its part, where there is one. @param {{code: string, parts: string[]}} guess */
export function guessWords({ code, parts }) {
  const part = (parts[0] ?? "").split(".")[0];
  const key = `guess_${code}`;
  const sayable = !OF_LED.includes(code) || /^[A-Z]/.test(part);
  return knows(key) && sayable ? say(key, { part }) : kindWords(code);
}

/** What would help a class with many of this kind. @param {string} kind */
export const showWords = (kind) => say(knows(`show_${kind}`) ? `show_${kind}` : "show_other");

/** What is offered when a call is solved: the guess first, `other` last.
 * @param {{code: string} | null} guess @param {{kind: string}[]} charted */
export function offered(guess, charted) {
  const all = [guess?.code, ...charted.map(({ kind }) => kind), ...COMMON];
  const known = all.filter((kind) => kind && kind !== OTHER && knows(`kind_${kind}`));
  return [.../** @type {string[]} */ ([...new Set(known)]).slice(0, MOST), OTHER];
}
