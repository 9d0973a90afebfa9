import { createHash } from "node:crypto";
import { cpSync, readFileSync, readdirSync, statSync, writeFileSync } from "node:fs";
import { join, relative } from "node:path";
import { fileURLToPath } from "node:url";
import { brotliCompressSync, constants } from "node:zlib";
import { gzipAsync } from "@gfx/zopfli";
import { defineConfig, type Plugin } from "vite";

const mostGzipped = 450_000; // the whole page with the core: a minute on a weak basement signal; tests/run compares
const alreadyPacked = /\.png$/;
const zopfliRounds = 5; // 15 took half as long again for 100 bytes of 600,000
const packed = /\.(gz|br)$/;

/** Every file under a folder, as paths from it. */
function files_under(folder: string): string[] {
  return readdirSync(folder, { recursive: true, encoding: "utf8" })
    .filter((name) => statSync(join(folder, name)).isFile())
    .map((name) => relative(folder, join(folder, name)))
    .sort();
}

/** Writes NAME.gz and NAME.br beside a file, each as small as it gets, and says how many bytes each is. */
async function pack(file: string): Promise<{ gzip: number; brotli: number }> {
  const bytes = readFileSync(file);
  if (alreadyPacked.test(file)) return { gzip: bytes.length, brotli: bytes.length };
  const gzip = await gzipAsync(bytes, { numiterations: zopfliRounds });
  const is_text = !file.endsWith(".wasm");
  const brotli = brotliCompressSync(bytes, {
    params: {
      [constants.BROTLI_PARAM_QUALITY]: constants.BROTLI_MAX_QUALITY,
      [constants.BROTLI_PARAM_MODE]: is_text ? constants.BROTLI_MODE_TEXT : constants.BROTLI_MODE_GENERIC,
      [constants.BROTLI_PARAM_SIZE_HINT]: bytes.length,
    },
  });
  writeFileSync(`${file}.gz`, gzip);
  writeFileSync(`${file}.br`, brotli);
  return { gzip: gzip.length, brotli: brotli.length };
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
    async closeBundle() {
      const worker = readFileSync(new URL("src/offline/service-worker.js", import.meta.url), "utf8");
      const names = files_under(out).filter(
        (name) => !packed.test(name) && name !== "service-worker.js" && !name.startsWith("zones/"),
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
      const whole = { gzip: 0, brotli: 0 };
      for (const name of [...names, "service-worker.js"]) {
        const { gzip, brotli } = await pack(join(out, name));
        whole.gzip += gzip;
        whole.brotli += brotli;
      }
      const kB = (bytes: number) => Math.round(bytes / 1000);
      console.log(
        `whole page: ${kB(whole.gzip)} kB gzipped of ${kB(mostGzipped)} kB, ${kB(whole.brotli)} kB as Brotli`,
      );
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
