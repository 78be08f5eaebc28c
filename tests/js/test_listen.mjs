/** A room's ear: it notices silence, comes back by itself, and knows when it is put out. */

import assert from "node:assert/strict";
import { beforeEach, mock, test } from "node:test";

/** @type {any[]} */ let streams;
/** @type {{status: number, body: any} | null} */ let answer;
/** @type {Record<string, () => void>} */ let told;
/** @type {any[]} */ let heard;
/** @type {[string, string][]} */ let states;

class Stream {
  constructor(address) {
    Object.assign(this, { address, on: {}, open: true });
    streams.push(this);
  }

  addEventListener(kind, act) {
    this.on[kind] = act;
  }

  close() {
    this.open = false;
  }

  tell(kind, data = 1) {
    this.on[kind]({ data: JSON.stringify(data) });
  }
}

const listenTo = (name, act) => (told[name] = act);
globalThis.EventSource = Stream;
globalThis.document = { hidden: false, documentElement: { dir: "ltr", lang: "en" }, getElementById: () => null, addEventListener: listenTo };
globalThis.addEventListener = listenTo;
globalThis.fetch = async () => {
  if (!answer) throw new TypeError("no network");
  return new Response(JSON.stringify(answer.body), { status: answer.status });
};
told = {};
const { listen } = await import("../../api/static/js/rooms/listen.js");

const settled = async () => {
  for (let n = 0; n < 20; n += 1) await Promise.resolve();
  await new Promise((resolve) => setImmediate(resolve));
};

beforeEach(() => {
  mock.timers.reset();
  mock.timers.enable({ apis: ["setTimeout"] });
  [streams, told, heard, states, answer] = [[], {}, [], [], null];
  listen("../workshops/w", { heard: (one) => heard.push(one.at_ms), changed: (...now) => states.push(now) });
});

test("what is pushed is heard, and who hears is live", () => {
  assert.equal(streams[0].address, "../workshops/w/events");
  streams[0].tell("queue", { at_ms: 1 });
  streams[0].tell("queue", { at_ms: 2 });
  assert.deepEqual(heard, [1, 2]);
  assert.deepEqual(states, [["live", ""]]);
});

test("what comes too late is not heard", () => {
  streams[0].tell("queue", { at_ms: 5 });
  streams[0].tell("queue", { at_ms: 3 });
  assert.deepEqual(heard, [5]);
});

test("a stream that falls silent is not live, and is opened anew as soon as the server answers", async () => {
  streams[0].tell("queue", { at_ms: 1 });
  mock.timers.tick(11_000);
  streams[0].tell("still");
  mock.timers.tick(11_000);
  assert.equal(states.length, 1); // it was there all the time
  mock.timers.tick(2_000);
  assert.deepEqual(states.at(-1), ["lost", ""]);
  assert.equal(streams[0].open, false);
  mock.timers.tick(2_000);
  await settled();
  assert.equal(streams.length, 1); // there is no network yet
  answer = { status: 200, body: { at_ms: 1 } };
  mock.timers.tick(2_000);
  await settled();
  assert.equal(streams.length, 2);
  streams[1].tell("queue", { at_ms: 9 });
  assert.deepEqual(states.at(-1), ["live", ""]);
});

for (const status of [401, 403, 404]) {
  test(`who is put out (${status}) is told so, and asks no more`, async () => {
    streams[0].tell("queue", { at_ms: 1 });
    answer = { status, body: { error: "This needs a code." } };
    streams[0].tell("out");
    await settled();
    assert.deepEqual(states.at(-1), ["out", "This needs a code."]);
    told.visibilitychange();
    mock.timers.tick(60_000);
    await settled();
    assert.equal(streams.length, 1);
  });
}

test("an error of the server is no reason to give up", async () => {
  answer = { status: 503, body: { error: "It is being stopped." } };
  streams[0].onerror();
  mock.timers.tick(2_000);
  await settled();
  assert.deepEqual(states.at(-1), ["lost", ""]);
  answer = { status: 200, body: { at_ms: 1 } };
  mock.timers.tick(2_000);
  await settled();
  assert.equal(streams.length, 2);
});

test("a phone that wakes up without a network comes back with it at once", async () => {
  streams[0].onerror();
  answer = { status: 200, body: { at_ms: 1 } };
  told.online();
  await settled();
  assert.equal(streams.length, 2);
});
