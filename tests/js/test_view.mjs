// The arithmetic of a view that is turned: what the fingers hold stays under them.
import assert from "node:assert/strict";
import test from "node:test";

const geo = await import(new URL("../../api/static/js/geometry.js", import.meta.url));

const near = (a, b) => a.forEach((v, i) => assert.ok(Math.abs(v - b[i]) < 1e-9, `${a} is not ${b}`));
const size = { w: 300, h: 200 };
const photo = { w: 2000, h: 1500 };
const TURNS = [0, 33, 90, 180, 270, 301.5];
const view = (turn) => ({ x: 700, y: 500, w: 600, h: 400, turn });

test("screen and photo points undo each other at every angle", () => {
  for (const turn of TURNS) near(geo.toScreen(view(turn), size, geo.toPhoto(view(turn), size, [37, 91])), [37, 91]);
});

test("seen a quarter clockwise, the left of the photo is on top", () => {
  const [x, y] = geo.toScreen(view(90), size, [900, 700]); // 100 px left of the middle
  near([x, y], [150, 50]);
});

test("a pinch with a twist keeps both fingers on their places in the photo", () => {
  for (const turn of TURNS) {
    const before = [[100, 100], [200, 100]];
    const after = [[90, 150], [170, 20]];
    const next = geo.pinched(view(turn), size, before, after);
    near(geo.toPhoto(next, size, after[0]), geo.toPhoto(view(turn), size, before[0]));
    near(geo.toPhoto(next, size, after[1]), geo.toPhoto(view(turn), size, before[1]));
  }
});

test("turning and zooming about a place leave it where it is on the screen", () => {
  const at = [760, 610];
  for (const turn of TURNS) {
    const was = geo.toScreen(view(20), size, at);
    near(geo.toScreen(geo.turnedAbout(view(20), at, turn), size, at), was);
    near(geo.toScreen(geo.zoomAt(view(turn), at, 2.5), size, at), geo.toScreen(view(turn), size, at));
  }
});

test("a pan moves the photo with the finger at every angle", () => {
  for (const turn of TURNS) {
    const [x, y] = geo.toScreen(view(turn), size, [900, 700]);
    near(geo.toScreen(geo.panned(view(turn), size, [12, -7]), size, [900, 700]), [x + 12, y - 7]);
  }
});

test("what is fitted is seen whole at every angle, and fills the screen one way", () => {
  const box = { x: 300, y: 200, w: 900, h: 120 };
  const corners = [[300, 200], [1200, 200], [1200, 320], [300, 320]];
  for (const turn of TURNS) {
    const seen = corners.map((at) => geo.toScreen(geo.fit(box, size, turn), size, at));
    const [xs, ys] = [seen.map((p) => p[0]), seen.map((p) => p[1])];
    const [w, h] = [Math.max(...xs) - Math.min(...xs), Math.max(...ys) - Math.min(...ys)];
    assert.ok(Math.min(...xs, ...ys) > -1e-9 && Math.max(...xs) < size.w + 1e-9 && Math.max(...ys) < size.h + 1e-9);
    near([Math.max(w / size.w, h / size.h)], [1]);
  }
});

test("a view never leaves the photo, whichever way round", () => {
  for (const turn of TURNS) {
    for (const [x, y] of [[-5000, 0], [9000, 9000], [0, -700]]) {
      const held = geo.clamped({ ...view(turn), x, y }, photo, size);
      const mid = geo.centre(held);
      assert.ok(mid[0] >= 0 && mid[0] <= 2000 && mid[1] >= 0 && mid[1] <= 1500);
    }
  }
  const box = geo.clamped({ x: -400, y: 1400, w: 300, h: 200, turn: 90 }, photo, size);
  const seen = geo.seenBox(box);
  assert.ok(seen.x >= -1e-9 && seen.y + seen.h <= 1500 + 1e-9);
});

test("angles near a quarter turn become it, others stay", () => {
  assert.deepEqual([5, -7, 352.5, 98, 99, 45, 262].map(geo.snapped), [0, 0, 0, 90, 99, 45, 270]);
});

test("quarter by quarter, from any angle", () => {
  assert.deepEqual([0, 33, 90, 270, 350].map((turn) => geo.nextQuarter(turn, 1)), [90, 90, 180, 0, 0]);
  assert.deepEqual([0, 33, 90].map((turn) => geo.nextQuarter(turn, -1)), [270, 0, 0]);
});

test("the box seen: exact at quarters, else wholly on the screen", () => {
  assert.deepEqual(geo.seenBox(view(0)), { x: 700, y: 500, w: 600, h: 400 });
  const quarter = geo.seenBox(view(90));
  near([quarter.x, quarter.y, quarter.w, quarter.h], [800, 400, 400, 600]);
  const { x, y, w, h } = geo.seenBox(view(30));
  for (const at of [[x, y], [x + w, y], [x + w, y + h], [x, y + h]]) {
    const [sx, sy] = geo.toScreen(view(30), size, at);
    assert.ok(sx >= -1e-9 && sx <= size.w + 1e-9 && sy >= -1e-9 && sy <= size.h + 1e-9);
  }
});

test("without its foot a view shows the upper part of the screen", () => {
  for (const turn of TURNS) {
    const short = geo.withoutFoot(view(turn), size, 50);
    near(geo.toPhoto(short, { w: 300, h: 150 }, [40, 60]), geo.toPhoto(view(turn), size, [40, 60]));
  }
});

test("the loupe never lies on its spot, and flips at the edges", () => {
  for (const w of [240, 300, 360, 800]) {
    for (let x = 0; x <= w; x += 20) {
      for (const hand of ["right", "left"]) {
        for (let y = 0; y <= 300; y += 20) {
          const at = geo.loupeAt([x, y], { w, h: 300 }, 74, hand);
          assert.ok(geo.distance(at, [x, y]) > 70, `${x} ${y} in ${w}`);
          assert.ok(at[0] >= 74 && at[0] <= w - 74 && at[1] >= 74 && at[1] <= 226);
        }
      }
    }
  }
});
