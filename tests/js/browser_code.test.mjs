// The parts of the page that need no browser: geometry, store, job, names.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

const js = new URL("../../api/static/js/", import.meta.url);
const geo = await import(new URL("geometry.js", js));
const { createStore } = await import(new URL("store.js", js));
const job = await import(new URL("job.js", js));
const names = await import(new URL("dough-names.js", js));
const plans = await import(new URL("screens/plans.js", js));
const words = await import(new URL("words.js", js));
words.speak(JSON.parse(readFileSync(new URL("../../api/language/page.en.json", import.meta.url))));

const near = (a, b) => a.forEach((v, i) => assert.ok(Math.abs(v - b[i]) < 1e-9, `${a} is not ${b}`));
const size = { w: 300, h: 200 };
const view = { x: 100, y: 50, w: 600, h: 400 };

test("screen and photo points undo each other", () => {
  near(geo.toPhoto(view, size, [0, 0]), [100, 50]);
  near(geo.toPhoto(view, size, [300, 200]), [700, 450]);
  near(geo.toScreen(view, size, geo.toPhoto(view, size, [37, 91])), [37, 91]);
});

test("a fitted view has the shape of the screen, the same middle, and holds the content", () => {
  const box = geo.fit({ x: 0, y: 0, w: 100, h: 400 }, size);
  near([box.w / box.h], [size.w / size.h]);
  near([box.x + box.w / 2, box.y + box.h / 2], [50, 200]);
  assert.ok(box.w >= 100 && box.h >= 400);
});

test("zooming keeps the point under the pointer", () => {
  const at = [250, 300];
  const before = geo.toScreen(view, size, at);
  near(geo.toScreen(geo.zoomAt(view, at, 2.5), size, at), before);
});

test("a pinch keeps both fingers on their places in the photo", () => {
  const before = [[100, 100], [200, 100]];
  const after = [[60, 120], [260, 120]];
  const next = geo.pinched(view, size, before, after);
  near(geo.toPhoto(next, size, after[0]), geo.toPhoto(view, size, before[0]));
  near(geo.toPhoto(next, size, after[1]), geo.toPhoto(view, size, before[1]));
});

test("the view never leaves the photo", () => {
  const photo = { w: 800, h: 600 };
  const box = geo.clamped({ x: -500, y: 900, w: 300, h: 200 }, photo, size);
  assert.ok(box.x >= 0 && box.y >= 0 && box.x + box.w <= 800 && box.y + box.h <= 600);
  const out = geo.clamped({ x: 0, y: 0, w: 9000, h: 6000 }, photo, size);
  near([out.h], [600]);
});

test("inside follows the even-odd rule", () => {
  const ell = [[0, 0], [10, 0], [10, 4], [4, 4], [4, 10], [0, 10]];
  assert.ok(geo.inside(ell, [2, 8]));
  assert.ok(!geo.inside(ell, [8, 8]));
});

test("the nearest spot within reach is caught, none beyond", () => {
  const spots = [{ key: "a", at: [100, 50] }, { key: "b", at: [120, 50] }];
  assert.equal(geo.nearest(spots, [9, 0], 12, view, size).key, "b");
  assert.equal(geo.nearest(spots, [60, 60], 12, view, size), null);
});

test("the loupe stays in the picture, on the side away from the hand", () => {
  for (const at of [[5, 5], [295, 195], [150, 100]]) {
    const [x, y] = geo.loupeAt(at, { w: 400, h: 300 }, 74, "right");
    assert.ok(x >= 74 && x <= 326 && y >= 74 && y <= 226);
  }
  assert.ok(geo.loupeAt([300, 250], { w: 400, h: 300 }, 74, "right")[0] < 300);
  assert.ok(geo.loupeAt([100, 250], { w: 400, h: 300 }, 74, "left")[0] > 100);
});

test("undo takes back edits only, redo brings them again, an edit after undo drops the rest", () => {
  const store = createStore({ job: 0, screen: "a" });
  const seen = [];
  store.subscribe((state) => seen.push(state.job));
  store.edit(1);
  store.set({ screen: "b" });
  store.edit(2);
  store.undo();
  assert.deepEqual(store.get(), { job: 1, screen: "b" });
  store.redo();
  assert.equal(store.get().job, 2);
  store.undo();
  store.edit(3);
  assert.equal(store.canRedo(), false);
  store.undo();
  store.undo();
  store.undo();
  assert.equal(store.get().job, 0);
  assert.deepEqual(seen, [1, 1, 2, 1, 2, 1, 3, 1, 0]);
});

