// The member's evening, without any network and on the browser's own storage.
import { after, afterEach, before, describe, it } from "node:test";
import assert from "node:assert/strict";
import { browser_on, demo_sheet, forget, listen_for_faults, page_folder, temporary } from "./browser.mjs";
import { serve } from "./serving.mjs";
import { begin_with_sheet, chip, history, pick, tools_down } from "./steps.mjs";

describe("a member's session", () => {
  let server, work, sheet, profile, browser;
  before(async () => {
    work = temporary("member");
    profile = `${work}/profile`;
    sheet = demo_sheet(work);
    server = await serve(() => page_folder);
    browser = await browser_on(profile);
  });
  after(async () => {
    await browser.close();
    await server.stop();
    forget(work);
  });
  afterEach(async () => {
    for (const page of browser.context.pages().slice(1)) await page.close();
  });

  it("goes from the machines to the finish with the server gone", async () => {
    const page = await browser.page();
    const faults = [];
    listen_for_faults(page, faults);
    await begin_with_sheet(page, server.address, sheet);
    await page.evaluate(() => navigator.serviceWorker.ready.then(() => {}));
    const { port } = server;
    await server.stop();
    try {
      await whole_evening(page);
    } finally {
      server = await serve(() => page_folder, port);
    }
    assert.deepEqual(
      faults.filter((fault) => !/ERR_CONNECTION_REFUSED|Failed to load resource/.test(fault)),
      [],
    );
  });

  const whole_evening = async (page) => {
    // From the service worker alone.
    await page.reload();
    await page.getByRole("heading", { name: "What did you run?" }).waitFor();
    await pick(page, ["Table saw", "Thickness planer"]);
    assert.match(await page.locator(".tools-down-time").innerText(), /^\d\d:\d\d$/);
    await tools_down(page);
    const all = Number((await page.locator(".progress-line .count").innerText()).split(" of ")[1]);
    assert.ok(all > 10, `${all} duties`);

    await page.getByRole("button", { name: "Done", exact: true }).click();
    await page.getByText(`1 of ${all}`, { exact: true }).first().waitFor();
    await page.getByRole("button", { name: "Pass on" }).click();
    await page.getByRole("dialog").getByRole("button").nth(1).click();
    await page.getByText(`2 of ${all}`, { exact: true }).first().waitFor();
    await page.getByRole("button", { name: "Not needed" }).click();
    await page.getByRole("dialog").getByRole("button").nth(1).click();
    await page.getByText(`3 of ${all}`, { exact: true }).first().waitFor();

    // Taken back by one tap.
    await page.getByRole("button", { name: "Undo" }).click();
    await page.locator(".progress-line", { hasText: `2 of ${all}` }).waitFor();

    await page.getByRole("button", { name: "A bin is full" }).click();
    await page.getByRole("dialog").locator(".row-button").first().click();
    await page.getByRole("dialog").getByRole("button", { name: "Full", exact: true }).click();
    await page.getByText("Saved. Thank you for looking.").waitFor();

    await page.getByRole("button", { name: "Finish" }).click();
    await page.getByRole("button", { name: /Pass on the other/ }).click();
    await page.getByRole("heading", { name: /Thank you/ }).waitFor({ timeout: 30_000 });
    assert.match(await chip(page), /saved here/);
    await page.getByRole("button", { name: "Next session" }).click();
    await page.getByRole("heading", { name: "What did you run?" }).waitFor();
  };

  it("loses nothing when the browser is killed as soon as it says saved", async () => {
    const page = await browser.page();
    await page.goto(server.address);
    await pick(page, ["Band saw"]);
    await tools_down(page);
    await page.getByRole("button", { name: "Done", exact: true }).click();
    await page.locator(".saying", { hasText: "Saved:" }).waitFor();
    await browser.kill();

    browser = await browser_on(profile);
    const again = await browser.page();
    await again.goto(server.address);
    await again.locator(".progress-line .count", { hasText: /^1 of/ }).waitFor();
    // With all that is to be known of a duty, though what the page itself kept may be gone.
    await again.locator(".big-duty .care, .big-duty .why, .big-duty .steps").first().waitFor();
    const lines = await history(again, server.address);
    assert.match(lines[0], /Done/);
    assert.match(lines[1], /Session ended/);
  });

  it("lets one tab write, and another take over", async () => {
    const first = await browser.page();
    await first.goto(server.address);
    await first.locator(".saving-chip").waitFor();
    const second = await browser.page();
    await second.goto(server.address);
    await second.getByRole("heading", { name: "Chipfall is open in another tab" }).waitFor();
    await second.getByRole("button", { name: "Use it here" }).click();
    await second.locator(".saving-chip").waitFor();
    await first.getByRole("heading", { name: "Chipfall is open in another tab" }).waitFor();
  });

  it("waits for a page that is still on its way out, however long that takes, and says nothing false", async () => {
    // What a page leaves behind on a busy phone: the lock and the files, and nobody who answers.
    const left = await browser.page();
    // Nothing of the page's own, at its origin.
    await left.route("**/authority", (route) => route.fulfill({ contentType: "text/html", body: "<p>left</p>" }));
    await left.goto(`${server.address}/authority`);
    await left.evaluate(async () => {
      const top = await navigator.storage.getDirectory();
      const folder = await top.getDirectoryHandle("chipfall", { create: true });
      await folder.getFileHandle("ledger.sqlite3", { create: true });
      const work = `onmessage = async () => {
        const folder = await (await navigator.storage.getDirectory()).getDirectoryHandle("chipfall");
        const handle = await (await folder.getFileHandle("ledger.sqlite3")).createSyncAccessHandle();
        postMessage("held");
        setTimeout(() => handle.close(), 8000);
      }`;
      const worker = new Worker(URL.createObjectURL(new Blob([work])));
      await new Promise((held) => {
        worker.onmessage = held;
        worker.postMessage("");
      });
      void navigator.locks.request("chipfall-core", () => new Promise((free) => setTimeout(free, 4000)));
    });
    const page = await browser.page();
    await page.goto(server.address);
    await page.locator(".saving-chip").waitFor();
    assert.equal(await page.getByRole("heading", { name: "Chipfall is open in another tab" }).count(), 0);
    await left.close();
  });

  it("is shown in the light that the person chose, whatever the phone's is", async () => {
    const page = await browser.page();
    const paper = () => page.evaluate(() => getComputedStyle(document.documentElement).getPropertyValue("--paper"));
    await page.goto(`${server.address}/#/phone`);
    const choose = (name) => page.getByRole("group", { name: "Light" }).getByRole("button", { name, exact: true }).click();
    for (const colorScheme of ["light", "dark"]) {
      await page.emulateMedia({ colorScheme });
      await choose("Dark");
      await page.waitForFunction(() => getComputedStyle(document.documentElement).colorScheme === "dark");
      assert.equal((await paper()).trim(), "#1d1813");
      await page.reload();
      await page.locator(".saving-chip").waitFor();
      assert.equal((await paper()).trim(), "#1d1813");
      await choose("Paper");
      await page.waitForFunction(() => getComputedStyle(document.documentElement).colorScheme === "light");
      assert.equal((await paper()).trim(), "#f4ecdd");
    }
    await page.emulateMedia({ colorScheme: "dark" });
    await choose("As the phone");
    await page.waitForFunction(() => getComputedStyle(document.documentElement).colorScheme === "dark");
  });

  it("says so where nothing can be kept", async () => {
    const page = await browser.page();
    await page.addInitScript(() => {
      navigator.storage.getDirectory = () => Promise.reject(new DOMException("no", "SecurityError"));
      delete StorageManager.prototype.getDirectory;
      Object.defineProperty(navigator, "storage", { value: {} });
    });
    await page.goto(server.address);
    await page.getByRole("heading", { name: "Nothing can be kept here" }).waitFor();
  });
});
