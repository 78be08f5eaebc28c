// What is typed in a room is kept by itself: one change after the other, and never over another page's.
import assert from "node:assert/strict";
import { mock, test } from "node:test";

import { createSaving } from "../../api/static/js/rooms/saving.js";
import { Refused, Unreachable } from "../../api/static/js/server.js";

const settled = async () => {
  for (let i = 0; i < 9; i += 1) await Promise.resolve();
};

/** A server that keeps one entry; `next` may refuse the next request. */
function server() {
  const told = {
    kept: { entry: { name: "a" }, revision: 1 },
    /** @type {string[]} */ asked: [],
    /** @type {((entry: any) => void) | null} */ next: null,
    put: async (/** @type {any} */ entry, /** @type {number} */ after) => {
      told.asked.push(entry.name);
      const { next } = told;
      told.next = null;
      next?.(entry);
      if (after !== told.kept.revision) throw new Refused("quicker", 409, { workshop: told.kept });
      told.kept = { entry, revision: after + 1 };
      return told.kept;
    },
  };
  return told;
}

function page() {
  const told = server();
  const saving = createSaving({ kept: told.kept, put: told.put, changed: () => undefined });
  return { told, saving };
}

test.beforeEach(() => mock.timers.enable({ apis: ["setTimeout"] }));
test.afterEach(() => mock.timers.reset());

test("a pause in typing sends the last of it", async () => {
  const { told, saving } = page();
  for (const name of ["b", "bc", "bcd"]) saving.edit({ name });
  assert.equal(saving.state, "soon");
  mock.timers.tick(600);
  await settled();
  assert.deepEqual(told.asked, ["bcd"]);
  assert.equal(saving.state, "kept");
});

test("what is typed while something is on its way follows it", async () => {
  const { told, saving } = page();
  saving.edit({ name: "b" }, true);
  mock.timers.tick(0);
  saving.edit({ name: "c" }, true);
  mock.timers.tick(0);
  await settled();
  mock.timers.tick(0);
  await settled();
  assert.deepEqual(told.asked, ["b", "c"]);
  assert.deepEqual(told.kept, { entry: { name: "c" }, revision: 3 });
});

test("what another page has kept is not written over before somebody says so", async () => {
  const { told, saving } = page();
  told.kept = { entry: { name: "theirs" }, revision: 2 };
  saving.edit({ name: "mine" }, true);
  mock.timers.tick(0);
  await settled();
  assert.equal(saving.state, "quicker");
  saving.edit({ name: "mine, too" });
  mock.timers.tick(9000);
  await settled();
  assert.equal(told.kept.entry.name, "theirs");
  await saving.keepMine();
  assert.deepEqual(told.kept, { entry: { name: "mine, too" }, revision: 3 });
  assert.equal(saving.state, "kept");
});

test("theirs may be taken", async () => {
  const { told, saving } = page();
  told.kept = { entry: { name: "theirs" }, revision: 2 };
  saving.edit({ name: "mine" }, true);
  mock.timers.tick(0);
  await settled();
  saving.takeTheirs();
  assert.equal(saving.entry.name, "theirs");
  saving.edit({ name: "next" }, true);
  mock.timers.tick(0);
  await settled();
  assert.equal(told.kept.entry.name, "next");
});

test("a server out of reach is asked again, and a lost answer is no other page", async () => {
  const { told, saving } = page();
  told.next = (entry) => {
    told.kept = { entry, revision: 2 }; // it arrived, the answer did not
    throw new Unreachable("");
  };
  saving.edit({ name: "b" }, true);
  mock.timers.tick(0);
  await settled();
  assert.equal(saving.state, "unreachable");
  mock.timers.tick(3000);
  await settled();
  assert.equal(saving.state, "kept");
  assert.equal(saving.kept.revision, 2);
});

test("what is refused is said, and the next change is tried", async () => {
  const { told, saving } = page();
  told.next = () => {
    throw new Refused("Too long.", 422);
  };
  saving.edit({ name: "b" }, true);
  mock.timers.tick(0);
  await settled();
  assert.deepEqual([saving.state, saving.said], ["refused", "Too long."]);
  saving.edit({ name: "c" }, true);
  mock.timers.tick(0);
  await settled();
  assert.equal(told.kept.entry.name, "c");
});

for (const order of ["first", "last"]) {
  test(`what is typed while something is on its way is kept though the page goes away: that arrives ${order}`, async () => {
    const told = server();
    const { put } = told;
    /** @type {(() => void)[]} */ const waiting = [];
    told.put = (entry, after) => new Promise((resolve, reject) => waiting.push(() => put(entry, after).then(resolve, reject)));
    const leaving = createSaving({ kept: told.kept, put: told.put, changed: () => undefined });
    leaving.edit({ name: "b" }, true);
    mock.timers.tick(0);
    leaving.edit({ name: "bc" });
    void leaving.leave();
    assert.equal(waiting.length, 3);
    for (const arrive of order === "first" ? waiting : waiting.reverse()) arrive();
    await settled();
    assert.equal(told.kept.entry.name, "bc");
    mock.timers.tick(0);
    await settled();
    waiting.slice(3).forEach((arrive) => arrive());
    await settled();
    assert.deepEqual([leaving.state, told.kept.entry.name], ["kept", "bc"]);
  });
}

test("a page that goes away sends nothing twice", async () => {
  const { told, saving } = page();
  saving.edit({ name: "b" }, true);
  mock.timers.tick(0);
  void saving.leave();
  await settled();
  assert.deepEqual(told.asked, ["b"]);
});
