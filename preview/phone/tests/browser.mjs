// A real browser for the tests: Debian's Chromium, its own folder each time.
import { spawn, spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { chromium } from "playwright-core";

export const here = fileURLToPath(new URL("..", import.meta.url));
export const root = fileURLToPath(new URL("../../..", import.meta.url));
export const page_folder = process.env.CHIPFALL_PAGE ?? join(here, "dist");

const flags = [
  "--headless",
  "--no-sandbox",
  "--disable-gpu",
  "--disable-quic",
  "--no-first-run",
  "--disable-background-networking",
  "--disable-component-update",
  "--disable-sync",
  "--lang=en-US",
];

export function temporary(name) {
  return mkdtempSync(join(tmpdir(), `chipfall-${name}-`));
}

/** The demo shop's sheet as the bytes of its message, since a phone's core reads no text. */
export function demo_sheet(folder) {
  const ran = spawnSync("protoc", ["--encode=chipfall.proto.ShopSheet", "core/proto/shop.proto"], {
    cwd: root,
    input: spawnSync("cat", ["checklists/otter-bend.textproto"], { cwd: root }).stdout,
  });
  if (ran.status !== 0) throw new Error(String(ran.stderr));
  const file = join(folder, "otter-bend.binpb");
  writeFileSync(file, ran.stdout);
  return file;
}

/**
 * A browser of its own with what it stores in `profile`; `kill` is the sudden end. `home` is the folder
 * of whose authorities it takes into account (.pki/nssdb).
 */
export async function browser_on(profile, more = [], home = process.env.HOME) {
  const child = spawn(
    "/usr/bin/chromium",
    [...flags, `--user-data-dir=${profile}`, "--remote-debugging-port=0", ...more, "about:blank"],
    { stdio: ["ignore", "ignore", "pipe"], detached: true, env: { ...process.env, HOME: home } },
  );
  const address = await new Promise((found, failed) => {
    let said = "";
    child.stderr.on("data", (bytes) => {
      said += bytes;
      const match = /DevTools listening on (ws:\S+)/.exec(said);
      if (match) found(match[1]);
    });
    child.on("exit", () => failed(new Error(`the browser did not start:\n${said}`)));
  });
  const browser = await chromium.connectOverCDP(address);
  const context = browser.contexts()[0];
  const over = new Promise((ended) => child.on("exit", ended));
  return {
    context,
    page: () => context.newPage(),
    async kill() {
      process.kill(-child.pid, "SIGKILL");
      await over;
    },
    async close() {
      // Through the browser itself, so that it writes its profile to the end.
      const session = await browser.newBrowserCDPSession();
      await session.send("Browser.close").catch(() => {});
      await over;
    },
  };
}

/** A browser without a profile, for pages of many sizes. */
export async function plain_browser(more = []) {
  return chromium.launch({ executablePath: "/usr/bin/chromium", args: [...flags, ...more] });
}

export function forget(folder) {
  rmSync(folder, { recursive: true, force: true });
}

/** Fails a test when the page says anything is wrong with it. */
export function listen_for_faults(page, into) {
  page.on("pageerror", (error) => into.push(`error: ${error.message}`));
  page.on("console", (message) => {
    if (message.type() === "error") into.push(`console: ${message.text()}`);
  });
}
