// What the screens share: the core, what changed in it, and what is being saved just now.
import { createContext } from "preact";
import { useContext, useEffect, useLayoutEffect, useState } from "preact/hooks";
import type { MessageInitShape } from "@bufbuild/protobuf";
import type { Recorded, RecordSchema, Saving, SyncState } from "../messages/core/proto/door_pb";
import { NoRoomLeft, Refused, ask, type AnswerTo, type AskValue, type Asked } from "./ask";
import { NoCore, type Core } from "./core";
import { languages, preferred_language, useWords } from "../words/words";
import { kept } from "./kept";

export type What = NonNullable<MessageInitShape<typeof RecordSchema>["what"]>;

/** What the page says for a moment, at the bottom. */
export interface Saying {
  text: string;
  bad: boolean;
  undo?: () => void;
}

export class Live {
  /** Grows with every change of the core's or of what stands below. */
  version = 0;
  saving: Saving | undefined;
  sync: SyncState | undefined;
  /** Records that wait for the disk. */
  underWay = 0;
  saying: Saying | undefined;
  /** The browser refused to keep something, and has kept nothing since. */
  full = false;

  /** Grows when answers may have changed with the ledger. */
  stamp = 0;

  private entries = -1n;
  private changes = -1;
  private readonly listeners = new Set<() => void>();
  private timer: number | undefined;
  /** Called after each record, so that it is sent at once. */
  recordedSomething: () => void = () => {};

  constructor(readonly core: Core) {}

  listen(listener: () => void): () => void {
    this.listeners.add(listener);
    return () => this.listeners.delete(listener);
  }

  tell(): void {
    this.version += 1;
    for (const listener of [...this.listeners]) listener();
  }

  async ask<C extends Asked>(kind: C, value: AskValue<C>): Promise<AnswerTo<C>> {
    try {
      return await ask(this.core, kind, value);
    } catch (error) {
      if (error instanceof NoRoomLeft) this.full = true;
      throw error;
    }
  }

  /** Asks for the states that every screen shows. */
  async refresh(): Promise<void> {
    this.saving = await this.ask("saving", {});
    if (this.saving.entries !== this.entries) {
      this.entries = this.saving.entries;
      this.stamp += 1;
    }
    if (this.saving.sheetLoaded) await this.core.learn_zone();
    this.sync = await this.ask("syncState", {}).catch(() => undefined);
    this.tell();
  }

  /** One thing that happened, on the disk when this settles. Undefined: refused, and people told. */
  async record(what: What, clockMinutes?: number): Promise<Recorded | undefined> {
    this.underWay += 1;
    this.tell();
    try {
      const recorded = await this.ask("record", {
        member: kept.member(),
        what,
        ...(clockMinutes === undefined ? {} : { clockMinutes }),
      });
      this.entries += 1n;
      this.stamp += 1;
      this.full = false;
      return recorded;
    } catch (error) {
      this.say(error_text(error), true);
      return undefined;
    } finally {
      this.underWay -= 1;
      this.tell();
      // What the screen shows was asked for by that (useAnswer), and the core answers in turn: the counts
      // and what goes to the hub come after it, or the tap would wait for them.
      setTimeout(() => {
        void this.refresh().catch(() => {});
        this.recordedSomething();
      });
    }
  }

  say(text: string, bad = false, undo?: () => void): void {
    this.saying = undo ? { text, bad, undo } : { text, bad };
    this.tell();
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.unsay(), bad ? 15_000 : 7_000) as unknown as number;
  }

  unsay(): void {
    this.saying = undefined;
    this.tell();
  }

  /** Looks every second whether the core has something new. */
  watch(): () => void {
    const timer = setInterval(() => {
      if (document.visibilityState === "hidden") return;
      this.core
        .poll()
        .then((changes) => {
          if (changes === this.changes) return undefined;
          this.changes = changes;
          return this.refresh();
        })
        .catch(() => {});
    }, 1000);
    return () => clearInterval(timer);
  }
}

export function error_text(error: unknown): string {
  if (error instanceof NoRoomLeft) return languages[preferred_language()].notSavedFull;
  if (error instanceof Refused || error instanceof NoCore) return error.message;
  return error instanceof Error ? error.message : String(error);
}

export const LiveContext = createContext<Live>(undefined as unknown as Live);
export const useLive = (): Live => useContext(LiveContext);

/** With very large text it is the page that scrolls, otherwise its middle. */
export function to_top(): void {
  document.getElementById("main")?.scrollTo(0, 0);
  window.scrollTo(0, 0);
}

/** To the top of the screen whenever something else is to be read there. */
export function useTop(what: unknown): void {
  useLayoutEffect(to_top, [what]);
}

/** Draws anew whenever something changed. */
export function useChanges(): number {
  const live = useLive();
  const [version, set] = useState(live.version);
  useEffect(() => live.listen(() => set(live.version)), [live]);
  return version;
}

/** An answer that stays up to date; the one before stays in view while the next is worked out. */
export function useAnswer<C extends Asked>(
  kind: C,
  value: AskValue<C>,
): { answer: AnswerTo<C> | undefined; trouble: string | undefined } {
  const live = useLive();
  const stamp = live.stamp;
  const key = JSON.stringify(value, (_, part: unknown) =>
    typeof part === "bigint" ? part.toString() : part,
  );
  const [state, set] = useState<{ answer?: AnswerTo<C> | undefined; trouble?: string }>({});
  const words = useWords();
  useChanges();
  // As soon as it is drawn, before what follows a record is asked.
  useLayoutEffect(() => {
    let current = true;
    live.ask(kind, value).then(
      (answer) => current && set({ answer: answer as AnswerTo<C> | undefined }),
      (error: unknown) => current && set({ trouble: error_text(error) }),
    );
    return () => {
      current = false;
    };
  }, [live, kind, key, stamp, words]);
  return { answer: state.answer, trouble: state.trouble };
}

/** Whether something is being saved, and what saves one thing and says so. */
export function useSave(): [boolean, (what: What, said: string) => void] {
  const live = useLive();
  const [busy, set_busy] = useState(false);
  const save = async (what: What, said: string) => {
    set_busy(true);
    if (await live.record(what)) live.say(said);
    set_busy(false);
  };
  return [busy, (what, said) => void save(what, said)];
}
