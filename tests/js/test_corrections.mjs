// Size, corrections and lines drawn by hand, as the job keeps them and the case tells them.
import assert from "node:assert/strict";
import test from "node:test";

const js = new URL("../../api/static/js/", import.meta.url);
const job = await import(new URL("job.js", js));
const lines = await import(new URL("lines.js", js));

const sized = (size) => ({ ...job.emptyJob(), size: { kind: "points", points: [], mm: null, ...size } });
const [a, b, c, d] = [[0, 0], [90, 0], [90, 50], [0, 50]];

test("every kind of size becomes the public scale, and only when it is whole", () => {
  assert.deepEqual(job.scaleOf(sized({ kind: "mat" })), { mat: true });
  assert.deepEqual(job.scaleOf(sized({ kind: "card", points: [a, b] })), { card: [a, b] });
  assert.deepEqual(job.scaleOf(sized({ kind: "card", points: [a, b, c, d] })), { card: [a, b, c, d] });
  assert.equal(job.scaleOf(sized({ kind: "card", points: [a, b, c] })), null);
  assert.deepEqual(job.scaleOf(sized({ kind: "coin", points: [a, b], mm: 23 })), { coin: [a, b], mm: 23 });
  assert.equal(job.scaleOf(sized({ kind: "coin", points: [a, b] })), null);
  assert.deepEqual(job.scaleOf(sized({ points: [a, b], mm: 40 })), { points: [a, b], mm: 40 });
  const corners = { kind: "corners", points: [a, b, c, d], sides_mm: [297, 210] };
  assert.deepEqual(job.scaleOf(sized(corners)), { corners: [a, b, c, d], sides_mm: [297, 210] });
  assert.equal(job.scaleOf(sized({})), null);
});

test("a scale that comes with a case stays as it was told", () => {
  const told = (scale) => job.fromCase({ palette: [], scale });
  for (const scale of [{ mat: true }, { card: [a, b] }, { coin: [a, b], mm: 23 }, { points: [a, b], mm: 9 },
    { corners: [a, b, c, d], sides_mm: [2, 1] }, { mm_per_px: 0.1 }]) {
    assert.deepEqual(job.scaleOf(told(scale)), scale);
  }
  const anew = { ...told({ mm_per_px: 0.1 }), size: { kind: "coin", points: [a, b], mm: 23 } };
  assert.deepEqual(job.scaleOf(anew), { coin: [a, b], mm: 23 });
});

const stroke = (as) => ({ as, points: [a, b], width_mm: 4 });
const pink = { name: "pink", role: "conductive", taps: [[1, 1]], rgb: null };
const corrected = { ...job.emptyJob(), palette: [pink], strokes: [stroke("pink"), stroke("table"), stroke("not-dough")],
  cuts: [{ points: [a, c] }], joins: [{ points: [b, d] }] };

test("corrections go into the case, come back from it, and leave nothing behind once undone", () => {
  const told = job.toCase(corrected, "photo");
  assert.deepEqual([told.strokes, told.cuts, told.joins], [corrected.strokes, corrected.cuts, corrected.joins]);
  const back = job.fromCase(told);
  assert.deepEqual(job.correctionsOf(back), job.correctionsOf(corrected));
  const undone = job.toCase({ ...back, strokes: [], cuts: [], joins: [] }, "photo");
  assert.deepEqual([undone.strokes, undone.cuts, undone.joins], [undefined, undefined, undefined]);
});

test("a stroke follows its dough when that is renamed, and is not told without it", () => {
  const rose = job.renamed(corrected, 0, "rose");
  assert.deepEqual(job.correctionsOf(rose).strokes.map((one) => one.as), ["rose", "table", "not-dough"]);
  assert.deepEqual([rose.palette[0].id, job.renamed(rose, 0, "red").palette[0].id], ["pink", "pink"]);
  const gone = { ...corrected, palette: [] };
  assert.deepEqual(job.correctionsOf(gone).strokes.map((one) => one.as), ["table", "not-dough"]);
});

test("corrections move with the photo", () => {
  const half = job.scaled(corrected, 0.5);
  assert.deepEqual(half.strokes[0].points, [[0, 0], [45, 0]]);
  assert.deepEqual([half.cuts[0].points[1], half.joins[0].points[0]], [[45, 25], [45, 0]]);
  assert.equal(half.strokes[0].width_mm, 4);
});

test("on the mat a dough needs no tap, and keeps its pad", () => {
  const onPad = { name: "sky", role: "insulating", taps: [], rgb: null, pad: 4 };
  const told = { ...job.emptyJob(), palette: [pink, onPad] };
  assert.deepEqual(job.paletteOf(told).map((one) => one.name), ["pink"]);
  const onMat = job.paletteOf({ ...told, size: { kind: "mat", points: [], mm: null } });
  assert.deepEqual(onMat[1], { name: "sky", role: "insulating", taps: [], pad: 4 });
});

test("a job kept by an older page has all fields", () => {
  assert.deepEqual(job.wholeJob({ palette: [pink] }).cuts, []);
});

test("a line keeps its corners and loses what lies on the way", () => {
  const drawn = [...Array(101).keys()].map((x) => [x, 0]).concat([...Array(51).keys()].map((y) => [100, y]));
  assert.deepEqual(lines.simplified(drawn, 0.5), [[0, 0], [100, 0], [100, 50]]);
});

test("no point that was left out lies farther off than was allowed", () => {
  const wave = [...Array(400).keys()].map((x) => [x, 20 * Math.sin(x / 25)]);
  const few = lines.simplified(wave, 1);
  assert.ok(few.length < 60);
  const off = (p) => Math.min(...few.slice(1).map((q, i) => lines.offSegment(p, few[i], q)));
  assert.ok(Math.max(...wave.map(off)) <= 1);
});

test("however long a scribble is, 500 points are sent at most", () => {
  const scribble = [...Array(20_000).keys()].map((i) => [i / 10, (i % 2 ? 1 : -1) * ((i * 37) % 101)]);
  const sent = lines.bounded(scribble, 1);
  assert.ok(sent.length <= lines.MOST_POINTS && sent.length > 2);
  assert.deepEqual([sent[0], sent.at(-1)], [scribble[0], scribble.at(-1)]);
  assert.equal(lines.lengthOf([[0, 0], [3, 4], [3, 14]]), 15);
});
