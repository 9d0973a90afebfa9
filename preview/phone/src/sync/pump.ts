// Carries bytes between the core and the hub: what comes on the socket goes into the core, what the
// core answers goes out. When to connect, when to look again and when to give up, the core says.
import type { MessageInitShape } from "@bufbuild/protobuf";
import type { HubPlace, SyncEventSchema, SyncStep } from "../messages/core/proto/door_pb";
import { kept } from "../core/kept";
import type { Live } from "../core/live";
import { error_text } from "../core/live";

type Event = NonNullable<MessageInitShape<typeof SyncEventSchema>["what"]>;

/**
 * The hub's address for a browser. A page that came by plain HTTP (only from this very computer, see
 * tools/local.mjs) goes back to where it came from: there is no certificate for the hub's own port.
 */
export function socket_address(hub: HubPlace, page: { protocol: string; host: string }): string {
  const path = hub.path || "/";
  if (page.protocol === "http:") return `ws://${page.host}${path}`;
  const host = hub.host.includes(":") ? `[${hub.host}]` : hub.host;
  return `wss://${host.toLowerCase()}:${hub.port}${path}`;
}

class Pump {
  private socket: WebSocket | undefined;
  private timer: ReturnType<typeof setTimeout> | undefined;
  private stopped = false;
  /** Events go into the core one after the other, in the order in which they came. */
  private last: Promise<void> = Promise.resolve();

  constructor(private readonly live: Live) {}

  stop(): void {
    this.stopped = true;
    clearTimeout(this.timer);
    this.socket?.close();
  }

  happened(what: Event, from?: WebSocket): void {
    this.last = this.last.then(() => this.tell(what, from)).catch(() => {});
  }

  private async tell(what: Event, from: WebSocket | undefined): Promise<void> {
    // What an old socket still says is no longer of interest.
    if (this.stopped || (from !== undefined && from !== this.socket)) return;
    if (what.case === "closed") this.socket = undefined;
    try {
      const step = await this.live.ask("sync", {
        steadyMs: BigInt(Math.round(performance.now())),
        installation: kept.installation(),
        what,
      });
      this.follow(step);
    } catch (error) {
      this.live.say(error_text(error), true);
      const socket = this.socket;
      this.socket = undefined;
      socket?.close();
      if (socket && what.case !== "closed") this.happened({ case: "closed", value: {} });
    }
  }

  private follow(step: SyncStep): void {
    const socket = this.socket;
    if (socket?.readyState === WebSocket.OPEN) {
      for (const message of step.send) socket.send(message as Uint8Array<ArrayBuffer>);
    }
    if (step.close) socket?.close();
    if (step.state) this.live.sync = step.state;
    clearTimeout(this.timer);
    if (!socket && step.connectInMs !== undefined && step.hub) {
      const hub = step.hub;
      this.timer = setTimeout(() => this.connect(hub), Number(step.connectInMs));
    } else if (step.againInMs !== undefined) {
      this.timer = setTimeout(
        () => this.happened({ case: "passed", value: {} }),
        Number(step.againInMs),
      );
    }
    if (step.ledgerGrew) void this.live.refresh().catch(() => {});
    else this.live.tell();
  }

  private connect(hub: HubPlace): void {
    if (this.stopped || this.socket) return;
    let socket: WebSocket;
    try {
      socket = new WebSocket(socket_address(hub, location));
    } catch (error) {
      return this.happened({ case: "closed", value: { why: error_text(error) } });
    }
    this.socket = socket;
    socket.binaryType = "arraybuffer";
    socket.onopen = () => this.happened({ case: "opened", value: {} }, socket);
    socket.onmessage = (event) => {
      if (event.data instanceof ArrayBuffer) {
        this.happened({ case: "message", value: new Uint8Array(event.data) }, socket);
      }
    };
    socket.onclose = () => this.happened({ case: "closed", value: {} }, socket);
  }
}

/** Syncs from now on, at once whenever the page comes to the front or the network comes back. */
export function pump(live: Live): () => void {
  const one = new Pump(live);
  const passed = () => one.happened({ case: "passed", value: {} });
  const changed = () => one.happened({ case: "passed", value: { networkChanged: true } });
  const seen = () => document.visibilityState === "visible" && changed();
  live.recordedSomething = passed;
  window.addEventListener("online", changed);
  document.addEventListener("visibilitychange", seen);
  passed();
  return () => {
    window.removeEventListener("online", changed);
    document.removeEventListener("visibilitychange", seen);
    one.stop();
  };
}
