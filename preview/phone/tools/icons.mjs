// Draws the page's icons from tools/icon.svg into public/icons, as small as they get: a few colours
// with a palette.
import { copyFileSync, mkdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { crc32, deflateSync } from "node:zlib";
import { Resvg } from "@resvg/resvg-js";

const here = fileURLToPath(new URL("..", import.meta.url));
const out = `${here}public/icons`;
const svg = readFileSync(`${here}tools/icon.svg`, "utf8");

function chunk(name, bytes) {
  const body = Buffer.concat([Buffer.from(name, "latin1"), bytes]);
  const whole = Buffer.alloc(8 + body.length);
  whole.writeUInt32BE(bytes.length, 0);
  body.copy(whole, 4);
  whole.writeUInt32BE(crc32(body), 4 + body.length);
  return whole;
}

/** An opaque picture as PNG of colour type 3 (PNG, 3rd edition, 11.2), 16 steps a channel. */
function png(width, rgba) {
  const palette = new Map();
  const lines = Buffer.alloc(width * (width + 1)); // each begins with its filter: none
  for (let i = 0; i < width * width; ++i) {
    const colour = [0, 1, 2].map((part) => Math.round(rgba[4 * i + part] / 17) * 17);
    const key = colour.join();
    if (!palette.has(key)) palette.set(key, { index: palette.size, colour });
    lines[i + Math.floor(i / width) + 1] = palette.get(key).index;
  }
  if (palette.size > 256) throw new Error(`${palette.size} colours`);
  const head = Buffer.from([0, 0, 0, 0, 0, 0, 0, 0, 8, 3, 0, 0, 0]);
  head.writeUInt32BE(width, 0);
  head.writeUInt32BE(width, 4);
  return Buffer.concat([
    Buffer.from("\x89PNG\r\n\x1a\n", "latin1"),
    chunk("IHDR", head),
    chunk("PLTE", Buffer.from([...palette.values()].flatMap(({ colour }) => colour))),
    chunk("IDAT", deflateSync(lines, { level: 9 })),
    chunk("IEND", Buffer.alloc(0)),
  ]);
}

rmSync(out, { recursive: true, force: true });
mkdirSync(out, { recursive: true });
copyFileSync(`${here}tools/icon.svg`, `${out}/icon.svg`);
for (const width of [192, 512]) {
  const drawn = new Resvg(svg, { fitTo: { mode: "width", value: width } }).render();
  writeFileSync(`${out}/icon-${width}.png`, png(width, drawn.pixels));
}