test("entries are asked for in order, and an untouched LED is not needed", () => {
  let one = job.emptyJob();
  assert.equal(job.nextTarget(one), "plus");
  for (const key of ["plus", "minus", "L1.long_leg"]) one = job.withEntry(one, key, [1, 2]);
  assert.equal(job.lacking(one), "L1.short_leg");
  one = job.withEntry(one, "L1.short_leg", [3, 4]);
  one = { ...one, leds: [...one.leds, job.newLed(one.leds)] };
  assert.equal(one.leds[1].id, "L2");
  assert.equal(job.nextTarget(one), "L2.long_leg");
  assert.equal(job.lacking(one), null);
  assert.equal(job.countTaps(one), 4);
});

test("a case comes out as it went in, with what was measured", () => {
  const told = {
    schema: "doughsight-case/1",
    palette: [{ name: "pink", role: "conductive", taps: [[1, 1]] }],
    scale: { points: [[0, 0], [9, 0]], mm: 85.6 },
    pack: { cells: 4, plus: [1, 2], minus: [3, 4], internal_ohm: 1.2 },
    leds: [{ id: "L1", colour: "blue", long_leg: [5, 6], short_leg: [7, 8], seen: "off", model: { n: 2 } }],
    materials: { pink: { resistivity_ohm_m: 0.3 } },
  };
  const out = job.toCase(job.fromCase(told), "abc");
  assert.deepEqual(out, { ...told, photo: "abc" });
  const changed = job.withThing(job.fromCase(told), "L1", { colour: "red" });
  assert.equal(job.toCase(changed, "abc").leds[0].model, undefined);
});

test("scaling moves every place alike", () => {
  const one = job.withEntry(job.emptyJob(), "plus", [10, 20]);
  assert.deepEqual(job.scaled(one, 0.5).plus, [5, 10]);
  assert.equal(job.scaled(one, 0.5).minus, null);
});

test("an LED may still be asked which leg is the long one; nothing of that goes into the case", () => {
  let one = job.emptyJob();
  for (const key of job.targets(one)) one = job.withEntry(one, key, [key.length, 2]);
  one = job.withThing(one, "L1", { order: "ask" });
  assert.equal(job.lacking(one), "L1.order");
  assert.equal("order" in job.toCase(one, "p").leds[0], false);
  const [long, short] = [job.entryAt(one, "L1.long_leg"), job.entryAt(one, "L1.short_leg")];
  const round = job.turnedRound(one, "L1");
  assert.deepEqual([job.entryAt(round, "L1.long_leg"), job.entryAt(round, "L1.short_leg")], [short, long]);
  assert.equal(job.lacking(round), null);
  assert.equal(job.lacking(job.withThing(one, "L1", { order: "guess" })), null);
});

test("a part is tapped at both ends; half of one is asked for, an untouched one is not and stays out", () => {
  let one = job.emptyJob();
  for (const key of job.targets(one)) one = job.withEntry(one, key, [key.length, 2]);
  const wire = job.newPart(one, "wire");
  one = { ...one, parts: [wire] };
  assert.equal(job.newPart(one, "wire").id, "W2");
  assert.equal(job.newPart(one, "switch").closed, true);
  assert.equal(job.nextTarget(one), "W1.a");
  assert.equal(job.lacking(one), null);
  assert.equal("parts" in job.toCase(one, "p"), false);
  one = job.withEntry(one, "W1.a", [7, 8]);
  assert.equal(job.lacking(one), "W1.b");
  one = job.withEntry(one, "W1.b", [9, 10]);
  assert.deepEqual(job.toCase(one, "p").parts, [{ id: "W1", kind: "wire", a: [7, 8], b: [9, 10] }]);
  assert.deepEqual(job.without(one, "W1").parts, []);
});

