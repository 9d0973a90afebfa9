// A phone that does not trust the hub's certificate is told what that means.
import { after, before, describe, it } from "node:test";
import assert from "node:assert/strict";
import { page_folder, plain_browser } from "./browser.mjs";
import { faults_of_access, faults_of_layout } from "./faults.mjs";
import { serve } from "./serving.mjs";

const pictures = process.env.CHIPFALL_SCREENS; // a folder

describe("a phone without trust in the hub", () => {
  let server, browser;
  before(async () => {
    server = await serve(() => page_folder);
    browser = await plain_browser(["--host-resolver-rules=MAP hub.shop.example 127.0.0.1"]);
  });
  after(async () => {
    await browser.close();
    await server.stop();
  });
  const page_in = async (locale) =>
    (await browser.newContext({ locale, viewport: { width: 360, height: 740 } })).newPage();
  const look = async (page, name) => {
    assert.deepEqual([...(await faults_of_layout(page)), ...(await faults_of_access(page))], []);
    if (pictures) await page.screenshot({ path: `${pictures}/trust-${name}.png` });
  };

  for (const [locale, title, steps] of [
    ["en-US", "This connection is not a trusted one", "Steps for this phone"],
    ["es-ES", "Esta conexión no es de confianza", "Pasos para este teléfono"],
  ]) {
    it(`opened by plain http it says why it cannot work, and where the steps are (${locale})`, async () => {
      const page = await page_in(locale);
      await page.goto(`http://hub.shop.example:${server.port}/`);
      await page.getByRole("heading", { name: title }).waitFor();
      assert.equal(await page.getByRole("link", { name: steps }).getAttribute("href"), "/authority");
      await look(page, `${locale}-http`);
    });

    it(`past a warning it works, and says what it lacks (${locale})`, async () => {
      const page = await page_in(locale);
      await page.addInitScript(() => {
        // What Chromium says after "Proceed (unsafe)".
        ServiceWorkerContainer.prototype.register = () =>
          Promise.reject(new DOMException("An SSL certificate error occurred when fetching the script.", "SecurityError"));
      });
      await page.goto(server.address);
      await page.getByRole("heading", { name: /not trust the shop|no confía en el certificado/ }).waitFor();
      await page.getByRole("link", { name: steps }).waitFor();
      await look(page, `${locale}-welcome`);
      await page.goto(`${server.address}/#/phone`);
      await page.getByRole("link", { name: steps }).waitFor();
      await look(page, `${locale}-phone`);
    });
  }

  it("with trust nothing is said of it", async () => {
    const page = await page_in("en-US");
    await page.goto(server.address);
    await page.evaluate(() => navigator.serviceWorker.ready.then(() => {}));
    assert.equal(await page.getByText("certificate").count(), 0);
  });
});
