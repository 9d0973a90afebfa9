// What people see: both languages, both lights, three sizes, large text. CHIPFALL_SCREENS=FOLDER
// keeps the pictures.
import { after, before, describe, it } from "node:test";
import assert from "node:assert/strict";
import { mkdirSync, writeFileSync } from "node:fs";
import { browser_on, demo_sheet, forget, page_folder, plain_browser, temporary } from "./browser.mjs";
import { faults_of_access, faults_of_layout } from "./faults.mjs";
import { serve } from "./serving.mjs";
import { begin_with_sheet, pick, tools_down } from "./steps.mjs";

const pictures = process.env.CHIPFALL_SCREENS;

const sizes = [
  { width: 360, height: 740 },
  { width: 430, height: 930 },
  { width: 820, height: 1180 },
];
const variants = [
  { name: "en-light", locale: "en-US", colorScheme: "light", text: 100 },
  { name: "es-dark", locale: "es-ES", colorScheme: "dark", text: 100 },
];
const big = [
  { name: "large-200", locale: "en-US", colorScheme: "light", text: 200 },
  { name: "large-310", locale: "es-ES", colorScheme: "dark", text: 310 },
];

describe("the page as people see it", () => {
  let server, work, sheet, browser;
  before(async () => {
    work = temporary("looks");
    sheet = demo_sheet(work);
    server = await serve(() => page_folder);
    browser = await plain_browser();
    if (pictures) mkdirSync(pictures, { recursive: true });
  });
  after(async () => {
    await browser.close();
    await server.stop();
    forget(work);
  });

  const plain_page = async (run) => {
    const context = await browser.newContext({
      viewport: run.size,
      locale: run.locale,
      colorScheme: run.colorScheme,
      reducedMotion: "reduce",
      timezoneId: "America/Chicago",
    });
    return { page: await context.newPage(), close: () => context.close() };
  };
  /** As when the reader has set the browser's own text size: rem and the style sheet's widths follow. */
  const large_page = async (run) => {
    const profile = `${work}/${run.name}`;
    mkdirSync(`${profile}/Default`, { recursive: true });
    const size = Math.round((16 * run.text) / 100);
    const preferences = { webkit: { webprefs: { default_font_size: size } } };
    writeFileSync(`${profile}/Default/Preferences`, JSON.stringify(preferences));
    const large = await browser_on(profile);
    const page = await large.page();
    await page.setViewportSize(run.size);
    await page.emulateMedia({ colorScheme: run.colorScheme, reducedMotion: "reduce" });
    await page.addInitScript((language) => {
      localStorage.setItem("chipfall.language", language);
    }, run.locale.slice(0, 2));
    return { page, close: () => large.close() };
  };

  const runs = [
    ...sizes.flatMap((size) => variants.map((variant) => ({ size, ...variant }))),
    ...big.map((variant) => ({ size: sizes[0], ...variant })),
  ];
  for (const run of runs) {
    const title = `${run.name} at ${run.size.width}x${run.size.height}`;
    it(`is whole, reachable and readable: ${title}`, async () => {
      const { page, close } = await (run.text === 100 ? plain_page(run) : large_page(run));
      const wrong = [];
      const look = async (name) => {
        await page.waitForTimeout(150);
        const spot = (faults) => faults.map((fault) => `${name}: ${fault}`);
        wrong.push(...spot(await faults_of_layout(page)), ...spot(await faults_of_access(page)));
        if (pictures) {
          await page.screenshot({ path: `${pictures}/${run.name}-${run.size.width}-${name}.png` });
        }
      };
      await page.goto(server.address);
      await page.locator("h1").waitFor();
      await look("1-welcome");
      await begin_with_sheet(page, server.address, sheet);
      await look("2-pick");
      await pick(page, ["Table saw", "Thickness planer"]);
      await page.locator(".stepper .round").last().click();
      await page.locator(".short-list li").first().waitFor();
      await page.locator("main").evaluate((main) => main.scrollTo(0, 0));
      await look("3-picked");
      await page.locator(".picked .row-button").first().click();
      await look("4-stock");
      await page.keyboard.press("Escape");
      await tools_down(page);
      await page.locator(".saying .round").click();
      await look("5-one");
      await page.getByRole("button", { name: /Whole list|Lista entera/ }).click();
      await page.locator(".tick").nth(1).click();
      await page.locator(".duty-row.ended").waitFor();
      await page.locator(".duty-title").nth(2).click();
      await look("6-whole");
      await page.getByRole("button", { name: /^(Pass on|Pasar)$/ }).first().click();
      await look("7-reasons");
      await page.keyboard.press("Escape");
      await page.getByRole("button", { name: /^(Finish|Terminar)$/ }).click();
      await look("8-finish");

      await page.goto(`${server.address}/#/lock-up`);
      await page.locator(".tools-down-time").waitFor();
      await look("9-lock-up");
      await page.getByRole("button", { name: /Begin the walk|Empezar el recorrido/ }).click();
      await page.locator(".progress-line").waitFor();
      await look("10-walk");
      await page.getByRole("button", { name: /To the checks|A las comprobaciones/ }).first().click();
      await page.locator(".check").first().click();
      await look("11-checks");

      await page.goto(`${server.address}/#/phone`);
      await page.locator(".history li").first().waitFor();
      await look("12-phone");
      await page.getByRole("button", { name: /A bin is full|Un depósito está lleno/ }).click();
      await page.getByRole("dialog").locator(".row-button").first().click();
      await page.getByRole("dialog").getByRole("button", { name: /^(Full|Lleno)$/ }).click();
      await page.goto(`${server.address}/#/shop`);
      await page.locator(".bin-head").first().waitFor();
      await page.locator(".bin-head").first().click();
      await look("13-bins");
      for (const [i, name] of ["14-round", "15-notices", "16-dust"].entries()) {
        await page.locator(".choices").first().locator(".chip").nth(i + 1).click();
        await look(name);
      }
      await page.goto(`${server.address}/#/join`);
      await page.locator("textarea").waitFor();
      await look("17-join");
      await close();
      assert.deepEqual(wrong, []);
    });
  }

  it("says everything in Spanish, but what people and the sheet have named", async () => {
    const context = await browser.newContext({ locale: "es-ES", viewport: sizes[0] });
    const page = await context.newPage();
    await begin_with_sheet(page, server.address, sheet);
    await pick(page, ["Table saw"]);
    await tools_down(page);
    await page.getByRole("button", { name: "Lista entera" }).click();
    const text = await page.locator("main").innerText();
    for (const english of ["Done", "Pass on", "Tools down", "left open", "leave as found", "Bring hand tools"]) {
      assert.ok(!text.includes(english), `"${english}" in:\n${text}`);
    }
    await context.close();
  });
});
