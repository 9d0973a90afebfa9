// The page's own reading and writing of messages beside protobuf-es's, which has the whole descriptors.
import { before, describe, it } from "node:test";
import assert from "node:assert/strict";
import { create, fromBinary, toBinary } from "@bufbuild/protobuf";
import { build } from "vite";
import { here } from "./browser.mjs";
import { described } from "../tools/messages.mjs";

const samples = {
  9: "¿Qué? — ½", // string
  8: true, // bool
  12: Uint8Array.of(0, 255, 7), // bytes
  1: -2.5, // double
  5: -2147483648, // int32
  3: -(2n ** 63n), // int64
  13: 4294967295, // uint32
  4: 2n ** 64n - 1n, // uint64
};
const deepest = 6;

/** One of a kind with every field set; of alternatives the one at `turn`. */
function full(message, turn, depth = 0) {
  const one = (field) => (field.message ? full(field.message, turn, depth + 1) : samples[field.scalar]);
  const out = {};
  for (const member of message.members) {
    if (member.kind === "oneof") {
      const field = member.fields[turn % member.fields.length];
      out[member.localName] = { case: field.localName, value: one(field) };
    } else if (member.message === undefined || depth < deepest) {
      out[member.localName] = member.fieldKind === "list" ? [one(member), one(member)] : one(member);
    }
  }
  return create(message, out);
}

describe("the page's messages", () => {
  let own, registry;
  before(async () => {
    registry = described();
    const [made] = await build({
      root: here, configFile: false, logLevel: "silent",
      build: { write: false, minify: false, lib: { entry: "src/core/messages.ts", formats: ["es"] } },
    });
    own = await import(`data:text/javascript;base64,${Buffer.from(made.output[0].code).toString("base64")}`);
  });
  const each = (name, check) => {
    const kind = registry.getMessage(`chipfall.proto.${name}`);
    const turns = kind.oneofs[0].fields.length;
    assert.ok(turns > 15);
    for (let turn = 0; turn < turns; ++turn) check(kind, full(kind, turn));
    // Nothing but defaults, also where an alternative or an optional field has its default.
    check(kind, create(kind, {}));
    check(kind, create(kind, { [kind.oneofs[0].localName]: { case: kind.oneofs[0].fields[0].localName, value: {} } }));
  };

  it("are written as protobuf-es writes them, every field of every kind", () => {
    for (const name of ["Request", "Response"]) {
      each(name, (kind, message) => {
        const bytes = own.to_bytes(name, message);
        assert.deepEqual(Buffer.from(bytes), Buffer.from(toBinary(kind, message)));
      });
    }
  });

  it("are read as protobuf-es reads them", () => {
    for (const name of ["Request", "Response"]) {
      each(name, (kind, message) => {
        const read = own.from_bytes(name, toBinary(kind, message));
        assert.deepEqual(create(kind, read), message);
      });
    }
  });

  it("an optional field with its default is told apart from one that is absent", () => {
    const record = { case: "record", value: { what: { case: "done", value: { minutes: 0 } } } };
    const kind = registry.getMessage("chipfall.proto.Request");
    const read = fromBinary(kind, own.to_bytes("Request", { ask: record }));
    assert.equal(read.ask.value.what.value.minutes, 0);
    assert.equal(own.from_bytes("Request", own.to_bytes("Request", { ask: { case: "record", value: { what: { case: "done", value: {} } } } })).ask.value.what.value.minutes, undefined);
  });

  it("what a newer core adds is passed over, and what is cut short is refused", () => {
    const kind = registry.getMessage("chipfall.proto.Response");
    const bytes = toBinary(kind, full(kind, 3));
    const newer = Uint8Array.of(...bytes, 0xf8, 0x3f, 5, 0xfa, 0x3f, 2, 1, 2); // fields 1023, a number and bytes
    assert.deepEqual(create(kind, own.from_bytes("Response", newer)), full(kind, 3));
    assert.throws(() => own.from_bytes("Response", bytes.subarray(0, bytes.length - 1)));
  });
});
