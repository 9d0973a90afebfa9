// Two phones and a coordinator through a real hub, which also serves the page.
import { after, before, describe, it } from "node:test";
import assert from "node:assert/strict";
import { demo_sheet, forget, plain_browser, temporary } from "./browser.mjs";
import { hub_in, there_is_a_hub } from "./hub.mjs";
import { begin_with_sheet, pick, tools_down } from "./steps.mjs";

const soon = { timeout: 30_000 };

describe("phones that agree", { skip: there_is_a_hub ? false : "no chipfall-hub is built" }, () => {
  let work, hub, browser;
  before(async () => {
    work = temporary("hub");
    hub = await hub_in(`${work}/data`);
    browser = await plain_browser();
  });
  after(async () => {
    await browser.close();
    await hub.end();
    forget(work);
  });

  const phone = async () => {
    const context = await browser.newContext({ locale: "en-US", viewport: { width: 390, height: 844 } });
    return context.newPage();
  };
  const join = async (page, role) => {
    // As the camera opens it: the code behind the # of the hub's address.
    await page.goto(`${hub.address}/?${role}#${hub.code(role)}`);
    await page.getByRole("button", { name: "Join", exact: true }).click();
    await page.getByRole("heading", { name: /Welcome to/ }).waitFor(soon);
    await page.getByRole("button", { name: "Go on" }).click();
  };
  const at_hub = (page) =>
    page.locator(".saving-chip", { hasText: "all at the hub" }).waitFor(soon);

  it("sync through a hub that is stopped and started in between", async () => {
    const coordinator = await phone();
    await begin_with_sheet(coordinator, hub.address, demo_sheet(work));
    await join(coordinator, "coordinator");
    await at_hub(coordinator);

    const first = await phone();
    await join(first, "member");
    await first.getByRole("heading", { name: "What did you run?" }).waitFor(soon);
    const second = await phone();
    await join(second, "member");
    await second.getByRole("heading", { name: "What did you run?" }).waitFor(soon);
    // A member sees neither the closing nor the coordinator's view.
    assert.equal(await first.locator(".places a").count(), 2);

    await pick(first, ["Table saw"]);
    await tools_down(first);
    await at_hub(first);

    await hub.stop();
    await pick(second, ["Thickness planer"]);
    await tools_down(second);
    await second.getByRole("button", { name: "A bin is full" }).click();
    await second.getByRole("dialog").locator(".row-button").first().click();
    await second.getByRole("dialog").getByRole("button", { name: "Full", exact: true }).click();
    await second.locator(".saving-chip", { hasText: "2 to send" }).waitFor(soon);

    await hub.start();
    await second.evaluate(() => window.dispatchEvent(new Event("online")));
    await at_hub(second);
    await coordinator.evaluate(() => window.dispatchEvent(new Event("online")));
    await coordinator.goto(`${hub.address}/#/shop`);
    await coordinator.locator(".bin-card .tag", { hasText: "empty now" }).first().waitFor(soon);
    await coordinator.goto(`${hub.address}/#/phone`);
    await coordinator.locator(".history li", { hasText: "Session ended" }).nth(1).waitFor(soon);
  });

  it("is told when its code is not whole, used up or of another hub", async () => {
    const page = await phone();
    await page.goto(`${hub.address}/#/join`);
    await page.getByLabel("Code").fill("CF1*NOT*A*CODE");
    await page.getByRole("button", { name: "Next" }).click();
    await page.getByRole("alert").waitFor();
  });

  it("the hub's page comes with strict headers, packed, and is kept by its content", async () => {
    const answer = await fetch(`${hub.address}/`);
    assert.equal(answer.status, 200);
    const policy = answer.headers.get("content-security-policy");
    assert.match(policy, /default-src 'none'/);
    assert.doesNotMatch(policy, /unsafe-inline|'unsafe-eval'/);
    assert.equal(answer.headers.get("x-content-type-options"), "nosniff");
    assert.equal(answer.headers.get("referrer-policy"), "no-referrer");
    assert.equal(answer.headers.get("content-encoding"), "gzip");
    const again = await fetch(`${hub.address}/`, {
      headers: { "if-none-match": answer.headers.get("etag") },
    });
    assert.equal(again.status, 304);
    const script = /src="(\/assets\/[^"]+\.js)"/.exec(await answer.text())[1];
    const asset = await fetch(`${hub.address}${script}`);
    assert.match(asset.headers.get("content-type"), /text\/javascript/);
    assert.match(asset.headers.get("cache-control"), /immutable/);
    assert.equal((await fetch(`${hub.address}/no-such-file`)).status, 404);
    assert.equal((await fetch(`${hub.address}/..%2fkey.pem`)).status, 404);
  });
});
