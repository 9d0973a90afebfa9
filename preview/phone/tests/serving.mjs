// Serves a built page as the hub does: types, packed files, caching and strict headers. For tests of
// the page alone, without a hub.
import { createServer } from "node:http";
import { existsSync, readFileSync, statSync } from "node:fs";
import { extname, join, normalize } from "node:path";

const types = {
  ".html": "text/html; charset=utf-8",
  ".js": "text/javascript; charset=utf-8",
  ".css": "text/css; charset=utf-8",
  ".svg": "image/svg+xml",
  ".png": "image/png",
  ".wasm": "application/wasm",
  ".webmanifest": "application/manifest+json",
};
const endings = { br: ".br", gzip: ".gz" };
export const policy =
  "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self'; " +
  "connect-src 'self' ws: wss:; manifest-src 'self'; worker-src 'self'; base-uri 'none'; " +
  "form-action 'none'; frame-ancestors 'none'";

/** A server of `folder()` on a free port of this machine; `port` again after a restart. */
export async function serve(folder, port = 0) {
  const server = createServer((request, response) => {
    const path = normalize(decodeURIComponent(new URL(request.url, "http://x").pathname));
    const file = join(folder(), path === "/" ? "index.html" : path);
    if (!existsSync(file) || !statSync(file).isFile()) {
      response.writeHead(404).end();
      return;
    }
    const takes = (coding) => new RegExp(`\\b${coding}\\b`).test(request.headers["accept-encoding"] ?? "");
    const coding = ["br", "gzip"].find((one) => takes(one) && existsSync(file + endings[one]));
    response.writeHead(200, {
      "content-type": types[extname(file)] ?? "application/octet-stream",
      "content-security-policy": policy,
      "x-content-type-options": "nosniff",
      "referrer-policy": "no-referrer",
      "cache-control": path.startsWith("/assets/") ? "public, max-age=31536000, immutable" : "no-cache",
      ...(coding ? { "content-encoding": coding } : {}),
    });
    response.end(readFileSync(file + (endings[coding] ?? "")));
  });
  await new Promise((listening) => server.listen(port, "127.0.0.1", listening));
  return {
    port: server.address().port,
    address: `http://localhost:${server.address().port}`,
    stop: () =>
      new Promise((stopped) => {
        server.closeAllConnections();
        server.close(stopped);
      }),
  };
}
