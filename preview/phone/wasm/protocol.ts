// What the page and the core's worker say to each other. Each question has a number, which its
// answer brings back; answers come in the order of the questions.

export type Question =
  /// Opens the core on a folder of the browser's file system, by its name at the top. `wasm` is
  /// where core.wasm is to be had, or its bytes compiled.
  | { id: number; kind: "open"; wasm: string | WebAssembly.Module; folder?: string }
  | { id: number; kind: "call"; request: Uint8Array }
  | { id: number; kind: "poll" }
  | { id: number; kind: "zone"; name: string; bytes: Uint8Array }
  | { id: number; kind: "close" };

/// How something failed, by the name of what was thrown: FolderTaken (another tab has the ledger),
/// NotOpened (`response` is a serialized Response that says why), CoreDied (start the worker anew).
export interface Failure {
  name: string;
  message: string;
  response?: Uint8Array;
}

export type Answer =
  | { id: number; version: string }
  /// noRoom: the browser's storage had no room for what the call wrote.
  | { id: number; response: Uint8Array; noRoom: boolean }
  | { id: number; changes: number }
  | { id: number; done: true }
  | { id: number; failure: Failure };
