import { createHash } from "node:crypto";
import { cpSync, readFileSync, readdirSync, statSync, writeFileSync } from "node:fs";
import { join, relative } from "node:path";
import { fileURLToPath } from "node:url";
import { gzipSync } from "node:zlib";
import { defineConfig, type Plugin } from "vite";

const mostGzipped = 450_000; // the whole page with the core: a minute on a weak basement signal
const alreadyPacked = /\.(png|gz)$/;

/** Every file under a folder, as paths from it. */
function files_under(folder: string): string[] {
  return readdirSync(folder, { recursive: true, encoding: "utf8" })
    .filter((name) => statSync(join(folder, name)).isFile())
    .map((name) => relative(folder, join(folder, name)))
    .sort();
}

/** The service worker with the list of all that the page needs, and everything packed beside itself. */
function offline(): Plugin {
  let out = "dist";
  return {
    name: "chipfall-offline",
    apply: "build",
    configResolved: (config) => {
      out = config.build.outDir;
    },
    closeBundle() {
      const worker = readFileSync(new URL("src/offline/service-worker.js", import.meta.url), "utf8");
      const names = files_under(out).filter(
        (name) => !/\.gz$/.test(name) && name !== "service-worker.js" && !name.startsWith("zones/"),
      );
      const list = names.map((name) => {
        const hash = createHash("sha256").update(readFileSync(join(out, name))).digest("hex");
        return { path: name === "index.html" ? "/" : `/${name}`, hash: hash.slice(0, 16) };
      });
      const version = createHash("sha256").update(JSON.stringify(list) + worker).digest("hex");
      writeFileSync(
        join(out, "service-worker.js"),
        `const version = "${version.slice(0, 16)}";\nconst list = ${JSON.stringify(list)};\n${worker}`,
      );
      let whole = 0;
      for (const name of [...names, "service-worker.js"]) {
        const bytes = readFileSync(join(out, name));
        const packed = alreadyPacked.test(name) ? bytes : gzipSync(bytes, { level: 9 });
        if (packed !== bytes) writeFileSync(join(out, `${name}.gz`), packed);
        whole += packed.length;
      }
      console.log(`whole page: ${Math.round(whole / 1000)} kB gzipped of ${mostGzipped / 1000} kB`);
      // A page that is too large still works; the tests are where it has to keep to its budget.
      if (whole > mostGzipped && process.env["CHIPFALL_KEEP_TO_BUDGET"]) {
        throw new Error("the page is larger than its budget");
      }
    },
  };
}

/** The core that wasm/build made: core.wasm as a file of the page, the time zones beside it. */
function core(): Plugin {
  const id = "virtual:chipfall-core";
  const from = process.env["CHIPFALL_CORE"] ?? fileURLToPath(new URL("../../build-phone", import.meta.url));
  let building = false;
  return {
    name: "chipfall-core",
    configResolved: (config) => {
      building = config.command === "build";
    },
    resolveId: (name) => (name === id ? `\0${id}` : null),
    load(name) {
      if (name !== `\0${id}`) return null;
      if (!building) return `export default "/@fs${from}/core.wasm";`;
      const file = this.emitFile({
        type: "asset",
        name: "core.wasm",
        source: readFileSync(join(from, "core.wasm")),
      });
      return `export default import.meta.ROLLUP_FILE_URL_${file};`;
    },
    writeBundle(options) {
      cpSync(join(from, "zones"), join(options.dir!, "zones"), { recursive: true });
    },
  };
}

export default defineConfig({
  plugins: [core(), offline()],
  build: { target: "es2022", modulePreload: { polyfill: false }, assetsInlineLimit: 0 },
  worker: { format: "es" },
});
