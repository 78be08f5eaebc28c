// Two phones on one sculpture: no edit of either is lost.
import assert from "node:assert/strict";
import test from "node:test";

const js = new URL("../../api/static/js/", import.meta.url);
const { asText, changedThings, merge, same } = await import(new URL("merge.js", js));
const { createStore } = await import(new URL("store.js", js));
const { emptyJob, withEntry, withThing } = await import(new URL("job.js", js));

const pink = { name: "pink", role: "conductive", taps: [[5, 5]], rgb: [200, 90, 120] };
const led = (id, long_leg = null, short_leg = null) => ({ id, colour: "red", long_leg, short_leg, seen: null });
const base = { ...emptyJob(), palette: [pink], leds: [led("L1", [1, 1], [2, 2]), led("L2", [3, 3], [4, 4])] };
const put = (mine, theirs, from = base) => merge(from, mine, theirs).job;
const change = (job, i, patch) => ({ ...job, palette: job.palette.map((one, n) => (n === i ? { ...one, ...patch } : one)) });
/** The same fields in another order, as they may come back from the server. */
const turned = (value) => Array.isArray(value) ? value.map(turned)
  : value && typeof value === "object" ? Object.fromEntries(Object.entries(value).reverse().map(([k, v]) => [k, turned(v)])) : value;

test("what only one has changed is taken, from either side", () => {
  const moved = withEntry(base, "plus", [9, 9]);
  assert.deepEqual(put(moved, base), moved);
  assert.deepEqual(put(base, moved), moved);
  assert.deepEqual(put(moved, moved), moved);
});

test("the order of fields and null or missing make no difference", () => {
  assert.ok(same({ a: 1, b: null }, { a: 1 }));
  assert.equal(asText({ b: [1, { d: 2, c: 3 }], a: "x" }), asText({ a: "x", b: [1, { c: 3, d: 2 }] }));
  assert.ok(same(put(turned(base), withEntry(base, "plus", [9, 9])), withEntry(base, "plus", [9, 9])));
  assert.ok(!same([1, 2], [2, 1]));
});

test("two legs of one LED, its look and its colour by two phones", () => {
  const mine = withThing(base, "L2", { long_leg: [30, 30], seen: "off" });
  const theirs = withThing(base, "L2", { short_leg: [40, 40], colour: "blue" });
  assert.deepEqual(put(mine, theirs).leds[1], { ...led("L2", [30, 30], [40, 40]), colour: "blue", seen: "off" });
});

test("only for the very same field the later one wins", () => {
  const mine = withEntry(withEntry(base, "plus", [1, 0]), "minus", [5, 5]);
  const theirs = withEntry(withEntry(base, "plus", [2, 0]), "L1.long_leg", [7, 7]);
  const both = put(mine, theirs);
  assert.deepEqual([both.plus, both.minus, both.leds[0].long_leg], [[1, 0], [5, 5], [7, 7]]);
});

test("both add an LED: two LEDs, mine under another name", () => {
  const mine = { ...base, leds: [...base.leds, led("L3", [10, 10], [11, 11])] };
  const theirs = { ...base, leds: [...base.leds, led("L3", [20, 20])] };
  const { job, renamed } = merge(base, mine, theirs);
  assert.deepEqual(job.leds.map((one) => [one.id, one.long_leg]), [["L1", [1, 1]], ["L2", [3, 3]], ["L3", [20, 20]], ["L4", [10, 10]]]);
  assert.deepEqual(renamed, { L3: "L4" });
});

test("the first LED that both tap at once becomes two; who has not tapped yet loses nothing", () => {
  const empty = emptyJob();
  const mine = withEntry(empty, "L1.long_leg", [10, 10]);
  const theirs = withEntry(empty, "L1.long_leg", [90, 90]);
  assert.deepEqual(put(mine, theirs, empty).leds.map((one) => one.long_leg), [[90, 90], [10, 10]]);
  assert.deepEqual(put(empty, theirs, empty).leds, theirs.leds);
  const added = { ...empty, leds: [...empty.leds, led("L2")] };
  assert.deepEqual(put(added, { ...empty, leds: [...empty.leds, led("L2", [3, 3])] }, empty).leds[1].long_leg, [3, 3]);
});

test("taken out by one: gone; taken out by one and changed by the other: stays, changed", () => {
  const without = { ...base, leds: base.leds.slice(0, 1) };
  assert.deepEqual(put(without, withEntry(base, "plus", [9, 9])).leds, without.leds);
  const changed = withThing(base, "L2", { seen: "off" });
  assert.equal(put(without, changed).leds[1].seen, "off");
  assert.equal(put(changed, without).leds[1].seen, "off");
});

test("taps on one dough by both, a dough added by each, a renamed dough", () => {
  const mine = change(base, 0, { taps: [[5, 5], [6, 6]] });
  const theirs = change(base, 0, { taps: [[5, 5], [7, 7]], role: "insulating" });
  assert.deepEqual(put(mine, theirs).palette[0], { ...pink, role: "insulating", taps: [[5, 5], [7, 7], [6, 6]] });
  const dough = (name) => ({ name, role: "table", taps: [[1, 1]], rgb: null });
  const added = put({ ...base, palette: [pink, dough("sky")] }, { ...base, palette: [pink, dough("table")] });
  assert.deepEqual(added.palette.map((one) => one.name), ["pink", "table", "sky"]);
  const renamed = change(base, 0, { id: "pink", name: "rose" });
  const both = put(renamed, theirs).palette;
  assert.deepEqual([both.length, both[0].name, both[0].taps], [1, "rose", [[5, 5], [7, 7]]]);
});

