// Draws the page's icons from tools/icon.svg into public/icons.
import { copyFileSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { fileURLToPath } from "node:url";
import { Resvg } from "@resvg/resvg-js";

const here = fileURLToPath(new URL("..", import.meta.url));
const out = `${here}public/icons`;
const svg = readFileSync(`${here}tools/icon.svg`, "utf8");
mkdirSync(out, { recursive: true });
copyFileSync(`${here}tools/icon.svg`, `${out}/icon.svg`);
for (const width of [180, 192, 512]) {
  const png = new Resvg(svg, { fitTo: { mode: "width", value: width } }).render().asPng();
  writeFileSync(`${out}/icon-${width}.png`, png);
}
