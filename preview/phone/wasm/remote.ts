import type { Answer, Failure, Question } from "./protocol.js";

/// What a Worker is to this file; Node's and a test's stand-ins are as well.
interface Post {
  postMessage(question: Question): void;
  onmessage: ((event: MessageEvent<Answer>) => void) | null;
  onerror: ((event: ErrorEvent) => void) | null;
  terminate(): void;
}

/// Something failed in the worker; `name` as in protocol.ts.
export class CoreFailure extends Error {
  readonly response: Uint8Array | undefined;
  constructor(failure: Failure) {
    super(failure.message);
    this.name = failure.name;
    this.response = failure.response;
  }
}

type Asked = Question extends infer Q ? (Q extends Question ? Omit<Q, "id"> : never) : never;

/// The core as the page's own thread calls it, through the worker that has it.
export class RemoteCore {
  private next = 1;
  private readonly waiting = new Map<number, { to: (a: Answer) => void; no: (e: Error) => void }>();
  private broken: CoreFailure | undefined;
  /// Whether there was no room for what the call wrote that settled last.
  noRoom = false;

  constructor(private readonly worker: Post) {
    worker.onmessage = ({ data }) => {
      const asked = this.waiting.get(data.id);
      this.waiting.delete(data.id);
      if ("failure" in data) asked?.no(new CoreFailure(data.failure));
      else asked?.to(data);
    };
    worker.onerror = (event) => {
      this.broken = new CoreFailure({ name: "CoreDied", message: event.message });
      for (const { no } of this.waiting.values()) no(this.broken);
      this.waiting.clear();
    };
  }

  /// Opens the core; `folder` names where its ledger is kept. The version of the core.
  async open(wasm: string | WebAssembly.Module, folder?: string): Promise<string> {
    const where = folder === undefined ? {} : { folder };
    const answer = await this.ask({ kind: "open", wasm, ...where });
    return "version" in answer ? answer.version : "";
  }

  async call(request: Uint8Array): Promise<Uint8Array> {
    const answer = await this.ask({ kind: "call", request });
    if (!("response" in answer)) return new Uint8Array();
    this.noRoom = answer.noRoom;
    return answer.response;
  }

  async poll(): Promise<number> {
    const answer = await this.ask({ kind: "poll" });
    return "changes" in answer ? answer.changes : 0;
  }

  async giveZone(name: string, bytes: Uint8Array): Promise<void> {
    await this.ask({ kind: "zone", name, bytes });
  }

  async close(): Promise<void> {
    await this.ask({ kind: "close" });
    this.worker.terminate();
  }

  private ask(asked: Asked): Promise<Answer> {
    if (this.broken) return Promise.reject(this.broken);
    return new Promise<Answer>((to, no) => {
      const id = this.next++;
      this.waiting.set(id, { to, no });
      this.worker.postMessage({ ...asked, id } as Question);
    });
  }
}
