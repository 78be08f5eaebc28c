// When a photo is made smaller before it is sent.
import assert from "node:assert/strict";
import test from "node:test";

const { framed, secondsSaved } = await import(new URL("../../api/static/js/shrink.js", import.meta.url));

const taken = { bytes: 3_500_000, w: 4032, h: 3024, bytesPerS: null, sPerMpx: null };

test("the frame is the one that the server keeps: 3200 on the longer side, never larger than taken", () => {
  assert.deepEqual(framed({ w: 4032, h: 3024 }), { w: 3200, h: 2400 });
  assert.deepEqual(framed({ w: 3024, h: 4032 }), { w: 2400, h: 3200 });
  assert.deepEqual(framed({ w: 3200, h: 100 }), { w: 3200, h: 100 });
  assert.deepEqual(framed({ w: 9000, h: 1 }), { w: 3200, h: 1 });
});

test("a photo that the server keeps as it is is never made smaller", () => {
  assert.equal(secondsSaved({ ...taken, w: 3200, h: 2400, bytes: 30_000_000 }), 0);
});

test("on a slow way it saves time, on a fast one it does not", () => {
  assert.ok(secondsSaved({ ...taken, bytesPerS: 200_000 }) > 5);
  assert.ok(secondsSaved({ ...taken, bytesPerS: 20_000_000 }) < 0);
});

test("a phone that is slow at it sends the photo as it is, and so does one with a small file", () => {
  assert.ok(secondsSaved({ ...taken, bytesPerS: 1_000_000, sPerMpx: 0.5 }) < 0);
  assert.ok(secondsSaved({ ...taken, bytes: 1_200_000, bytesPerS: 100_000 }) < 0);
});

test("a large photo is worth it before anything was measured", () => {
  assert.ok(secondsSaved({ ...taken, bytes: 14_000_000, w: 8064, h: 6048 }) > 5);
});
