// What is tried on the picture: where everything then is, what becomes of the lights, and the job of it.
import assert from "node:assert/strict";
import test from "node:test";

const js = new URL("../../api/static/js/", import.meta.url);
const { becomes, changedJob, entryOf, longer, news, shownJob, standAfter, targetOf, withChange } = await import(new URL("what-if.js", js));
const { fromCase, toCase } = await import(new URL("job.js", js));
const { apart } = await import(new URL("screens/what-if-picture.js", js));

const told = {
  schema: "doughsight-case/1",
  palette: [{ name: "pink", role: "conductive", taps: [[5, 5]] }],
  pack: { cells: 4, plus: [1, 1], minus: [90, 90], emf_V: 5 },
  leds: [
    { id: "L1", colour: "red", long_leg: [10, 10], short_leg: [20, 20], seen: "off" },
    { id: "L2", colour: "blue", long_leg: [30, 10], short_leg: [40, 20] },
  ],
  parts: [{ id: "W1", kind: "wire", a: [50, 50], b: [60, 60] }],
  cuts: [{ points: [[0, 0], [1, 1]] }],
};
const turn = { do: "turn", part: "L1" };
const led = (now, then, more = {}) => ({ id: "L1", out: false, now: { state: now, glow: 0.5 }, then: { state: then, glow: 0.5 }, ...more });

test("changes are made in their order", () => {
  const { at, out, cells, cuts } = standAfter(told, [
    turn, { do: "move", entry: "L1.long", to: [7, 7] }, { do: "pull-out", part: "L2" }, { do: "cells", count: 3 },
    { do: "cut", points: [[2, 2], [3, 3]] }, { do: "pull-out", part: "W1" }, { do: "put-back", part: "W1" },
  ]);
  assert.deepEqual([at["L1.long"], at["L1.short"]], [[7, 7], [10, 10]]);
  assert.deepEqual([out, cells, cuts], [["L2"], 3, [[[2, 2], [3, 3]]]]);
  assert.deepEqual(standAfter(told, [turn, turn]), standAfter(told, []));
});

test("cells, or places of one leg, in a row are one change; others are not", () => {
  const cells = (count) => ({ do: "cells", count });
  const move = (entry, x) => ({ do: "move", entry, to: [x, 0] });
  assert.deepEqual([cells(5), cells(6)].reduce(withChange, []), [cells(6)]);
  assert.deepEqual([move("L1.long", 1), move("L1.long", 2)].reduce(withChange, []), [move("L1.long", 2)]);
  assert.equal([move("L1.long", 1), move("L1.short", 2), cells(3), turn, turn, cells(2)].reduce(withChange, []).length, 6);
});

test("the job is told so, without what was seen before", () => {
  const job = changedJob(fromCase(told), told, [
    turn, { do: "pull-out", part: "L2" }, { do: "cells", count: 2 }, { do: "cut", points: [[10, 0], [20, 0]] },
    { do: "move", entry: "pack.plus", to: [5, 6] }, { do: "move", entry: "W1.b", to: [66, 66] },
  ], 0.1);
  const out = toCase(job, "p");
  assert.deepEqual(out.leds.map((one) => [one.id, one.long_leg, one.short_leg, one.seen]), [["L1", [20, 20], [10, 10], null]]);
  assert.deepEqual([out.pack.cells, out.pack.emf_V, out.pack.plus], [2, 2.5, [5, 6]]);
  assert.deepEqual(out.parts.map((one) => one.b), [[66, 66]]);
  assert.deepEqual(out.cuts, [...told.cuts, { points: [[-5, 0], [35, 0]] }]); // 1.5 mm longer at each end
  assert.deepEqual(changedJob(fromCase(told), told, [], 0.1).base.pack, told.pack);
  assert.equal(changedJob(fromCase(told), told, [{ do: "pull-out", part: "L1" }, { do: "pull-out", part: "L2" }], 0.1).leds.length, 1);
});

test("a line is made longer along its ends, and one point stays one", () => {
  assert.deepEqual(longer([[0, 0], [0, 5], [3, 5]], 2), [[0, -2], [0, 5], [5, 5]]);
  assert.deepEqual(longer([[1, 1]], 2), [[1, 1]]);
});

test("entries of the sums are targets of the job, and back", () => {
  for (const [entry, target] of [["pack.plus", "plus"], ["L1.long", "L1.long_leg"], ["W1.a", "W1.a"]]) {
    assert.equal(targetOf(entry), target);
    assert.equal(entryOf(target), entry);
  }
});

test("what is pulled out is not shown", () => {
  const stand = standAfter(told, [{ do: "pull-out", part: "L2" }]);
  const shown = shownJob(stand, told, () => true, true);
  assert.deepEqual([shown.leds.map((one) => one.id), shown.parts.length, shown.plus], [["L1"], 1, [1, 1]]);
  assert.equal(shownJob(stand, told, (id) => id === "L1", false).plus, null);
});

test("what becomes of a light", () => {
  assert.equal(becomes(led("off", "bright")), "on");
  assert.equal(becomes(led("bright", "off")), "off");
  assert.equal(becomes(led("off", "dim")), "dim");
  assert.equal(becomes(led("dim", "bright")), "bright");
  assert.equal(becomes(led("bright", "bright")), "stays_bright");
  assert.equal(becomes(led("bright", "bright", { then: { state: "bright", glow: 0.3 } })), "dimmer");
  assert.equal(becomes(led("bright", "bright", { then: { state: "bright", glow: 0.8 } })), "brighter");
  assert.equal(becomes(led("off", "off", { then: { state: "off", glow: 0.1 } })), "stays_off");
  assert.equal(becomes(led("bright", "off", { out: true })), "out");
  assert.deepEqual(news([led("bright", "off"), led("dim", "dim"), { ...led("bright", "off"), id: "L2" }]), [["off", ["L1", "L2"]]]);
});

test("marks over LEDs move apart, and off what stays", () => {
  const bodies = ["L1", "L2", "L3"].map((id, i) => ({ id, at: [100 + 12 * i, 100 + i] }));
  const still = [[100, 100], [130, 104]];
  const steps = apart(bodies, still);
  const boxes = bodies.map(({ id, at }) => [at[0] + steps.get(id)[0], at[1] + steps.get(id)[1], 52, 30]);
  const all = [...boxes, ...still.map(([x, y]) => [x, y, 22, 22])];
  boxes.forEach((a, i) => all.forEach((b, j) => {
    const clear = Math.abs(a[0] - b[0]) >= (a[2] + b[2]) / 2 - 1 || Math.abs(a[1] - b[1]) >= (a[3] + b[3]) / 2 - 1;
    assert.ok(i === j || clear, `${i} on ${j}`);
  }));
  assert.deepEqual([...apart([{ id: "L1", at: [5, 5] }], []).values()], [[0, 0]]);
});
