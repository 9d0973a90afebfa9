// Minutes of duties: counted since each was opened, or as the person says.
import { after, before, describe, it } from "node:test";
import assert from "node:assert/strict";
import { fromBinary } from "@bufbuild/protobuf";
import { demo_sheet, forget, page_folder, plain_browser, temporary } from "./browser.mjs";
import { serve } from "./serving.mjs";
import { begin_with_sheet, pick, tools_down } from "./steps.mjs";
import { described } from "../tools/messages.mjs";

describe("the minutes that a duty took", () => {
  let server, work, sheet, browser, request;
  before(async () => {
    work = temporary("timed");
    sheet = demo_sheet(work);
    server = await serve(() => page_folder);
    browser = await plain_browser();
    request = described().getMessage("chipfall.proto.Request");
  });
  after(async () => {
    await browser.close();
    await server.stop();
    forget(work);
  });

  it("go to the core by the clock since the duty was opened, or as they were set", async () => {
    const page = await browser.newPage({ locale: "en-US" });
    await page.addInitScript(() => {
      window.asked = [];
      const post = Worker.prototype.postMessage;
      Worker.prototype.postMessage = function (question, ...more) {
        if (question.kind === "call") window.asked.push([...question.request]);
        return post.call(this, question, ...more);
      };
      const now = Date.now.bind(Date);
      let ahead_ms = 0;
      window.wait_minutes = (minutes) => (ahead_ms += minutes * 60_000);
      Date.now = () => now() + ahead_ms;
    });
    const done = async () => {
      const before_ = await page.locator(".progress-line .count").innerText();
      await page.getByRole("button", { name: "Done", exact: true }).click();
      await page.waitForFunction(
        (text) => document.querySelector(".progress-line .count").innerText !== text,
        before_,
      );
      const records = (await page.evaluate(() => window.asked))
        .map((bytes) => fromBinary(request, Uint8Array.from(bytes)).ask)
        .filter((ask) => ask.case === "record" && ask.value.what.case === "done");
      return records.at(-1).value;
    };
    await begin_with_sheet(page, server.address, sheet);
    await pick(page, ["Table saw", "Thickness planer"]);
    await tools_down(page);

    await page.evaluate(() => window.wait_minutes(4));
    const timed = await done();
    assert.ok(timed.clockMinutes >= 4 && timed.clockMinutes < 5, `${timed.clockMinutes} min`);
    assert.equal(timed.what.value.minutes, undefined);

    await page.evaluate(() => window.wait_minutes(6));
    await page.getByRole("button", { name: /more.*Minutes it took|Minutes it took.*more/i }).click();
    await page.locator(".stepper-value", { hasText: /^\d+ min$/ }).waitFor();
    const shown = Number.parseInt(await page.locator(".stepper-value").innerText(), 10);
    const said = await done();
    assert.equal(said.what.value.minutes, shown);
    assert.equal(said.clockMinutes, undefined);

    const next = await done(); // counts from when the one before it was ended
    assert.ok(next.clockMinutes < 1, `${next.clockMinutes} min`);
  });
});
