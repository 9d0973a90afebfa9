// Two phones and a coordinator's, each a core in WebAssembly, through one hub: the device's side of
// the protocol runs in WebAssembly, the hub's natively.
import assert from "node:assert/strict";
import fs from "node:fs";
import test from "node:test";
import { Phone, PipeHub } from "./hub.mjs";
import { FakeDisk, ask, demoSession, encode, history, keepSheet, module, note, openCore, startMs } from "./support.mjs";

const random = (into) => crypto.getRandomValues(into);
const phoneOn = (disk) => openCore({ module, folder: disk.folder(), now: () => startMs, random });

test("two phones sync through a hub: the sheet comes to the second, entries go both ways", async (t) => {
  const hub = new PipeHub();
  t.after(() => hub.close()); // or it would be waited for when something fails
  const all = [];
  const disks = [new FakeDisk(), new FakeDisk()];
  const [first, second] = [
    new Phone(await phoneOn(disks[0]), hub, 0, all),
    new Phone(await phoneOn(disks[1]), hub, 1, all),
  ];
  await first.join("coordinator");
  await first.connect();
  first.core.call(keepSheet());
  await first.pass();
  assert.match(first.state(), /link: "up to date"[^]*at_hub: \d/);

  // Recorded without a network, and before it had joined anything.
  assert.match(ask(second.core, note("from the second, offline")), /recorded|mistakes/);
  await second.join("member");
  await second.connect();
  assert.match(ask(second.core, encode("list_shop {}")), /shop: "Otter Bend/); // came by itself
  const session = `record { session { session_file { name: "s" message: ${demoSession("cedar-boxes")} } } }`;
  assert.match(ask(second.core, encode(session)), /recorded \{/);
  await second.pass();
  assert.match(second.state(), /link: "up to date"/);
  assert.doesNotMatch(second.state(), /saved_here: [1-9]/); // all at the hub
  assert.match(ask(first.core, history), /Nest boxes|cedar/i); // pushed to the live one

  await first.disconnect();
  first.core.call(note("while away"));
  assert.match(first.state(), /saved_here: 1/);
  // The tab is killed and opened again; the entry is still to be sent.
  disks[0].powerCut();
  const reopened = new Phone(await phoneOn(disks[0]), hub, 0, all);
  assert.match(reopened.state(), /saved_here: 1/);
  await reopened.connect();
  assert.doesNotMatch(reopened.state(), /saved_here: [1-9]/);
  assert.match(ask(second.core, encode("standing {}")), /standing \{/);
});
