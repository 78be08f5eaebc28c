// What two phones change of one sculpture at once: both is kept, or somebody is asked.
import assert from "node:assert/strict";
import test from "node:test";

const at = (name) => new URL(`../../api/static/js/${name}`, import.meta.url);
const { createBothKept } = await import(at("rooms/both-kept.js"));
const { Refused } = await import(at("server.js"));

/** A server that keeps one entry, as `api/routes/sculptures.py` does. */
function server(entry) {
  const here = {
    kept: { entry, revision: 1 },
    send: async (told, after) => {
      if (after !== here.kept.revision) throw new Refused("quicker", 409, { kept: here.kept });
      here.kept = { entry: told, revision: after + 1 };
      return here.kept;
    },
  };
  return here;
}

const FIRST = { title: "", maker: "", overlay: true };

test("two phones change two fields: both are kept", async () => {
  const here = server(FIRST);
  const [one, other] = [createBothKept(here.kept, here.send), createBothKept(here.kept, here.send)];
  await one.put({ ...FIRST, title: "Owl" });
  await other.put({ ...FIRST, maker: "Moth" });
  assert.deepEqual(here.kept.entry, { title: "Owl", maker: "Moth", overlay: true });
  assert.deepEqual([one.merged, other.merged], [false, true]);
});

test("two phones change the same field: somebody is asked, and what they choose is kept", async () => {
  const here = server(FIRST);
  const [one, other] = [createBothKept(here.kept, here.send), createBothKept(here.kept, here.send)];
  await one.put({ ...FIRST, title: "Owl" });
  await assert.rejects(other.put({ ...FIRST, title: "Newt" }), (error) => error.told.kept.entry.title === "Owl");
  assert.equal(here.kept.entry.title, "Owl");
  await other.put({ ...FIRST, title: "Newt" });
  assert.equal(here.kept.entry.title, "Newt");
});

test("an answer that was lost is no other phone", async () => {
  const here = server(FIRST);
  const one = createBothKept(here.kept, here.send);
  await here.send({ ...FIRST, title: "Owl" }, 1);
  const kept = await one.put({ ...FIRST, title: "Owl" });
  assert.equal(kept.entry.title, "Owl");
});

test("fields that were not touched here are never sent back old", async () => {
  const here = server(FIRST);
  const one = createBothKept(here.kept, here.send);
  await here.send({ ...FIRST, maker: "Moth" }, 1);
  await one.put({ ...FIRST, title: "Owl" }); // the page still shows no maker
  await one.put({ ...FIRST, title: "Owls" });
  assert.deepEqual(here.kept.entry, { title: "Owls", maker: "Moth", overlay: true });
});

test("what the server refuses otherwise is told on", async () => {
  const one = createBothKept({ entry: FIRST, revision: 1 }, async () => {
    throw new Refused("too long", 422, {});
  });
  await assert.rejects(one.put({ ...FIRST, title: "x" }), /too long/);
});
