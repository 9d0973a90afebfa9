// Writes the messages of core/proto into src/messages: their types, by Debian's protoc with
// protobuf-es's own generator, and a table of their fields, by which src/core/messages.ts reads and
// writes them. The generator's own descriptors and the reflection that they need were 27 kB of
// the page's gzip; the table and its reader are 8.
import { spawnSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath, pathToFileURL } from "node:url";
import { ScalarType, createFileRegistry, fromBinary } from "@bufbuild/protobuf";
import { FileDescriptorSetSchema } from "@bufbuild/protobuf/wkt";

const here = fileURLToPath(new URL("..", import.meta.url));
const root = fileURLToPath(new URL("../../..", import.meta.url));
const out = `${here}src/messages`;
const protos = ["door", "coordinator", "ledger", "lock_up", "session", "wind_down"];

function protoc(...options) {
  const files = protos.map((name) => `core/proto/${name}.proto`);
  const ran = spawnSync("protoc", ["-I", root, ...options, ...files], { cwd: root, stdio: "inherit" });
  if (ran.error) throw ran.error;
  if (ran.status !== 0) process.exit(ran.status ?? 1);
}

/** All that is said of the messages in core/proto. */
export function described() {
  const work = mkdtempSync(join(tmpdir(), "chipfall-messages-"));
  try {
    protoc(`--descriptor_set_out=${work}/set`, "--include_imports");
    return createFileRegistry(fromBinary(FileDescriptorSetSchema, readFileSync(`${work}/set`)));
  } finally {
    rmSync(work, { recursive: true });
  }
}

const letters = {
  [ScalarType.BOOL]: "b",
  [ScalarType.BYTES]: "y",
  [ScalarType.DOUBLE]: "d",
  [ScalarType.INT32]: "i",
  [ScalarType.INT64]: "l",
  [ScalarType.STRING]: "",
  [ScalarType.UINT32]: "u",
  [ScalarType.UINT64]: "m",
};

function type_of(field) {
  const kind = field.fieldKind === "list" ? field.listKind : field.fieldKind;
  if (kind === "message") return field.message.name;
  const letter = kind === "scalar" ? letters[field.scalar] : undefined;
  if (letter === undefined) throw new Error(`src/core/messages.ts cannot read ${field}`);
  return letter;
}

/** `[ONEOF.]NAME[=NUMBER][:TYPE][*|?]`; without a number the next one, without a type a string. */
function field_line(field, before) {
  const number = field.number === before + 1 ? "" : `=${field.number}`;
  const type = type_of(field);
  const optional = field.fieldKind === "scalar" && field.oneof === undefined && field.presence !== 2;
  return (
    (field.oneof ? `${field.oneof.localName}.` : "") +
    field.localName + number + (type && `:${type}`) +
    (field.fieldKind === "list" ? "*" : optional ? "?" : "")
  );
}

/** The messages that those named are made of, and these, a line for each. */
function table_of(registry, ...names) {
  const wanted = new Map();
  const add = (message) => {
    if (wanted.has(message.name)) return;
    let before = 0;
    const fields = message.fields.toSorted((a, b) => a.number - b.number).map((field) => {
      const line = field_line(field, before);
      before = field.number;
      return line;
    });
    wanted.set(message.name, [message.name, ...fields].join(" "));
    for (const field of message.fields) if (field.message) add(field.message);
  };
  for (const name of names) add(registry.getMessage(`chipfall.proto.${name}`));
  return [...wanted.values()].join("\n");
}

if (import.meta.url === pathToFileURL(process.argv[1]).href) {
  rmSync(out, { recursive: true, force: true });
  mkdirSync(out, { recursive: true });
  protoc(`--plugin=protoc-gen-es=${here}node_modules/.bin/protoc-gen-es`, `--es_out=${out}`, "--es_opt=target=dts");
  const table = table_of(described(), "Request", "Response");
  writeFileSync(`${out}/table.ts`, `// Made by tools/messages.mjs.\nexport const table = \`${table}\`;\n`);
}
