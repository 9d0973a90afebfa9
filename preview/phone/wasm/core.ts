// Chipfall's core in WebAssembly, as the page sees it: bytes of Request in, bytes of Response out.
//
// Everything here is synchronous once the core is open, so it belongs into a worker (worker.ts).
// When `call` answers that something was recorded, the browser's storage has it on the disk.
// A CoreDied ends this core: what was recorded before is safe; open another one on the same folder.

import { type Folder, type StoredFile, isFull } from "./folder.js";

export interface CoreOptions {
  /// The compiled core.wasm.
  module: WebAssembly.Module;
  /// Absent: nothing is kept, and recording is refused.
  folder?: Folder;
  /// ms since 1970 in UTC; Date.now where absent.
  now?: () => number;
  /// Fills with bytes that nobody can guess; crypto.getRandomValues where absent.
  random?: (into: Uint8Array) => void;
}

export interface Core {
  /// The serialized Response to a serialized Request.
  call(request: Uint8Array): Uint8Array;
  /// Whether the folder had no room for what the last call wrote. Its answer has mistakes then, whose
  /// text is SQLite's; a page says it in its own words.
  hadNoRoom(): boolean;
  /// A number that changes whenever a screen may have to be drawn anew.
  poll(): number;
  /// The rules of a time zone, as compiled zone file; to be given before the sheet is loaded.
  giveZone(name: string, bytes: Uint8Array): void;
  readonly version: string;
  /// Closes the ledger, and the folder with it.
  close(): void;
}

/// The core did not open; `response` is a serialized Response with the mistakes.
export class NotOpened extends Error {
  constructor(readonly response: Uint8Array) {
    super("the core did not open");
    this.name = "NotOpened";
  }
}

/// Memory ran out, or the core has a defect.
export class CoreDied extends Error {
  constructor(cause: unknown) {
    super(`the core ended: ${cause instanceof Error ? cause.message : String(cause)}`);
    this.name = "CoreDied";
  }
}

interface Exports {
  memory: WebAssembly.Memory;
  _initialize(): void;
  reserve(size: number): number;
  release(bytes: number): void;
  open(withLedger: number): number;
  call(request: number, size: number): number;
  answer(): number;
  answer_size(): number;
  poll(): number;
  zone_rules(name: number, nameSize: number, bytes: number, size: number): number;
  close(): void;
  version(): number;
  live(): number;
}

const ok = 0;
const notOpened = 3; // CF_NOT_OPENED
const failed = -1; // kPageFailed of browser.h
const full = -2; // kPageFull
const mostRandomBytes = 65536; // of one crypto.getRandomValues

function randomOfBrowser(into: Uint8Array): void {
  for (let at = 0; at < into.length; at += mostRandomBytes) {
    const some = new Uint8Array(Math.min(mostRandomBytes, into.length - at));
    into.set(crypto.getRandomValues(some), at);
  }
}

/// What the core imports: the functions of browser.h.
function imports(
  options: CoreOptions,
  exports: () => Exports,
  noRoom: () => void,
): WebAssembly.Imports {
  const now = options.now ?? Date.now;
  const random = options.random ?? randomOfBrowser;
  const open: StoredFile[] = [];
  const decoder = new TextDecoder();
  const bytes = (at: number, size: number) => new Uint8Array(exports().memory.buffer, at, size);
  const named = (at: number, size: number) =>
    options.folder?.file(decoder.decode(bytes(at, size).slice()));

  // What failed, by its kind; the person reads what SQLite makes of it.
  const tried = (work: () => number): number => {
    try {
      return work();
    } catch (failure) {
      if (!isFull(failure)) return failed;
      noRoom();
      return full;
    }
  };
  const ask = {
    now: () => Math.floor(now()),
    random: (at: number, size: number) =>
      tried(() => {
        const fresh = new Uint8Array(size);
        random(fresh);
        bytes(at, size).set(fresh);
        return 0;
      }),
    open: (name: number, size: number) => {
      const file = named(name, size);
      return file ? open.push(file) - 1 : failed;
    },
    close: () => {}, // the folder's owner closes it
    exists: (name: number, size: number) =>
      tried(() => ((named(name, size)?.size() ?? 0) > 0 ? 1 : 0)),
    remove: (name: number, size: number) =>
      tried(() => {
        const file = named(name, size);
        if (file && file.size() > 0) {
          file.truncate(0);
          file.flush();
        }
        return 0;
      }),
    read: (file: number, at: number, size: number, from: number) =>
      tried(() => open[file]!.read(bytes(at, size), from)),
    write: (file: number, at: number, size: number, to: number) =>
      tried(() => {
        open[file]!.write(bytes(at, size), to);
        return 0;
      }),
    truncate: (file: number, size: number) =>
      tried(() => {
        open[file]!.truncate(size);
        return 0;
      }),
    flush: (file: number) =>
      tried(() => {
        open[file]!.flush();
        return 0;
      }),
    size: (file: number) => tried(() => open[file]!.size()),
  };
  const system = ofTheSystem(options.module, exports);
  return { chipfall: ask, env: system, wasi_snapshot_preview1: system };
}