test("wires and corrections of a case that is opened are kept, and move along", () => {
  const wire = { id: "W1", kind: "wire", a: [10, 20], b: [30, 40] };
  const cut = { points: [[2, 4], [6, 8]] };
  const told = { palette: [], pack: { plus: [1, 1], minus: [3, 3], kind: "block" }, parts: [wire], cuts: [cut] };
  const whole = job.toCase(job.fromCase(told), "photo");
  assert.deepEqual(whole.parts, [wire]);
  assert.deepEqual(whole.pack, told.pack);
  const half = job.toCase(job.scaled(job.fromCase(told), 0.5), "photo");
  assert.deepEqual(half.parts, [{ ...wire, a: [5, 10], b: [15, 20] }]);
  assert.deepEqual(half.cuts, [{ points: [[1, 2], [3, 4]] }]);
});

test("names are near the colour and never given twice", () => {
  assert.equal(names.suggestName([240, 155, 170], []), "pink");
  assert.notEqual(names.suggestName([240, 155, 170], ["pink"]), "pink");
  assert.ok(names.apart([255, 255, 255], [0, 0, 0]) > 99);
});

const CUT = { action: "cut", parts: [], line: [[1, 2], [3, 4]], do: "Cut here." };
const TURN = { action: "turn", parts: ["L2"], line: null, do: "Turn L2 round." };
const LEAD = { action: "move", parts: ["pack.plus"], line: null, do: "Move the red lead." };
const remedy = (rank, ...steps) => ({ rank, steps, do: steps.map((step) => step.do).join(" "), then: {}, seconds: 20 });

test("a plan is looked at on Do only, and a new answer begins with the first one, now", () => {
  const inspection = { id: "i", report: { remedies: [remedy(1, CUT), remedy(2, TURN)] } };
  const state = { inspection, finding: 0, level: "do", picked: { of: "i", rank: 2, when: "then" } };
  assert.deepEqual(plans.planOf(state), { plan: inspection.report.remedies[1], when: "then" });
  const anew = { ...state, inspection: { ...inspection, id: "j" } };
  assert.deepEqual(plans.planOf(anew), { plan: inspection.report.remedies[0], when: "now" });
  for (const kept of [{ level: "ask" }, { level: "look" }, { finding: 1 }, { inspection: null }]) {
    assert.deepEqual(plans.planOf({ ...state, ...kept }), { plan: null, when: "now" });
  }
});

test("what comes after is named by what is done", () => {
  const named = [[CUT], [TURN, TURN], [CUT, TURN], [CUT, TURN, LEAD], [{ ...CUT, action: "swap-pack" }]];
  assert.deepEqual(named.map((steps) => plans.afterWords(remedy(1, ...steps))),
    ["After the cut", "After the turns", "After both steps", "After all steps", "Afterwards"]);
});

test("the finding speaks for a plan that does just what it says", () => {
  const found = { do: "Cut here, 13 mm long.", cut: [[1, 2], [3, 4]], parts: ["pack"] };
  assert.equal(plans.planWords(remedy(1, CUT), found), found.do);
  assert.equal(plans.planWords(remedy(1, { ...CUT, line: [[9, 9], [3, 4]] }), found), "Cut here.");
  assert.equal(plans.planWords(remedy(1, TURN), { ...found, parts: ["L1"] }), "Turn L2 round.");
  assert.equal(plans.planWords(remedy(1, CUT, TURN, LEAD), found), "Cut here. Then 2 more steps.");
});

test("the pack is unplugged first for a cut or a lead, unless the alarm says so already", () => {
  const calm = { findings: [{ level: "fix" }] };
  assert.deepEqual([CUT, TURN, LEAD].map((step) => plans.unplugsFirst(calm, remedy(1, step))), [true, false, true]);
  assert.equal(plans.unplugsFirst({ findings: [{ level: "stop" }] }, remedy(1, CUT)), false);
  assert.equal(plans.unplugsFirst(calm, null), false);
});

test("words are filled in, plurals and lists as the language has them", () => {
  assert.equal(words.say("plan_more", { n: 1 }), "Then one more step.");
  assert.equal(words.say("plan_more", { n: 3 }), "Then 3 more steps.");
  assert.equal(words.say("plan_then_bright", { ids: ["L1", "L2"] }), "L1 and L2 bright");
  assert.equal(words.figure(1234.5, 1), "1,234.5");
});
