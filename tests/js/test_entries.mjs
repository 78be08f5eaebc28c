// Entries that need no browser: what misses the dough, and ghosts of suggestions.
import assert from "node:assert/strict";
import test from "node:test";

const js = new URL("../../api/static/js/", import.meta.url);
const { missOf, pieceAt } = await import(new URL("misses.js", js));
const { ghostsOf, taken, takenAll, takenAt } = await import(new URL("ghosts.js", js));
const job = await import(new URL("job.js", js));

const box = (x, y, w, h) => [[x, y], [x + w, y], [x + w, y + h], [x, y + h]];
const PINK = { id: 1, colour: "pink", role: "conductive", outline: box(0, 0, 100, 100) };
const WALL = { id: 2, colour: "sky", role: "insulating", outline: box(40, 20, 20, 60) };
const TEAL = { id: 3, colour: "teal", role: "conductive", outline: box(200, 0, 50, 50) };
const known = { pieces: [PINK, WALL, TEAL], photo: { mm_per_px: 0.5, true_scale: true } };

test("dough set into other dough is what lies there", () => {
  assert.equal(pieceAt(known.pieces, [50, 50]), WALL);
  assert.equal(pieceAt([WALL, PINK], [10, 50]), PINK);
  assert.equal(pieceAt(known.pieces, [150, 50]), null);
});

test("a leg beside the dough names the nearer dough and how far it is", () => {
  assert.deepEqual(missOf(known, "L1.long_leg", [106, 50]), { wall: null, near: PINK, mm: 3 });
  assert.equal(missOf(known, "L1.long_leg", [190, 10]).near, TEAL);
  assert.equal(missOf(known, "L1.long_leg", [50, 50]).wall, WALL);
  assert.equal(missOf(known, "L1.long_leg", [10, 50]), null);
});

test("without a true scale no mm is told, and before the outlines are known nothing is", () => {
  const loose = { ...known, photo: { mm_per_px: 0.5, true_scale: false } };
  assert.equal(missOf(loose, "L1.long_leg", [110, 50]).mm, null);
  assert.equal(missOf({ pieces: null, photo: null }, "plus", [150, 50]), null);
  assert.equal(missOf({ ...known, pieces: [WALL] }, "plus", [150, 50]), null);
});

test("a tap is off by less than it may be: legs 1.1 mm, leads 3 mm", () => {
  assert.equal(missOf(known, "L1.long_leg", [102, 50]), null);
  assert.equal(missOf(known, "plus", [105, 50]), null);
  assert.notEqual(missOf(known, "L1.long_leg", [105, 50]), null);
  assert.notEqual(missOf(known, "plus", [107, 50]), null);
});

const led = (at, confidence, colour = "blue") =>
  ({ at, size_mm: 5, colour, seen: "off", legs: [[at[0] - 60, at[1]], [at[0] + 60, at[1]]], confidence });
const report = {
  photo: { mm_per_px: 0.1 },
  suggestions: {
    leads: [{ colour: "red", at: [10, 10], confidence: 0.9 }, { colour: "black", at: [900, 10], confidence: 0.3 }],
    leds: [led([300, 300], 0.8), led([600, 300], 0.4, null)],
  },
};

test("all sure ones are taken at once; which leg is the long one is then asked, never taken as known", () => {
  const ghosts = ghostsOf(job.emptyJob(), report);
  assert.deepEqual(ghosts.map((one) => one.sure), [true, false, true, false]);
  const now = takenAll(job.emptyJob(), ghosts.filter((one) => one.sure));
  assert.deepEqual(now.plus, [10, 10]);
  assert.equal(now.minus, null);
  assert.deepEqual(now.leds.map((one) => [one.id, one.colour, one.order, one.seen]), [["L1", "blue", "ask", null]]);
  assert.equal(job.unordered(now), "L1.order");
  assert.deepEqual(ghostsOf(now, report).map((one) => one.key), ["ghost.black", "ghost.1"]);
});

test("what is told already is no ghost any more, whoever told it", () => {
  let one = job.withEntry(job.emptyJob(), "L1.long_leg", [245, 302]);
  one = job.withEntry(one, "L1.short_leg", [350, 298]);
  one = job.withEntry(one, "plus", [400, 400]);
  assert.deepEqual(ghostsOf(one, report).map((ghost) => ghost.key), ["ghost.black", "ghost.1"]);
});

test("the leg of a ghost tapped as the long one is the long one", () => {
  const start = job.emptyJob();
  const ghosts = ghostsOf(start, report);
  const { job: now } = takenAt(start, ghosts, "L1.long_leg", [364, 302], 20);
  assert.deepEqual([now.leds[0].long_leg, now.leds[0].short_leg, now.leds[0].order], [[360, 300], [240, 300], null]);
  const short = takenAt(start, ghosts, "L1.short_leg", [364, 302], 20).job;
  assert.deepEqual(short.leds[0].short_leg, [360, 300]);
});

test("a tap for a leg takes no lead, a tap for a lead takes no LED, a tap beside takes nothing", () => {
  const start = job.emptyJob();
  const ghosts = ghostsOf(start, report);
  assert.equal(takenAt(start, ghosts, "L1.long_leg", [10, 10], 20), null);
  assert.equal(takenAt(start, ghosts, "plus", [300, 300], 20), null);
  assert.equal(takenAt(start, ghosts, "plus", [40, 10], 20), null);
  assert.deepEqual(takenAt(start, ghosts, "plus", [20, 10], 20).job.plus, [10, 10]);
});

test("a ghost touched while nothing is asked for is taken as what it is", () => {
  const ghosts = ghostsOf(job.emptyJob(), report);
  const { job: now, id } = takenAt(job.emptyJob(), ghosts, null, [602, 300], 28);
  assert.deepEqual([id, now.leds[0].order, now.leds[0].colour], ["L1", "ask", "red"]);
  assert.deepEqual(taken(job.emptyJob(), ghosts[1]).job.minus, [900, 10]);
});
