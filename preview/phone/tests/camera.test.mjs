// Joining by the camera: the browser's own fake camera sees what the hub draws in the terminal.
import { after, before, describe, it } from "node:test";
import assert from "node:assert/strict";
import { forget, plain_browser, temporary } from "./browser.mjs";
import { camera_file, camera_flags } from "./camera.mjs";
import { hub_in, there_is_a_hub } from "./hub.mjs";

const pictures = process.env.CHIPFALL_SCREENS; // a folder
const soon = { timeout: 30_000 };

describe("joining by the camera", { skip: there_is_a_hub ? false : "no chipfall-hub is built" }, () => {
  let work, hub, browser;
  before(async () => {
    work = temporary("camera");
    hub = await hub_in(`${work}/data`);
  });
  after(async () => {
    await browser?.close();
    await hub.end();
    forget(work);
  });
  const phone_with_camera = async (rows, adjust) => {
    camera_file(`${work}/camera.y4m`, rows);
    await browser?.close();
    browser = await plain_browser(camera_flags(`${work}/camera.y4m`));
    const context = await browser.newContext({ locale: "en-US", viewport: { width: 360, height: 740 } });
    const page = await context.newPage();
    if (adjust) await page.addInitScript(adjust);
    await page.goto(`${hub.address}/#/join`);
    await page.getByRole("heading", { name: "Join a shop" }).waitFor();
    return page;
  };
  const join = async (page, code) => {
    await page.getByRole("button", { name: "Scan the code" }).click();
    await page.getByRole("button", { name: "Join", exact: true }).click(soon);
    await page.getByRole("heading", { name: /Welcome to/ }).waitFor(soon);
    assert.ok(code.length > 50);
  };

  it("works where the browser reads no codes itself, by a library fetched only then", async () => {
    const { text, rows } = hub.drawn_code("member");
    const page = await phone_with_camera(rows);
    assert.equal(await page.evaluate(() => typeof BarcodeDetector), "undefined");
    // Installing the service worker fetches all files; the page itself asks for none of it before.
    const scripts = () => page.evaluate(() => performance.getEntriesByType("resource").map((one) => one.name));
    assert.ok(!(await scripts()).some((name) => /decode/.test(name)));
    await join(page, text);
    assert.ok((await scripts()).some((name) => /decode/.test(name)));
    const listed = hub.run("devices");
    assert.match(listed, /member/);
  });

  it("uses the browser's own reader where there is one", async () => {
    const { text, rows } = hub.drawn_code("closer");
    const page = await phone_with_camera(rows, `
      window.BarcodeDetector = class {
        static getSupportedFormats() { return Promise.resolve(["qr_code"]); }
        detect(screen) { return Promise.resolve(screen.videoWidth > 0 ? [{ rawValue: ${JSON.stringify(text)} }] : []); }
      };`);
    await join(page, text);
    const scripts = await page.evaluate(() => performance.getEntriesByType("resource").map((one) => one.name));
    assert.ok(!scripts.some((name) => /decode/.test(name)));
  });

  it("goes on looking while no code of a hub is in view", async () => {
    const page = await phone_with_camera(["█▀▄█", "▄█▀█"]);
    await page.getByRole("button", { name: "Scan the code" }).click();
    await page.locator("video.camera").waitFor();
    await page.waitForTimeout(1000);
    assert.equal(await page.locator(".trouble").count(), 0);
    if (pictures) {
      await page.screenshot({ path: `${pictures}/camera-360.png` });
      await page.evaluate(() => (document.documentElement.style.fontSize = "200%"));
      await page.screenshot({ path: `${pictures}/camera-360-large.png` });
    }
    await page.getByRole("button", { name: "Close" }).click();
    await page.getByRole("heading", { name: "Join a shop" }).waitFor();
  });

  it("says what to do where the camera is refused", async () => {
    const { rows } = hub.drawn_code("member");
    const page = await phone_with_camera(rows, `
      navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException("no", "NotAllowedError"));`);
    await page.getByRole("button", { name: "Scan the code" }).click();
    await page.getByRole("dialog").locator(".trouble").waitFor();
  });
});
