// The Spanish table beside the core's catalogue: nothing is missing, no argument is made up.
import { describe, it } from "node:test";
import assert from "node:assert/strict";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { build } from "vite";
import { here, root } from "./browser.mjs";

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
  it("have other forms only for a number of a phrase that there is, in a category of Spanish", () => {
    const categories = new Intl.PluralRules("es").resolvedOptions().pluralCategories;
    const forms = [...spanish.keys()].filter((id) => categories.includes(id.split(".").at(-1)));
    const of_numbers = forms.filter((id) => catalogue.has(id.split(".").slice(0, -2).join(".")));
    assert.ok(of_numbers.length >= 8);
    for (const form of of_numbers) {
      const [argument] = form.split(".").slice(-2);
      const id = form.split(".").slice(0, -2).join(".");
      assert.ok(names(catalogue.get(id)).includes(argument), form);
      // The number itself may go into the words.
      const others = (text) => names(text).filter((name) => name !== argument);
      assert.deepEqual(others(spanish.get(form)), others(spanish.get(id)), form);
    }
  });
  it("are said in the form of their number, by the category that the core tells", async () => {
    const [made] = await build({
      root: here, configFile: false, logLevel: "silent",
      build: { write: false, lib: { entry: "src/words/told.ts", formats: ["es"] } },
    });
    const { learn, told } = await import(
      `data:text/javascript;base64,${Buffer.from(made.output[0].code).toString("base64")}`
    );
    const table = Object.fromEntries(spanish);
    const say = (days, plural) => {
      const text = `not due within the next ${days} days`;
      const phrases = [{ id: "forecast.not-due", before: "", arguments: [{ name: "days", text: days, plural }] }];
      learn([{ text, phrases }]);
      return told(text, table);
    };
    assert.equal(say("1", "one"), "no hará falta en el próximo día");
    assert.equal(say("7", "other"), "no hará falta en los próximos 7 días");
    assert.equal(say("9", ""), "no hará falta en los próximos 9 días");
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
