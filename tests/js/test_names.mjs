// Fields for nicknames: when they warn.
import assert from "node:assert/strict";
import test from "node:test";

const { looksFull } = await import(new URL("../../api/static/js/names.js", import.meta.url));

test("two words with a letter each may be a full name", () => {
  for (const full of ["Ana Pérez", "ana  p", "Ana, Pérez", "ana.perez", "ana_perez", "منى علي", "Ana\u00a0Pérez"]) {
    assert.ok(looksFull(full), full);
  }
});

test("a nickname and a bench number are none", () => {
  for (const short of ["", " ", "Owl", "owl-7", "bench 7", "7", "7 12", "منى", " Owl ", "Owl.", "🦉 Owl"]) {
    assert.ok(!looksFull(short), short);
  }
});
