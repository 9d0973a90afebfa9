// How quick the page is on a processor six times slower than this one. Figures, no test: what they
// are depends on the machine and on what else it does.
import { demo_sheet, forget, page_folder, plain_browser, temporary } from "./browser.mjs";
import { serve } from "./serving.mjs";
import { begin_with_sheet, pick, tools_down } from "./steps.mjs";

const slower = 6;
const work = temporary("speed");
const server = await serve(() => page_folder);
const browser = await plain_browser();
const context = await browser.newContext({ viewport: { width: 390, height: 844 }, locale: "en-US" });
const page = await context.newPage();
await begin_with_sheet(page, server.address, demo_sheet(work));
await page.evaluate(() => navigator.serviceWorker.ready.then(() => {}));
const session = await context.newCDPSession(page);
await session.send("Emulation.setCPUThrottlingRate", { rate: slower });

const middle = (times) => [...times].sort((a, b) => a - b)[Math.floor(times.length / 2)];
const say = (what, times) => console.log(`${what}: ${middle(times).toFixed(0)} ms in the middle of ${times.length}`);

const openings = [];
for (let i = 0; i < 5; ++i) {
  const begun = performance.now();
  await page.reload({ waitUntil: "commit" });
  await page.locator(".pick-list .row-button").first().waitFor();
  openings.push(performance.now() - begun);
}
say("from the cache until machines can be picked", openings);

await pick(page, ["Table saw", "Thickness planer"]);
await tools_down(page);
await page.getByRole("button", { name: "Whole list" }).click();
// From the tap to the line that says done, in the page's own time.
const taps = [];
for (let i = 0; i < 11; ++i) {
  taps.push(
    await page.evaluate(
      () =>
        new Promise((saved) => {
          const before = document.querySelectorAll(".duty-row.ended").length;
          const begun = performance.now();
          new MutationObserver((_, watching) => {
            if (document.querySelectorAll(".duty-row.ended").length <= before) return;
            watching.disconnect();
            saved(performance.now() - begun);
          }).observe(document.body, { subtree: true, childList: true, attributes: true });
          document.querySelector(".tick").click();
        }),
    ),
  );
}
say("from a tap to saved", taps);
await browser.close();
await server.stop();
forget(work);
