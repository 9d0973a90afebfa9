// Storage that is really full: the browser itself refuses to write, by its quota.
import { after, before, describe, it } from "node:test";
import assert from "node:assert/strict";
import { browser_on, demo_sheet, forget, page_folder, temporary } from "./browser.mjs";
import { serve } from "./serving.mjs";
import { begin_with_sheet, chip, history, pick, tools_down } from "./steps.mjs";

const pictures = process.env.CHIPFALL_SCREENS; // a folder

describe("a phone whose storage is full", () => {
  let server, work, sheet, browser;
  before(async () => {
    work = temporary("full");
    sheet = demo_sheet(work);
    server = await serve(() => page_folder);
    browser = await browser_on(`${work}/profile`);
  });
  after(async () => {
    await browser.close();
    await server.stop();
    forget(work);
  });
  /** Less than is stored already; without a size the browser's own again. */
  const quota = async (page, size) => {
    const session = await page.context().newCDPSession(page);
    const more = size === undefined ? {} : { quotaSize: size };
    await session.send("Storage.overrideQuotaForOrigin", { origin: server.address, ...more });
    return session;
  };
  const ended = (page) => page.locator(".duty-row.ended").count();
  const refused = async (page) => {
    await page.locator(".saying.bad", { hasText: "Not saved: this phone has no room left" }).waitFor();
    await page.locator(".saving-chip.full", { hasText: "Phone full: not saved" }).waitFor();
  };

  it("opens nothing where nothing could be kept, and says why", async () => {
    const page = await browser.page();
    const session = await quota(page, 10);
    await page.goto(server.address);
    await page.getByRole("heading", { name: "The storage is full" }).waitFor();
    await quota(page);
    await page.getByRole("button", { name: "Try again" }).click();
    await page.getByRole("heading", { name: "What to clean" }).waitFor();
    await session.detach();
    await page.close();
  });

  it("shows nothing as saved that is not, loses nothing that was, and goes on when there is room", async () => {
    const page = await browser.page();
    await begin_with_sheet(page, server.address, sheet);
    await pick(page, ["Table saw", "Thickness planer"]);
    await tools_down(page);
    await page.getByRole("button", { name: "Whole list" }).click();
    await page.locator(".tick").first().click();
    await page.locator(".saying", { hasText: "Saved:" }).waitFor();
    const session = await quota(page, 1000);
    // The browser grants open files some room ahead; opened anew they have what they need alone.
    await page.reload();
    await page.locator(".duty-row.ended").first().waitFor();
    assert.equal(await ended(page), 1);
    const kept_before = await chip(page);

    await page.locator(".tick").first().click();
    await refused(page);
    assert.equal(await ended(page), 1);
    // Once more after the message: it is still refused, and still not shown as done.
    await page.getByRole("button", { name: "Close" }).click();
    await page.locator(".tick").nth(1).click();
    await refused(page);
    assert.equal(await ended(page), 1);
    if (pictures) {
      await page.setViewportSize({ width: 360, height: 740 });
      await page.screenshot({ path: `${pictures}/full-360.png` });
      await page.evaluate(() => (document.documentElement.style.fontSize = "200%"));
      await page.screenshot({ path: `${pictures}/full-360-large.png` });
      await page.evaluate(() => (document.documentElement.style.fontSize = ""));
    }
    // Passing on the rest ends at the first that is not kept, and none is counted.
    await page.getByRole("button", { name: "Finish" }).click();
    await page.getByRole("button", { name: /Pass on the other/ }).click();
    await refused(page);
    await page.locator(".tally li", { hasText: "passed on" }).locator("strong", { hasText: /^0$/ }).waitFor();
    assert.equal(await page.getByRole("heading", { name: /Thank you/ }).count(), 0);
    await page.reload();
    await page.locator(".duty-row.ended").first().waitFor();
    assert.equal(await ended(page), 1);
    assert.equal(await chip(page), kept_before);

    await session.send("Storage.overrideQuotaForOrigin", { origin: server.address });
    await page.locator(".tick").first().click();
    await page.locator(".saying", { hasText: "Saved:" }).waitFor();
    assert.equal(await ended(page), 2);
    await page.locator(".saving-chip:not(.full)").waitFor();
    const lines = await history(page, server.address);
    assert.equal(lines.filter((line) => /Done/.test(line)).length, 2);
    assert.equal(lines.filter((line) => /Session ended/.test(line)).length, 1);
    assert.equal(lines.filter((line) => /assed on/.test(line)).length, 0);
  });
});
