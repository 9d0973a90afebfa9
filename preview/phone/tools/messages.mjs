// Writes the messages of core/proto as TypeScript into src/messages, by Debian's protoc with
// protobuf-es's own generator.
import { spawnSync } from "node:child_process";
import { mkdirSync, rmSync } from "node:fs";
import { fileURLToPath } from "node:url";

const here = fileURLToPath(new URL("..", import.meta.url));
const root = fileURLToPath(new URL("../../..", import.meta.url));
const out = `${here}src/messages`;
const protos = ["door", "coordinator", "ledger", "lock_up", "session", "wind_down"];

rmSync(out, { recursive: true, force: true });
mkdirSync(out, { recursive: true });
const ran = spawnSync(
  "protoc",
  [
    "-I", root,
    `--plugin=protoc-gen-es=${here}node_modules/.bin/protoc-gen-es`,
    `--es_out=${out}`,
    "--es_opt=target=ts",
    ...protos.map((name) => `core/proto/${name}.proto`),
  ],
  { cwd: root, stdio: "inherit" },
);
if (ran.error) throw ran.error;
process.exit(ran.status ?? 1);
