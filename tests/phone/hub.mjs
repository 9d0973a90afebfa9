// The hub of tests/phone/hub_on_pipes.h, and phones that talk to it as a page does over a WebSocket.
import assert from "node:assert/strict";
import { spawn } from "node:child_process";
import { decode, encode, native, quoted } from "./support.mjs";

export class PipeHub {
  #program = spawn(native, ["hub"], { stdio: ["pipe", "pipe", "inherit"] });
  #read = Buffer.alloc(0);
  #waiting = [];

  constructor() {
    this.#program.stdout.on("data", (more) => {
      this.#read = Buffer.concat([this.#read, more]);
      this.#take();
    });
  }

  /// One message in, and all that come of it: { kind, connection, bytes }.
  ask(kind, connection, bytes = new Uint8Array()) {
    const head = Buffer.alloc(6);
    head.write(kind, 0, "latin1");
    head[1] = connection;
    head.writeUInt32LE(bytes.length, 2);
    this.#program.stdin.write(Buffer.concat([head, bytes]));
    return new Promise((answered) => this.#waiting.push({ answered, frames: [] }));
  }

  async code(role) {
    const [frame] = await this.ask("J", 0, Buffer.from(role));
    return Buffer.from(frame.bytes).toString();
  }

  close() {
    this.#program.stdin.end();
  }

  #take() {
    while (this.#read.length >= 6) {
      const size = this.#read.readUInt32LE(2);
      if (this.#read.length < 6 + size) return;
      const kind = String.fromCharCode(this.#read[0]);
      const frame = { kind, connection: this.#read[1], bytes: new Uint8Array(this.#read.subarray(6, 6 + size)) };
      this.#read = this.#read.subarray(6 + size);
      if (kind === "E") {
        const { answered, frames } = this.#waiting.shift();
        answered(frames);
      } else {
        this.#waiting[0].frames.push(frame);
      }
    }
  }
}

/// A phone's core and its connection number; `all` are the phones of the hub, by number.
export class Phone {
  constructor(core, hub, number, all) {
    Object.assign(this, { core, hub, number, all, connected: false });
    all[number] = this;
  }

  async join(role) {
    const code = await this.hub.code(role);
    const answer = decode(this.core.call(encode(`join { code: "${code}" begin: true label: "phone ${this.number}" }`)));
    assert.match(answer, /begun: true/);
  }

  async connect() {
    this.connected = true;
    await this.hub.ask("O", this.number);
    await this.#step("opened {}");
  }

  async disconnect() {
    this.connected = false;
    await this.hub.ask("C", this.number);
    await this.#step("closed {}");
  }

  /// Something was recorded.
  pass() {
    return this.#step("passed {}");
  }

  state() {
    return decode(this.core.call(encode("sync_state {}")));
  }

  async #step(event) {
    const answer = this.core.call(encode(`sync { steady_ms: 1000 ${event} }`));
    const text = decode(answer);
    assert.doesNotMatch(text, /^mistakes/m, text);
    for (const bytes of sendsOf(answer)) {
      if (!this.connected) return;
      for (const frame of await this.hub.ask("M", this.number, bytes)) {
        await this.all[frame.connection]?.hear(frame);
      }
    }
    if (/^  close: true/m.test(text) && this.connected) await this.disconnect();
  }

  async hear(frame) {
    if (frame.kind === "C") return this.connected ? this.disconnect() : undefined;
    return this.#step(`message: ${quoted(frame.bytes)}`);
  }
}

/// The bytes of Response.sync.send, read from the wire: fields by number and length.
function sendsOf(response) {
  return lengthDelimited(response, 45).flatMap((step) => lengthDelimited(step, 1));
}

function lengthDelimited(bytes, wanted) {
  const found = [];
  let at = 0;
  const varint = () => {
    let value = 0;
    for (let shift = 1; ; shift *= 128) {
      const byte = bytes[at++];
      value += (byte & 127) * shift;
      if (byte < 128) return value;
    }
  };
  while (at < bytes.length) {
    const tag = varint();
    const wire = tag & 7;
    if (wire === 0) {
      varint();
    } else if (wire === 2) {
      const size = varint();
      if (tag >> 3 === wanted) found.push(bytes.subarray(at, at + size));
      at += size;
    } else {
      at += wire === 1 ? 8 : 4;
    }
  }
  return found;
}
