// A browser that trusts the shop's own authority, and nothing else: full verification, no exceptions.
import { after, before, describe, it } from "node:test";
import assert from "node:assert/strict";
import { createServer } from "node:https";
import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { spawnSync } from "node:child_process";
import { browser_on, forget, temporary } from "./browser.mjs";
import { hub_in, there_is_a_hub } from "./hub.mjs";

function run(program, ...words) {
  const ran = spawnSync(program, words);
  if (ran.status !== 0) throw new Error(`${program} ${words.join(" ")}\n${ran.stderr}`);
}
const there_is_certutil = spawnSync("certutil", ["-H"]).error === undefined;
const missing = !there_is_a_hub
  ? "no chipfall-hub is built"
  : !there_is_certutil && "no certutil is here (libnss3-tools)";

/** A certificate for another name, signed with the key of the shop's authority that somebody stole. */
function forge(folder, data, alternative) {
  const request = ["req", "-new", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes",
    "-subj", "/CN=forged", "-keyout", join(folder, "forged.key"), "-out", join(folder, "forged.csr")];
  run("openssl", ...request);
  const extensions = join(folder, "forged.cnf");
  writeFileSync(extensions, `subjectAltName=${alternative}\nextendedKeyUsage=serverAuth\n`);
  run("openssl", "x509", "-req", "-in", join(folder, "forged.csr"), "-days", "30", "-extfile", extensions,
    "-CA", join(data, "authority-issuing.crt"), "-CAkey", join(data, "authority-issuing.key"),
    "-out", join(folder, "forged.crt"));
  return {
    key: readFileSync(join(folder, "forged.key")),
    cert: readFileSync(join(folder, "forged.crt")) + readFileSync(join(data, "authority-issuing.crt")),
  };
}

describe("the shop's own authority", { skip: missing }, () => {
  let work, hub, browser;
  before(async () => {
    work = temporary("authority");
    hub = await hub_in(`${work}/data`);
    hub.run("authority", "--name", "localhost");
    const home = `${work}/home/.pki/nssdb`;
    mkdirSync(home, { recursive: true });
    run("certutil", "-d", `sql:${home}`, "-N", "--empty-password");
  });
  after(async () => {
    await browser?.close();
    await hub.end();
    forget(work);
  });
  const open = async () => {
    await browser?.close();
    browser = await browser_on(`${work}/profile`, [], `${work}/home`);
  };
  const why_not = async (address) => {
    const page = await browser.page();
    const failure = await page.goto(address).then(() => "opened", (error) => error.message);
    await page.close();
    return /net::\w+/.exec(failure)?.[0] ?? failure;
  };
  /** The hub shows what the command made within a second or two. */
  const shown = async () => {
    for (let tries = 0; tries < 50; ++tries) {
      const answer = spawnSync("curl", ["-s", "--cacert", `${work}/data/authority.crt`, `${hub.secure}/healthz`]);
      if (String(answer.stdout) === "ok\n") return;
      await new Promise((later) => setTimeout(later, 100));
    }
    throw new Error("curl does not believe the hub with the authority's file alone");
  };

  it("is not believed before it is installed", async () => {
    await shown();
    await open();
    assert.equal(await why_not(hub.secure), "net::ERR_CERT_AUTHORITY_INVALID");
  });

  it("once installed, the page opens, its service worker registers, and it starts without the hub", async () => {
    // As a phone: what it installs is what the hub gives out.
    const file = `${work}/fetched.crt`;
    run("curl", "-s", "-k", "-o", file, `${hub.secure}/authority.crt`);
    run("certutil", "-d", `sql:${work}/home/.pki/nssdb`, "-A", "-t", "C,,", "-n", "shop", "-i", file);
    await open();
    const page = await browser.page();
    const index = await page.goto(hub.secure);
    assert.equal(index.headers()["content-encoding"], "br");
    await page.getByRole("heading", { name: "What to clean" }).waitFor();
    await page.evaluate(() => navigator.serviceWorker.ready.then(() => {}));
    // The steps are the hub's, not covered up by the page.
    await page.goto(`${hub.secure}/authority`);
    const fingerprint = await page.locator("code").innerText();
    assert.ok(hub.run("authority", "--no-qr").replace(/\s+/g, " ").includes(fingerprint));
    await hub.stop();
    await page.goto(hub.secure);
    await page.getByRole("heading", { name: "What to clean" }).waitFor();
    await hub.start();
    await page.close();
  });

  it("a phone with it joins over wss and syncs", async () => {
    const page = await browser.page();
    await page.goto(`${hub.secure}/#${hub.code("member")}`);
    await page.getByRole("button", { name: "Join", exact: true }).click();
    await page.getByRole("heading", { name: /Welcome to/ }).waitFor({ timeout: 30_000 });
  });

  it("whoever steals its key cannot show this browser another name's page", async () => {
    const served = async (alternative) => {
      const server = createServer(forge(work, `${work}/data`, alternative), (_, response) => response.end("forged"));
      await new Promise((listening) => server.listen(0, "127.0.0.1", listening));
      return server;
    };
    const own = await served("DNS:localhost");
    assert.equal(await why_not(`https://localhost:${own.address().port}`), "opened");
    own.close();
    const other = await served("IP:127.0.0.1");
    // Signed by whom it trusts, so what is wrong is the name that was signed.
    assert.equal(await why_not(`https://127.0.0.1:${other.address().port}`), "net::ERR_CERT_INVALID");
    other.close();
  });
});
