// What makes a screen hard to use: for screen readers, for thumbs, for narrow phones.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");
const least_target_px = 44; // 48 less the half-pixels of a border; WCAG 2.2 asks for 24

export async function faults_of_access(page) {
  // By the debugger's own way in, which the page's policy on scripts does not reach.
  const session = await page.context().newCDPSession(page);
  await session.send("Runtime.evaluate", { expression: axe });
  const { result } = await session.send("Runtime.evaluate", {
    expression:
      "axe.run(document, { resultTypes: ['violations'] }).then(found => JSON.stringify(found.violations" +
      ".map(v => v.id + ': ' + v.nodes.map(n => n.target.join(' ') + ' ' + n.html.slice(0, 90)).join(' | '))))",
    awaitPromise: true,
    returnByValue: true,
  });
  return JSON.parse(result.value);
}

/** Things to tap that are too small, and things that stand out at the side. */
export function faults_of_layout(page) {
  return page.evaluate((least) => {
    const found = [];
    const shown = (element) => element.checkVisibility() && element.getClientRects().length > 0;
    for (const element of document.querySelectorAll("button, a, input, textarea, [role=switch]")) {
      if (!shown(element) || element.closest("label.file")) continue;
      const { width, height } = element.getBoundingClientRect();
      if (height < least || width < least) {
        found.push(`small (${Math.round(width)}x${Math.round(height)}): ${element.outerHTML.slice(0, 100)}`);
      }
    }
    const wide = document.documentElement.clientWidth;
    if (document.documentElement.scrollWidth > wide) found.push("the page scrolls sideways");
    const main = document.querySelector("main");
    if (main.scrollWidth > main.clientWidth) found.push("the middle scrolls sideways");
    for (const element of document.querySelectorAll("main *, header *, nav *")) {
      if (!shown(element)) continue;
      const box = element.getBoundingClientRect();
      if (box.width > 0 && (box.right > wide + 1 || box.left < -1)) {
        found.push(`beyond the edge: ${element.outerHTML.slice(0, 100)}`);
      }
      const style = getComputedStyle(element);
      if (element.matches(".unseen, .file input")) continue;
      if (style.overflowX !== "visible" && element.scrollWidth > element.clientWidth + 1 && element !== main) {
        found.push(`clipped: ${element.outerHTML.slice(0, 100)}`);
      }
    }
    return found.slice(0, 8);
  }, least_target_px);
}
