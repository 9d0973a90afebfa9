// A real hub for the tests, that can be stopped and started again.
import { spawn, spawnSync } from "node:child_process";
import { createServer } from "node:net";
import { existsSync } from "node:fs";
import { join } from "node:path";
import { page_folder, root } from "./browser.mjs";
import { local } from "../tools/local.mjs";

const program = process.env.CHIPFALL_HUB ?? join(root, "build/sync/chipfall-hub");
export const there_is_a_hub = existsSync(program);

function free_port() {
  return new Promise((found) => {
    const server = createServer().listen(0, "127.0.0.1", () => {
      const { port } = server.address();
      server.close(() => found(port));
    });
  });
}

export async function hub_in(folder) {
  const port = await free_port();
  const door_port = await free_port();
  const origin = `http://localhost:${door_port}`;
  const settings = ["--data", folder, "--port", String(port), "--address", "localhost"];
  let child;
  const hub = {
    port,
    address: origin,
    /** Without the door for plain http: as a phone reaches it. */
    secure: `https://localhost:${port}`,
    /** Another command of the hub, on its folder. */
    run(...words) {
      const ran = spawnSync(program, [words[0], "--data", folder, ...words.slice(1)]);
      if (ran.status !== 0) throw new Error(String(ran.stdout) + ran.stderr);
      return String(ran.stdout);
    },
    async start() {
      child = spawn(
        program,
        ["serve", ...settings, "--bind", "127.0.0.1", "--origins", origin, "--page", page_folder,
          "--shop-name", "Otter Bend"],
        { stdio: ["ignore", "pipe", "pipe"] },
      );
      let said = "";
      await new Promise((ready, failed) => {
        const hear = (bytes) => {
          said += bytes;
          if (/listening|serving|port=/.test(said)) ready();
        };
        child.stdout.on("data", hear);
        child.stderr.on("data", hear);
        child.on("exit", () => failed(new Error(`the hub did not start:\n${said}`)));
      });
    },
    async stop() {
      const over = new Promise((ended) => child.on("exit", ended));
      child.kill("SIGTERM");
      await over;
    },
    /** A code, and the picture of it that the coordinator holds before the camera, as rows of text. */
    drawn_code(role) {
      const made = spawnSync(program, ["join-code", ...settings, "--role", role]);
      const code = /CF1\*\S+/.exec(String(made.stdout));
      if (!code) throw new Error(String(made.stdout) + made.stderr);
      return { text: code[0], rows: String(made.stdout).split("\n").filter((row) => /[█▀▄]/.test(row)) };
    },
    code: (role) => hub.drawn_code(role).text,
  };
  await hub.start();
  const door = await local(port, door_port);
  hub.end = async () => {
    await door.stop();
    await hub.stop();
  };
  return hub;
}
