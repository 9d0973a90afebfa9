// Contrasts of the two lights, from the style sheet's own colours (WCAG 2.2, 1.4.3 and 1.4.11).
import { describe, it } from "node:test";
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";

const css = ["page.css", "dark.css"]
  .map((name) => readFileSync(new URL(`../src/look/${name}`, import.meta.url), "utf8"))
  .join("\n");

/** The colours of each block that begins with color-scheme: one light, one dark. */
function lights() {
  return [...css.matchAll(/color-scheme: (light|dark);([^}]*)\}/g)].map(([, light, body]) => ({
    light,
    colours: Object.fromEntries(
      [...body.matchAll(/--([\w-]+): (#[0-9a-f]{6});/g)].map(([, name, value]) => [name, value]),
    ),
  }));
}

function luminance(colour) {
  const [r, g, b] = [1, 3, 5]
    .map((at) => parseInt(colour.slice(at, at + 2), 16) / 255)
    .map((part) => (part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4));
  return 0.2126 * r + 0.7152 * g + 0.0722 * b;
}

function contrast(a, b) {
  const [low, high] = [luminance(a), luminance(b)].sort((x, y) => x - y);
  return (high + 0.05) / (low + 0.05);
}

// What is written on what, and how much it takes.
const texts = [
  ["ink", "paper", 7],
  ["ink", "card", 7],
  ["ink", "wash", 7],
  ["ink", "care-wash", 7],
  ["ink", "danger-wash", 7],
  ["ink", "field", 7],
  ["faint", "paper", 4.5],
  ["faint", "card", 4.5],
  ["faint", "wash", 4.5],
  ["green", "card", 4.5],
  ["green", "wash", 4.5],
  ["on-green", "green", 7],
  ["danger", "danger-wash", 7],
  // Edges and marks without words.
  ["wood", "card", 3],
  ["wood", "paper", 3],
  ["wood", "care-wash", 3],
  ["focus", "paper", 3],
  ["focus", "card", 3],
  ["faint", "field", 3],
];

describe("colours", () => {
  it("are given for both lights, by the same names", () => {
    assert.deepEqual(lights().map(({ light }) => light), ["light", "dark"]);
    const [light, dark] = lights().map(({ colours }) => Object.keys(colours).sort());
    assert.deepEqual(light, dark);
  });
  for (const { light, colours } of lights()) {
    for (const [on, under, least] of texts) {
      it(`${light}: ${on} on ${under} is at least ${least}:1`, () => {
        const found = contrast(colours[on], colours[under]);
        assert.ok(found >= least, `${found.toFixed(2)}:1`);
      });
    }
  }
});