/// What the C library asks of a system. There is none: no variables, no files but the ledger's, and
/// what it would say on standard error is said by the answers. Everything else ends the core.
function ofTheSystem(module: WebAssembly.Module, exports: () => Exports): WebAssembly.ModuleImports {
  const notAFile = 8; // WASI's errno badf
  const known: WebAssembly.ModuleImports = {
    emscripten_notify_memory_growth: () => {},
    environ_sizes_get(count: number, size: number) {
      const memory = new DataView(exports().memory.buffer);
      memory.setUint32(count, 0, true);
      memory.setUint32(size, 0, true);
      return 0;
    },
    environ_get: () => 0,
    fd_write: () => notAFile,
  };
  const asked = WebAssembly.Module.imports(module).filter((one) => one.module !== "chipfall");
  return Object.fromEntries(
    asked.map(({ name }) => [
      name,
      known[name] ??
        (() => {
          throw new Error(`it asked for ${name}`);
        }),
    ]),
  );
}

export async function openCore(options: CoreOptions): Promise<Core> {
  let exports: Exports | undefined;
  let core: OpenCore | undefined;
  const instance = await WebAssembly.instantiate(
    options.module,
    imports(
      options,
      () => exports!,
      () => core?.foundNoRoom(),
    ),
  );
  exports = instance.exports as unknown as Exports;
  core = new OpenCore(exports, options.folder);
  return core;
}

class OpenCore implements Core {
  readonly version: string;
  private dead: CoreDied | undefined;
  private noRoom = false;

  constructor(
    private readonly core: Exports,
    private readonly folder: Folder | undefined,
  ) {
    let status = ok;
    this.guarded(() => {
      core._initialize();
      status = core.open(folder ? 1 : 0);
    });
    if (status !== ok) {
      const response = this.answer();
      folder?.close();
      if (status === notOpened) throw new NotOpened(response);
      throw new CoreDied(`opening it gave status ${status}`);
    }
    this.version = this.text(core.version());
  }

  foundNoRoom(): void {
    this.noRoom = true;
  }
  hadNoRoom(): boolean {
    return this.noRoom;
  }

  call(request: Uint8Array): Uint8Array {
    this.noRoom = false;
    const status = this.guarded(() =>
      this.given(request, (at) => this.core.call(at, request.length)),
    );
    if (status !== ok) throw this.died(new Error(`a call gave status ${status}`));
    return this.answer();
  }

  poll(): number {
    return this.guarded(() => this.core.poll());
  }

  giveZone(name: string, bytes: Uint8Array): void {
    const named = new TextEncoder().encode(name);
    const status = this.guarded(() =>
      this.given(named, (n) =>
        this.given(bytes, (b) => this.core.zone_rules(n, named.length, b, bytes.length)),
      ),
    );
    if (status !== ok) throw new Error(`these are no rules of a time zone: ${name}`);
  }

  close(): void {
    if (!this.dead) this.guarded(() => this.core.close());
    this.dead ??= new CoreDied("it was closed");
    this.folder?.close();
  }

  /// The work's result; what ends it ends the core, whose memory may be in any state.
  private guarded<T>(work: () => T): T {
    if (this.dead) throw this.dead;
    try {
      return work();
    } catch (failure) {
      throw this.died(failure);
    }
  }

  private died(failure: unknown): CoreDied {
    this.dead ??= new CoreDied(failure);
    this.folder?.close();
    return this.dead;
  }

  private given<T>(bytes: Uint8Array, work: (at: number) => T): T {
    const at = this.core.reserve(bytes.length);
    new Uint8Array(this.core.memory.buffer, at, bytes.length).set(bytes);
    const result = work(at);
    this.core.release(at);
    return result;
  }

  private answer(): Uint8Array {
    const { memory } = this.core;
    return new Uint8Array(memory.buffer, this.core.answer(), this.core.answer_size()).slice();
  }

  private text(at: number): string {
    const bytes = new Uint8Array(this.core.memory.buffer, at);
    return new TextDecoder().decode(bytes.slice(0, bytes.indexOf(0)));
  }
}
