// The doughs of the day: remembered, proposed, taken; roles that are proposed; rings of the mat.
import assert from "node:assert/strict";
import test from "node:test";

const js = new URL("../../api/static/js/", import.meta.url);
const kept = new Map();
globalThis.localStorage = { getItem: (key) => kept.get(key) ?? null, setItem: (key, value) => kept.set(key, value), removeItem: (key) => kept.delete(key) };
const job = await import(new URL("job.js", js));
const shop = await import(new URL("workshop.js", js));
const doughs = await import(new URL("doughs.js", js));

const pink = { name: "pink", role: "conductive", rgb: [240, 155, 170] };
const sky = { name: "sky", role: "insulating", rgb: [110, 190, 225] };
const tapped = (dough, ...taps) => ({ ...dough, taps });
const withDoughs = (...palette) => ({ ...job.emptyJob(), palette });
const appOf = (state) => {
  let now = { active: 0, adding: false, guessed: [], proposal: null, ...state };
  return { state: () => now, set: (patch) => (now = { ...now, ...patch }), edit: (next) => (now = { ...now, job: next }) };
};

test("doughs are remembered with name, role and colour, and forgotten at once", () => {
  shop.remember([tapped(pink, [1, 2]), tapped(sky), { ...tapped({ name: "odd", role: "table" }), rgb: null }]);
  assert.deepEqual(shop.remembered(), [pink, sky]);
  shop.forgetDoughs();
  assert.deepEqual(shop.remembered(), []);
});

test("what cannot be read is not remembered", () => {
  for (const text of ["{", "7", '[{"name": "pink"}]', "null"]) {
    kept.set("doughsight-doughs", text);
    assert.deepEqual(shop.remembered(), [], text);
  }
});

test("a photo on which something was tapped already keeps its own doughs", () => {
  assert.deepEqual(shop.seeded(job.emptyJob(), [pink]).palette, [tapped(pink)]);
  const own = withDoughs(tapped(sky, [1, 1]));
  assert.equal(shop.seeded(own, [pink]), own);
});

test("a proposal fills in doughs that nobody tapped, and falls where one is", () => {
  const told = withDoughs(tapped(pink, [5, 5]), tapped(sky));
  const proposal = { pink: [[1, 1]], sky: [[2, 2], [3, 3]] };
  assert.deepEqual(shop.withProposal(told, proposal).palette.map((one) => one.taps), [[[5, 5]], [[2, 2], [3, 3]]]);
  assert.deepEqual(shop.standing(told, proposal), { sky: [[2, 2], [3, 3]] });
  assert.equal(shop.standing(withDoughs(tapped(pink, [5, 5])), proposal), null);
  assert.equal(shop.firstOpen(told, null), 1);
  assert.equal(shop.firstOpen(told, proposal), 0);
});

test("a renamed dough keeps what was proposed for it", () => {
  const rose = job.renamed(withDoughs(tapped(pink)), 0, "rose");
  assert.deepEqual(shop.standing(rose, { pink: [[1, 1]] }), { pink: [[1, 1]] });
});

test("rings of the mat go to the doughs of the day that look like them, others are new", () => {
  const rings = [
    { pad: 1, role: "conductive", taps: [[1, 1]], rgb: [80, 150, 90] },
    { pad: 2, role: "conductive", taps: [[2, 2]], rgb: [235, 150, 165] },
    { pad: 4, role: "insulating", taps: [[4, 4]], rgb: [100, 180, 220] },
  ];
  const lime = { name: "lime", role: "conductive", rgb: [90, 160, 90] };
  const { job: next, proposal } = shop.fromMat(withDoughs(tapped(pink), tapped(lime)), { pads: rings, table: [[9, 9]] });
  assert.deepEqual(proposal.pink, [[2, 2]]);
  assert.deepEqual(proposal.lime, [[1, 1]]);
  const [fresh, table] = next.palette.slice(2);
  assert.deepEqual([fresh.role, fresh.pad, proposal[fresh.name]], ["insulating", 4, [[4, 4]]]);
  assert.deepEqual([table.role, proposal.table], ["table", [[9, 9]]]);
});

test("a ring with a dough that was tapped already tells nothing new", () => {
  const ring = { pad: 1, role: "conductive", taps: [[1, 1]], rgb: [238, 150, 168] };
  const { job: next, proposal } = shop.fromMat(withDoughs(tapped(pink, [7, 7])), { pads: [ring], table: [] });
  assert.deepEqual([next.palette.length, proposal], [1, {}]);
});

test("the other role is proposed after the first dough, then the table", () => {
  assert.equal(doughs.nextRole([]), "conductive");
  assert.equal(doughs.nextRole([pink]), "insulating");
  assert.equal(doughs.nextRole([sky]), "conductive");
  assert.equal(doughs.nextRole([pink, sky]), "table");
});

test("one tap says which of two doughs conducts; a role that was told stays", () => {
  const roles = (app) => app.state().job.palette.map((one) => one.role);
  const app = appOf({ job: withDoughs(tapped(pink, [1, 1]), tapped(sky, [2, 2])), guessed: ["pink", "sky"] });
  doughs.setRole(app, 1, "conductive");
  assert.deepEqual(roles(app), ["insulating", "conductive"]);
  doughs.setRole(app, 0, "conductive"); // sky was told: both conduct
  assert.deepEqual(roles(app), ["conductive", "conductive"]);
  assert.deepEqual(app.state().guessed, []);
});

test("doughs that were not found are asked for one after the other", async () => {
  const app = appOf({ job: withDoughs(tapped(pink), tapped(sky)) });
  await doughs.tapDough(app, [1, 1]);
  assert.equal(app.state().active, 1);
  await doughs.tapDough(app, [2, 2]);
  assert.deepEqual(app.state().job.palette.map((one) => one.taps), [[[1, 1]], [[2, 2]]]);
});
