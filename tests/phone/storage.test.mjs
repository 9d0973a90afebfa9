// What the core keeps: saved is saved, also when the tab is killed, the power goes or room runs out.
import assert from "node:assert/strict";
import fs from "node:fs";
import test from "node:test";
import { CoreDied, FakeDisk, FolderTaken, NotOpened, ask, built, decode, encode, history, keepSheet, module, nodeFolder, note, openBrowserFolder, openCore, openOn, quoted, sheetIn } from "./support.mjs";

test("what was recorded is there after the tab was killed right after the answer", async () => {
  const folder = nodeFolder();
  try {
    const killed = await openOn(folder);
    assert.match(ask(killed, keepSheet()), /shop: "Otter Bend/);
    assert.match(ask(killed, note("the lamp flickers")), /recorded \{/);
    folder.close(); // nobody closes the core
    const core = await openOn(nodeFolder(folder.directory));
    assert.match(ask(core, history), /the lamp flickers/);
    assert.match(ask(core, encode("list_shop {}")), /otter|bench/i); // and so is the sheet
    core.close();
  } finally {
    fs.rmSync(folder.directory, { recursive: true });
  }
});

test("an answer that says recorded comes after the flush, so that no power cut loses it", async () => {
  const disk = new FakeDisk();
  (await openOn(disk.folder())).call(keepSheet());
  for (let i = 0; i < 25; ++i) {
    disk.powerCut(); // whoever had the files open is gone
    const core = await openOn(disk.folder());
    const kept = ask(core, history);
    for (let earlier = 0; earlier < i; ++earlier) assert.match(kept, new RegExp(`note ${earlier}\\.`));
    const before = disk.flushes;
    assert.match(ask(core, note(`note ${i}.`)), /recorded \{/);
    assert.ok(disk.flushes > before);
    if (i % 5 === 4) core.close(); // folds the log into the file
  }
});

test("with no room left nothing is lost, the answer says so, and with room it goes on", async () => {
  const disk = new FakeDisk();
  const core = await openOn(disk.folder());
  core.call(keepSheet());
  assert.match(ask(core, note("before")), /recorded/);
  disk.room = disk.used();
  let refused;
  for (let i = 0; i < 200 && !refused; ++i) {
    const answer = ask(core, note(`during ${i}`));
    if (!/recorded \{/.test(answer)) refused = { i, answer };
  }
  assert.ok(refused, "room never ran out");
  assert.equal(core.hadNoRoom(), true);
  assert.match(refused.answer, /mistakes \{[^]*full: free some space[^]*what was saved before is safe/);
  disk.room = Infinity;
  assert.match(ask(core, note("after")), /recorded \{/);
  assert.equal(core.hadNoRoom(), false);
  core.close();
  const again = await openOn(disk.folder());
  const kept = ask(again, encode("history { most: 300 }"));
  for (const text of ["before", "after"]) assert.match(kept, new RegExp(`: ${text}"`));
  for (let i = 0; i < refused.i; ++i) assert.match(kept, new RegExp(`during ${i}"`));
  assert.doesNotMatch(kept, new RegExp(`during ${refused.i}"`));
  again.close();
});

test("room that runs out at any write of a first evening loses nothing that was said to be saved", async () => {
  for (const room of [0, 4096, 20_000, 60_000, 120_000, 160_000]) {
    const disk = new FakeDisk();
    disk.room = room;
    let saved = [];
    try {
      const core = await openOn(disk.folder());
      core.call(keepSheet());
      for (let i = 0; i < 30; ++i) {
        if (/recorded \{/.test(ask(core, note(`entry ${i}.`)))) saved.push(i);
      }
    } catch (failure) {
      assert.ok(failure instanceof NotOpened, `${failure}`);
      assert.match(decode(failure.response), /full|disk/);
    }
    disk.powerCut();
    disk.room = Infinity;
    const core = await openOn(disk.folder());
    const kept = ask(core, encode("history { most: 100 }"));
    for (const i of saved) assert.match(kept, new RegExp(`entry ${i}\\."`), `room for ${room}`);
    core.close();
  }
});

test("a disk whose flush fails refuses the entry instead of saying saved", async () => {
  const disk = new FakeDisk();
  const core = await openOn(disk.folder());
  core.call(keepSheet());
  core.call(note("kept"));
  disk.failing = true;
  assert.match(ask(core, note("not kept")), /mistakes \{[^]*disk/);
  disk.failing = false;
  disk.powerCut();
  const again = await openOn(disk.folder());
  assert.match(ask(again, history), /: kept"/);
  again.close();
});

/// A browser's folder as far as openBrowserFolder sees it: handles are exclusive.
function browserFolder() {
  const taken = new Set();
  const contents = new Map();
  return {
    taken,
    async getFileHandle(name) {
      return {
        async createSyncAccessHandle() {
          if (taken.has(name)) {
            throw new DOMException("in use", "NoModificationAllowedError");
          }
          taken.add(name);
          let bytes = contents.get(name) ?? new Uint8Array();
          const keep = (more) => contents.set(name, (bytes = more));
          return {
            read(into, { at }) {
              const from = bytes.subarray(at, at + into.length);
              into.set(from);
              return from.length;
            },
            write(more, { at }) {
              const next = new Uint8Array(Math.max(bytes.length, at + more.length));
              next.set(bytes);
              next.set(more, at);
              keep(next);
              return more.length;
            },
            truncate(size) {
              const next = new Uint8Array(size);
              next.set(bytes.subarray(0, size));
              keep(next);
            },
            getSize: () => bytes.length,
            flush() {},
            close: () => taken.delete(name),
          };
        },
      };
    },
  };
}

test("a second tab is told that the first has the ledger, and gets it when that closes", async () => {
  const browser = browserFolder();
  const first = await openOn(await openBrowserFolder(browser));
  assert.match(ask(first, note("from the first")), /mistakes|recorded/);
  await assert.rejects(openBrowserFolder(browser), FolderTaken);
  assert.match(ask(first, encode("saving {}")), /keeps: true/); // unharmed
  first.close();
  assert.equal(browser.taken.size, 0);
  const second = await openOn(await openBrowserFolder(browser));
  assert.match(ask(second, encode("saving {}")), /keeps: true/);
  second.close();
});

test("without a folder the core plans, and refuses to record", async () => {
  const core = await openCore({ module });
  assert.match(ask(core, keepSheet().slice()), /mistakes/);
  assert.match(ask(core, encode("saving {}")), /saving/);
  core.close();
  assert.throws(() => core.call(history), CoreDied);
});

test("times are told in UTC until the zone's rules were given, and by them afterwards", async () => {
  const disk = new FakeDisk();
  const first = await openOn(disk.folder());
  assert.match(ask(first, keepSheet()), /time_note: "The rules of America\/Chicago are not on this device/);
  first.close();
  const core = await openOn(disk.folder());
  core.call(note("x"));
  assert.match(ask(core, history), /time: "20:26 UTC"/); // of startMs
  core.giveZone("America/Chicago", new Uint8Array(fs.readFileSync(`${built}/zones/America/Chicago`)));
  assert.match(ask(core, history), /time: "15:26"/);
  // Of a zone that nobody gave, a sheet is taken all the same.
  const other = encode('load_sheet { sheet { name: "s" message: ' + quoted(sheetIn("Europe/Oslo")) + " } }");
  assert.match(ask(core, other), /time_note: "The rules of Europe\/Oslo/);
  assert.throws(() => core.giveZone("America/Nowhere", new Uint8Array([1, 2, 3])), /no rules/);
  core.close();
});

test("a sheet as text is refused in words, and damaged bytes as well", async () => {
  const core = await openOn(new FakeDisk().folder());
  assert.match(ask(core, encode('load_sheet { sheet { name: "s" content: "id: \\"x\\"" } }')), /reads no text/);
  assert.match(ask(core, encode('load_sheet { sheet { name: "s" message: "\\377\\377" } }')), /no such message/);
  assert.match(ask(core, new Uint8Array([255, 255, 255])), /not a request/);
  core.close();
});

test("what is not UTF-8 is refused and not kept", async () => {
  const core = await openOn(new FakeDisk().folder());
  core.call(keepSheet());
  const good = Buffer.from(note("kkkk"));
  assert.match(ask(core, good), /recorded \{/);
  const bad = Buffer.from(good);
  bad.fill(0xff, bad.indexOf("kkkk"), bad.indexOf("kkkk") + 4);
  assert.match(ask(core, bad), /^mistakes/m);
  assert.equal(ask(core, history).match(/note/g)?.length, 1);
});
