// What the tests of the core for phones share: the core as tests/phone/run built it, folders on
// Node's files and on a disk that fails when told to, and messages as text.
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import os from "node:os";
import path from "node:path";
import { fileURLToPath } from "node:url";

/// Where preview/phone/wasm/build has put core.wasm, the zones and the compiled TypeScript.
export const built = process.env.CHIPFALL_PHONE_BUILD;
/// tests/phone's native program.
export const native = process.env.CHIPFALL_PHONE_NATIVE;
const source = fileURLToPath(new URL("../..", import.meta.url));

export const { openCore, NotOpened, CoreDied } = await import(`${built}/js/core.js`);
export const { ledgerFiles, openBrowserFolder, FolderTaken, NoRoom } = await import(
  `${built}/js/folder.js`
);
export const { Answerer } = await import(`${built}/js/answerer.js`);
export const { RemoteCore } = await import(`${built}/js/remote.js`);

export const module = new WebAssembly.Module(fs.readFileSync(`${built}/core.wasm`));
export const startMs = 1_780_000_000_000;

/// A folder of real files, through the same interface as a browser's.
export function nodeFolder(directory = fs.mkdtempSync(path.join(os.tmpdir(), "chipfall-phone-"))) {
  const open = new Map(
    ledgerFiles.map((name) => {
      const flags = fs.constants.O_RDWR | fs.constants.O_CREAT;
      return [name, fs.openSync(path.join(directory, name), flags)];
    }),
  );
  const stored = (file) => ({
    read: (into, at) => fs.readSync(file, into, 0, into.length, at),
    write(bytes, at) {
      for (let done = 0; done < bytes.length; ) {
        done += fs.writeSync(file, bytes, done, bytes.length - done, at + done);
      }
    },
    truncate: (size) => fs.ftruncateSync(file, size),
    flush: () => fs.fsyncSync(file),
    size: () => fs.fstatSync(file).size,
    close: () => fs.closeSync(file),
  });
  const files = new Map([...open].map(([name, file]) => [name, stored(file)]));
  return {
    directory,
    file: (name) => files.get(name),
    close: () => files.forEach((file) => file.close()),
  };
}

/// A disk in memory that forgets what was not flushed when its power is cut, and that may have too
/// little room. Many folders of it may be opened one after another.
export class FakeDisk {
  room = Infinity;
  failing = false;
  flushes = 0;
  writesAfterFlush = 0;
  #now = new Map(ledgerFiles.map((name) => [name, new Uint8Array()]));
  #durable = new Map(this.#now);

  folder() {
    const files = new Map(ledgerFiles.map((name) => [name, this.#stored(name)]));
    return { file: (name) => files.get(name), close: () => {} };
  }

  powerCut() {
    this.#now = new Map(this.#durable);
  }

  used() {
    return [...this.#now.values()].reduce((sum, bytes) => sum + bytes.length, 0);
  }

  #put(name, bytes) {
    const growth = bytes.length - this.#now.get(name).length;
    if (growth > 0 && this.used() + growth > this.room) {
      throw new DOMException("no room", "QuotaExceededError");
    }
    this.#now.set(name, bytes);
    this.writesAfterFlush += 1;
  }

  #stored(name) {
    const grown = (bytes, size) => {
      const larger = new Uint8Array(size);
      larger.set(bytes.subarray(0, size));
      return larger;
    };
    return {
      read: (into, at) => {
        const from = this.#now.get(name).subarray(at, at + into.length);
        into.set(from);
        return from.length;
      },
      write: (bytes, at) => {
        const old = this.#now.get(name);
        const next = grown(old, Math.max(old.length, at + bytes.length));
        next.set(bytes, at);
        this.#put(name, next);
      },
      truncate: (size) => this.#put(name, grown(this.#now.get(name), size)),
      flush: () => {
        if (this.failing) throw new Error("the disk failed");
        this.#durable.set(name, this.#now.get(name));
        this.flushes += 1;
        this.writesAfterFlush = 0;
      },
      size: () => this.#now.get(name).length,
      close: () => {},
    };
  }
}

/// Fills as the native program's doors do.
export const sameRandom = (into) => into.fill("*".charCodeAt(0));

export const openOn = (folder, now = () => startMs) =>
  openCore({ module, folder, now, random: sameRandom });

/// The bytes of a message from its text, by protobuf's own program.
export function encode(text, type = "Request", file = "door") {
  return new Uint8Array(protoc(`--encode=chipfall.proto.${type}`, file, text));
}

export function decode(bytes, type = "Response", file = "door") {
  return protoc(`--decode=chipfall.proto.${type}`, file, bytes).toString();
}

function protoc(what, file, input) {
  return execFileSync("protoc", [what, `-I${source}`, `core/proto/${file}.proto`], {
    cwd: source,
    input,
    maxBuffer: 1 << 28,
  });
}

/// Bytes as protobuf's text format writes them.
export function quoted(bytes) {
  const codes = Array.from(bytes, (byte) => `\\${byte.toString(8).padStart(3, "0")}`);
  return `"${codes.join("")}"`;
}

/// The demo shop's sheet as a message, with another time zone.
export function sheetIn(zone) {
  const text = fs.readFileSync(`${source}/checklists/otter-bend.textproto`, "utf8");
  return encode(text.replace("America/Chicago", zone), "ShopSheet", "shop");
}

export const sheetBytes = () => sheetIn("America/Chicago");

export const keepSheet = () =>
  encode(`load_sheet { sheet { name: "otter-bend" message: ${quoted(sheetBytes())} } keep: true }`);

export function demoSession(name) {
  const text = fs.readFileSync(`${source}/checklists/sessions/${name}.textproto`);
  return quoted(encode(text, "Session", "session"));
}

export const note = (text) => encode(`record { note { text: "${text}" } }`);
export const history = encode("history {}");
export const ask = (core, request) => decode(core.call(request));
