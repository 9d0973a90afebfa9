// The core as the page sees it: bytes of messages in, bytes of messages out. Behind it is the door
// (core/door/chipfall.h) in WebAssembly, in a worker of its own.

export interface Core {
  /** Serialized Request in, serialized Response out. What was recorded is kept when this settles. */
  call(request: Uint8Array): Promise<Uint8Array>;
  /** Whether there was no room for what the call wrote that settled last. */
  had_no_room(): boolean;
  /** Grows whenever something on a screen may have changed. */
  poll(): Promise<number>;
  /** Gives the core the rules of the shop's time zone, once it has a shop. */
  learn_zone(): Promise<void>;
  /** Gives the storage free for another tab. */
  close(): Promise<void>;
}

/** Why there is no core, so that a person can do something about it. */
export type Trouble =
  | "elsewhere" // open in another tab
  | "no storage" // private mode, or an old browser: nothing would be kept
  | "full"
  | "damaged"
  | "not trusted" // no secure connection: plain http from another computer
  | "old browser"
  | "other";

export class NoCore extends Error {
  constructor(
    readonly trouble: Trouble,
    message: string,
  ) {
    super(message);
  }
}