test("a dough that I took out and put back again by undo is there once, in its place", () => {
  const three = { ...base, palette: ["a", "b", "c"].map((name) => ({ ...pink, name })) };
  const without = { ...three, palette: [three.palette[0], three.palette[2]] };
  assert.deepEqual(put(three, withEntry(without, "plus", [1, 1]), without).palette.map((one) => one.name).sort(), ["a", "b", "c"]);
});

test("strokes, cuts, joins by item", () => {
  const line = (x) => ({ points: [[x, 0], [x, 9]] });
  const from = { ...base, cuts: [line(1), line(2)], strokes: [] };
  const mine = { ...from, cuts: [line(2), line(3)], strokes: [{ as: "pink", width_mm: 4, points: [[1, 1]] }] };
  const theirs = { ...from, cuts: [line(1), line(2), line(4)], joins: [line(5)] };
  const both = put(mine, theirs, from);
  assert.deepEqual(both.cuts, [line(2), line(4), line(3)]);
  assert.deepEqual(both.joins, [line(5)]);
  assert.equal(both.strokes.length, 1);
});

test("the size: places and mm may come from two phones, two kinds of size may not be mixed", () => {
  const size = (points, mm, kind) => ({ ...base, size: { points, mm, ...(kind ? { kind } : {}) } });
  assert.deepEqual(put(size([], 80), size([[1, 1], [2, 2]], null)).size, { points: [[1, 1], [2, 2]], mm: 80 });
  assert.deepEqual(put(size([[1, 1]], null), size([[3, 3], [4, 4]], null)).size.points, [[1, 1]]);
  assert.deepEqual(put(size([[1, 1]], 23, "coin"), size([[3, 3], [4, 4]], 80)).size, { points: [[1, 1]], mm: 23, kind: "coin" });
});

test("what the page keeps without editing is put together field by field", () => {
  const from = { ...base, base: { thickness_mm: 12 } };
  const mine = { ...from, base: { thickness_mm: 12, age: "6-8" } };
  const theirs = { ...from, base: { thickness_mm: 15 } };
  assert.deepEqual(put(mine, theirs, from).base, { thickness_mm: 15, age: "6-8" });
});

test("an undo is an edit like any other: the other phone's edits stay", () => {
  const edited = withEntry(base, "plus", [9, 9]);
  const theirs = withThing(edited, "L2", { seen: "off" });
  // The step before, brought up to date with what came in: this is what an undo goes back to.
  const undone = put(base, theirs, edited);
  assert.equal(undone.plus, null);
  assert.equal(undone.leds[1].seen, "off");
});

test("the steps of undo are brought up to date with what comes in", () => {
  const store = createStore({ job: base, led: "L2" });
  store.edit(withEntry(base, "plus", [9, 9]));
  store.edit(withThing(store.get().job, "L1", { seen: "dim" }));
  const agreed = store.get().job;
  const theirs = withThing(agreed, "L2", { seen: "off" });
  store.rebase((one) => put(one, theirs, agreed), (job) => ({ led: job.leds[0].id }));
  assert.deepEqual([store.get().led, store.get().job.leds[1].seen], ["L1", "off"]);
  store.undo();
  store.undo();
  assert.deepEqual([store.get().job.plus, store.get().job.leds.map((one) => one.seen)], [null, [null, "off"]]);
  store.redo();
  assert.deepEqual([store.get().job.plus, store.get().job.leds[1].seen], [[9, 9], "off"]);
});

test("what the other phone has changed is told by name", () => {
  const theirs = { ...withThing(withEntry(base, "plus", [9, 9]), "L2", { seen: "off" }), cuts: [{ points: [[1, 1]] }] };
  const told = changedThings(base, change(theirs, 0, { taps: [] }));
  assert.deepEqual(told.map((one) => one.name || one.kind), ["pink", "plus", "L2", "cuts"]);
  assert.deepEqual(changedThings(base, turned(base)), []);
});

test("whatever two phones do, both end alike and neither loses a tap", () => {
  let seed = 7;
  const random = (n) => (seed = (seed * 48271) % 2147483647) % n; // Lehmer's generator, Park and Miller 1988
  let taps = 0;
  const edit = (job) => {
    const at = [(taps += 1) + 1000, random(500)];
    const kind = random(4);
    if (kind === 0) return { ...job, leds: [...job.leds, led(`L${job.leds.length + 1}`, at, [at[0], at[1] + 1])] };
    if (kind === 1) return change(job, 0, { taps: [...job.palette[0].taps, at] });
    if (kind === 2) return { ...job, cuts: [...(job.cuts ?? []), { points: [at, [0, 0]] }] };
    return { ...job, palette: [...job.palette, { name: `d${at[0]}`, role: "table", taps: [at], rgb: null }] };
  };
  const server = { job: base, revision: 1 };
  const phones = [0, 1].map(() => ({ job: base, base, revision: 1 }));
  const sync = (phone) => {
    if (phone.revision !== server.revision) {
      Object.assign(phone, { job: put(phone.job, server.job, phone.base), base: server.job, revision: server.revision });
    }
    if (same(phone.job, server.job)) return;
    Object.assign(server, { job: phone.job, revision: server.revision + 1 });
    Object.assign(phone, { base: phone.job, revision: server.revision });
  };
  for (let n = 0; n < 60; n += 1) {
    const phone = phones[random(2)];
    phone.job = edit(phone.job);
    if (random(3) === 0) sync(phones[random(2)]);
  }
  phones.concat(phones).forEach(sync);
  assert.ok(same(phones[0].job, phones[1].job));
  const text = JSON.stringify(server.job);
  for (let n = 1; n <= taps; n += 1) assert.ok(text.includes(`[${n + 1000},`), `tap ${n}`);
  assert.equal(new Set(server.job.leds.map((one) => one.id)).size, server.job.leds.length);
});
