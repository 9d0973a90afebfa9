import { type Core, type CoreOptions, NotOpened, openCore } from "./core.js";
import type { Folder } from "./folder.js";
import type { Answer, Failure, Question } from "./protocol.js";

/// The worker's side of protocol.ts, without the worker: how it comes to a module and a folder is
/// given from outside, so that a test runs the same lines under Node.
export interface Surroundings {
  module(wasm: string | WebAssembly.Module): Promise<WebAssembly.Module>;
  folder(name: string): Promise<Folder>;
  clockAndRandom?: Pick<CoreOptions, "now" | "random">;
}

export class Answerer {
  private core: Core | undefined;
  /// Questions are answered one after the other: opening takes its time.
  private last: Promise<unknown> = Promise.resolve();

  constructor(private readonly around: Surroundings) {}

  answer(question: Question): Promise<Answer> {
    const answered = this.last.then(async (): Promise<Answer> => {
      try {
        return await this.work(question);
      } catch (failure) {
        return { id: question.id, failure: described(failure) };
      }
    });
    this.last = answered;
    return answered;
  }

  private async work(question: Question): Promise<Answer> {
    const { id } = question;
    if (question.kind === "open") {
      if (this.core) throw new Error("the core is open already");
      const module = await this.around.module(question.wasm);
      const options: CoreOptions = { ...this.around.clockAndRandom, module };
      if (question.folder) options.folder = await this.around.folder(question.folder);
      this.core = await openCore(options);
      return { id, version: this.core.version };
    }
    const core = this.core;
    if (!core) throw new Error("open the core first");
    switch (question.kind) {
      case "call":
        return { id, response: core.call(question.request), noRoom: core.hadNoRoom() };
      case "poll":
        return { id, changes: core.poll() };
      case "zone":
        core.giveZone(question.name, question.bytes);
        return { id, done: true };
      case "close":
        this.core = undefined;
        core.close();
        return { id, done: true };
    }
  }
}

function described(failure: unknown): Failure {
  const { name, message } = failure instanceof Error ? failure : new Error(String(failure));
  return failure instanceof NotOpened
    ? { name, message, response: failure.response }
    : { name, message };
}
