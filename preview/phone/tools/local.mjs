// The hub on plain http://localhost, for trying the page out on the computer that runs the hub:
// browsers trust localhost without a certificate, and no phone can reach it.
//
//   node tools/local.mjs HUB_PORT [PORT]
//
// The hub has to allow http://localhost:PORT among its origins.
import { createServer } from "node:http";
import { request as secure } from "node:https";
import { connect } from "node:tls";
import { pathToFileURL } from "node:url";

export function local(hub_port, port) {
  // The hub's own certificate is signed by nobody; what goes there stays on this computer.
  const hub = { host: "127.0.0.1", port: hub_port, rejectUnauthorized: false };
  const server = createServer((asked, answer) => {
    const passed_on = secure(
      { ...hub, method: asked.method, path: asked.url, headers: asked.headers },
      (answered) => {
        answer.writeHead(answered.statusCode, answered.headers);
        answered.pipe(answer);
      },
    );
    passed_on.on("error", () => answer.writeHead(502).end());
    asked.pipe(passed_on);
  });
  server.on("upgrade", (asked, socket, head) => {
    const to = connect(hub, () => {
      const lines = [`GET ${asked.url} HTTP/1.1`];
      for (let i = 0; i < asked.rawHeaders.length; i += 2) {
        lines.push(`${asked.rawHeaders[i]}: ${asked.rawHeaders[i + 1]}`);
      }
      to.write(`${lines.join("\r\n")}\r\n\r\n`);
      to.write(head);
      socket.pipe(to).pipe(socket);
    });
    const end = () => {
      socket.destroy();
      to.destroy();
    };
    for (const one of [socket, to]) one.on("error", end).on("close", end);
  });
  return new Promise((listening) => {
    server.listen(port, "127.0.0.1", () =>
      listening({
        port: server.address().port,
        address: `http://localhost:${server.address().port}`,
        stop: () =>
          new Promise((stopped) => {
            server.closeAllConnections();
            server.close(stopped);
          }),
      }),
    );
  });
}

if (import.meta.url === pathToFileURL(process.argv[1]).href) {
  const [hub_port, port] = process.argv.slice(2).map(Number);
  console.log((await local(hub_port, port ?? 0)).address);
}
