// The worker's protocol, with the worker's own lines but for the worker.
import assert from "node:assert/strict";
import test from "node:test";
import { Answerer, FakeDisk, FolderTaken, RemoteCore, decode, encode, keepSheet, module, note, sameRandom, startMs } from "./support.mjs";

/// Carries messages as a browser does: copied, later, in order.
function stage(folders) {
  const answerer = new Answerer({
    module: async (wasm) => wasm,
    folder: async (name) => {
      const found = folders[name];
      if (!found) throw new FolderTaken();
      return found.folder();
    },
    clockAndRandom: { now: () => startMs, random: sameRandom },
  });
  const worker = {
    ended: false,
    onmessage: null,
    onerror: null,
    postMessage(question) {
      answerer
        .answer(question.wasm ? question : structuredClone(question))
        .then((answer) => worker.onmessage({ data: structuredClone(answer) }));
    },
    terminate: () => (worker.ended = true),
  };
  return worker;
}

test("the page asks, the worker answers in order", async () => {
  const worker = stage({ ledger: new FakeDisk() });
  const core = new RemoteCore(worker);
  const opened = core.open(module, "ledger");
  const sheet = core.call(keepSheet()); // before the opening is done
  const noted = core.call(note("through the worker"));
  assert.match(await opened, /^\d+\.\d+\.\d+$/);
  assert.match(decode(await sheet), /Otter Bend/);
  assert.match(decode(await noted), /recorded \{/);
  const before = await core.poll();
  await core.call(note("once more"));
  assert.ok((await core.poll()) > before);
  await core.close();
  assert.ok(worker.ended);
});

test("what fails in the worker fails on the page by its name", async () => {
  const core = new RemoteCore(stage({}));
  await assert.rejects(core.call(encode("saving {}")), /open the core first/);
  await assert.rejects(core.open(module, "ledger"), { name: "FolderTaken" });
  assert.match(await core.open(module), /\d/); // a second try may be without a folder
});

test("a worker that ends takes every open question with it", async () => {
  const silent = { onmessage: null, onerror: null, postMessage() {}, terminate() {} };
  const remote = new RemoteCore(silent);
  const waiting = remote.call(encode("saving {}"));
  silent.onerror({ message: "out of memory" });
  await assert.rejects(waiting, { name: "CoreDied", message: "out of memory" });
  await assert.rejects(remote.poll(), { name: "CoreDied" });
});
