// What a camera would see of a code in a terminal, as a file for Chromium's fake camera (YUV4MPEG2).
import { writeFileSync } from "node:fs";

const width = 640;
const height = 480;
const bright = 205; // of 255: a screen in a shop, not paper in the sun
const dark = 45;

/** Modules of a code drawn with half blocks, two rows in a line; true is light. */
function modules(rows) {
  const upper = { "█": true, "▀": true };
  const lower = { "█": true, "▄": true };
  return rows.flatMap((row) => [[...row].map((one) => one in upper), [...row].map((one) => one in lower)]);
}

/** The code held a little askew in the middle of the picture, each pixel the mean of nine points. */
export function camera_file(file, rows, degrees = 7) {
  const code = modules(rows);
  const side = Math.max(code.length, code[0].length);
  const scale = (0.8 * height) / side; // pixels for a module
  const [cos, sin] = [Math.cos((degrees * Math.PI) / 180), Math.sin((degrees * Math.PI) / 180)];
  const light_at = (x, y) => {
    const [dx, dy] = [(x - width / 2) / scale, (y - height / 2) / scale];
    const column = Math.floor(cos * dx + sin * dy + side / 2);
    const row = Math.floor(cos * dy - sin * dx + side / 2);
    return code[row]?.[column] ?? false;
  };
  const luma = Buffer.alloc(width * height);
  for (let y = 0; y < height; ++y) {
    for (let x = 0; x < width; ++x) {
      let light = 0;
      for (const dy of [1, 3, 5]) for (const dx of [1, 3, 5]) light += light_at(x + dx / 6, y + dy / 6) ? 1 : 0;
      luma[y * width + x] = dark + ((bright - dark) * light) / 9;
    }
  }
  const frame = Buffer.concat([Buffer.from("FRAME\n"), luma, Buffer.alloc((width * height) / 2, 128)]);
  const head = Buffer.from(`YUV4MPEG2 W${width} H${height} F10:1 Ip A1:1 C420\n`);
  writeFileSync(file, Buffer.concat([head, frame, frame]));
}

/** For browser_on and plain_browser: a camera that shows this file. */
export const camera_flags = (file) => [
  "--use-fake-device-for-media-stream",
  "--use-fake-ui-for-media-stream",
  `--use-file-for-fake-video-capture=${file}`,
];
