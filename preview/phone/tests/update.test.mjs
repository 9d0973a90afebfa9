// A new version of the page while entries wait for the hub.
import { after, before, describe, it } from "node:test";
import assert from "node:assert/strict";
import { cpSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { browser_on, demo_sheet, forget, page_folder, temporary } from "./browser.mjs";
import { serve } from "./serving.mjs";
import { begin_with_sheet, chip, history, pick, tools_down } from "./steps.mjs";

/** The same page with another title, as the next version of it. */
function next_version(from, to) {
  cpSync(from, to, { recursive: true });
  const index = join(to, "index.html");
  const old_bytes = readFileSync(index);
  writeFileSync(index, String(old_bytes).replace("<title>Chipfall<", "<title>Chipfall 2<"));
  const hash = async (bytes) =>
    Buffer.from(await crypto.subtle.digest("SHA-256", bytes)).toString("hex").slice(0, 16);
  return Promise.all([hash(old_bytes), hash(readFileSync(index))]).then(([before_, now]) => {
    const worker = join(to, "service-worker.js");
    writeFileSync(worker, String(readFileSync(worker)).replace(before_, now));
    // The packed ones are of the version before.
    for (const name of ["index.html", "service-worker.js"]) {
      for (const ending of ["gz", "br"]) rmSync(join(to, `${name}.${ending}`));
    }
  });
}

describe("a new version of the page", () => {
  let server, work, browser, folder;
  before(async () => {
    work = temporary("update");
    folder = page_folder;
    server = await serve(() => folder);
    browser = await browser_on(`${work}/profile`);
  });
  after(async () => {
    await browser.close();
    await server.stop();
    forget(work);
  });

  it("waits for the person, and keeps every entry that waits for the hub", async () => {
    const page = await browser.page();
    await begin_with_sheet(page, server.address, demo_sheet(work));
    await page.evaluate(() => navigator.serviceWorker.ready.then(() => {}));
    await page.reload();
    await pick(page, ["Table saw"]);
    await tools_down(page);
    await page.getByRole("button", { name: "Done", exact: true }).click();
    await page.locator(".saying", { hasText: "Saved:" }).waitFor();
    const before_ = await chip(page);

    await next_version(page_folder, `${work}/next`);
    folder = `${work}/next`;
    await page.evaluate(async () => (await navigator.serviceWorker.getRegistration()).update());
    await page.locator(".places .dot").waitFor();
    // Nothing has changed under the hand, nor after a reload.
    assert.equal(await page.title(), "Chipfall");
    await page.reload();
    await page.locator(".progress-line .count", { hasText: /^1 of/ }).waitFor();
    assert.equal(await page.title(), "Chipfall");

    await page.goto(`${server.address}/#/phone`);
    await page.getByRole("button", { name: "Use the new version" }).click();
    await page.waitForFunction(() => document.title === "Chipfall 2");
    await page.locator(".saving-chip").waitFor();
    assert.equal(await chip(page), before_);
    const lines = await history(page, server.address);
    assert.match(lines[0], /Done/);
  });
});
