// The Spanish table beside the core's catalogue: nothing is missing, no argument is made up.
import { describe, it } from "node:test";
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { root } from "./browser.mjs";

const read = (path) => readFileSync(join(root, path), "utf8");
const strings = (text) => [...text.matchAll(/"((?:[^"\\]|\\.)*)"/g)].map((found) => JSON.parse(`"${found[1]}"`));

const catalogue = new Map(
  [...(read("core/door/phrase_catalogue.cpp") + read("core/door/phrase_catalogue_sheet.cpp")).matchAll(/\{("[\w.-]+"),\s*((?:"(?:[^"\\]|\\.)*"\s*)+)\}/g)].map(
    ([, id, text]) => [strings(id)[0], strings(text).join("")],
  ),
);
const spanish = new Map(
  readdirSync(join(root, "preview/phone/src/words"))
    .filter((file) => /^(phrases|checklists)_es/.test(file))
    .flatMap((file) => [
      ...read(`preview/phone/src/words/${file}`).matchAll(
        /"([\w.-]+)":\s*("(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)*')/g,
      ),
    ])
    .map(([, id, text]) => [id, text.startsWith("'") ? text.slice(1, -1) : JSON.parse(text)]),
);
const names = (text) => [...text.matchAll(/\{([\w-]+)\}/g)].map((found) => found[1]).sort();

describe("the core's phrases in Spanish", () => {
  it("are all there", () => {
    assert.ok(catalogue.size > 150);
    const missing = [...catalogue.keys()].filter((id) => !spanish.has(id));
    assert.deepEqual(missing, []);
  });
  it("name the arguments that the phrases have, and only these", () => {
    for (const [id, english] of catalogue) {
      const translated = spanish.get(id);
      if (translated !== undefined) assert.deepEqual(names(translated), names(english), id);
    }
  });
  it("have each standard duty's title and each stock's name", () => {
    const ids = (file, list) =>
      [...read(file).matchAll(new RegExp(`^${list} \\{\\s*id: "([^"]+)"`, "gm"))].map((found) => found[1]);
    const duties = ids("checklists/duties.textproto", "duties").map((id) => `duty.${id}.title`);
    const stocks = ids("checklists/stocks.textproto", "stocks").map((id) => `stock.${id}.name`);
    assert.ok(duties.length > 30 && stocks.length > 30);
    assert.deepEqual([...duties, ...stocks].filter((id) => !spanish.has(id)), []);
  });
});
