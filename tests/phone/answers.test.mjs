// The same answers: what the native core is asked and answers, asked of the core in WebAssembly.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import fs from "node:fs";
import os from "node:os";
import path from "node:path";
import test from "node:test";
import { FakeDisk, built, demoSession, encode, keepSheet, module, native, openCore, openOn, sameRandom } from "./support.mjs";

const zones = ["America/Chicago", "Europe/Oslo"]; // of the demo shop and of the recorded requests
function giveZones(core) {
  for (const zone of zones) {
    core.giveZone(zone, new Uint8Array(fs.readFileSync(`${built}/zones/${zone}`)));
  }
}

function* pieces(bytes) {
  for (let at = 0; at < bytes.length; ) {
    const size = bytes.readUInt32LE(at + 1);
    yield { kind: String.fromCharCode(bytes[at]), bytes: bytes.subarray(at + 5, at + 5 + size) };
    at += 5 + size;
  }
}

function written(kind, bytes) {
  const head = Buffer.alloc(5);
  head.write(kind, 0, "latin1");
  head.writeUInt32LE(bytes.length, 1);
  return Buffer.concat([head, bytes]);
}

test("the demo sessions, a month of them and all recorded requests have the native answers", async () => {
  const folder = fs.mkdtempSync(path.join(os.tmpdir(), "chipfall-phone-"));
  try {
    const asked = path.join(folder, "native");
    const answered = path.join(folder, "wasm");
    console.log(execFileSync(native, ["ask", asked]).toString().trim());
    const out = [];
    let core, answer;
    let now = 0;
    for (const { kind, bytes } of pieces(fs.readFileSync(asked))) {
      if (kind === "D") {
        core?.close();
        core = undefined;
      } else if (kind === "T") {
        now = Number(bytes.toString());
        if (!core) {
          const disk = new FakeDisk().folder();
          core = await openCore({ module, folder: disk, now: () => now, random: sameRandom });
          giveZones(core);
        }
      } else if (kind === "Q") {
        answer = core.call(new Uint8Array(bytes));
      }
      out.push(written(kind, kind === "A" ? answer : bytes));
    }
    core?.close();
    fs.writeFileSync(answered, Buffer.concat(out));
    console.log(execFileSync(native, ["compare", asked, answered]).toString().trim());
  } catch (failure) {
    assert.fail(`${failure.stdout ?? failure.stack}`);
  } finally {
    fs.rmSync(folder, { recursive: true });
  }
});

test("a wind-down is listed by the core in WebAssembly; the time it takes is printed", async () => {
  const core = await openOn(new FakeDisk().folder());
  giveZones(core);
  core.call(keepSheet());
  const request = encode(`wind_down { session_file { name: "table" message: ${demoSession("table-evening")} } }`);
  const times = [];
  let answer;
  for (let i = 0; i < 15; ++i) {
    const begin = process.cpuUsage();
    answer = core.call(request);
    times.push(process.cpuUsage(begin).user / 1000);
  }
  times.sort((a, b) => a - b);
  console.log(`wind-down of the table-building evening, processor time: median ${times[7].toFixed(1)} ms, slowest ${times[14].toFixed(1)} ms`);
  assert.ok(answer.length > 1000);
  core.close();
});
