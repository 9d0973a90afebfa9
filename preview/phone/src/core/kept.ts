// Small things that the page remembers for comfort. What matters is in the ledger; where the browser
// keeps nothing (private mode), the page works all the same.

const prefix = "chipfall.";

function read(name: string): string | undefined {
  try {
    return localStorage.getItem(prefix + name) ?? undefined;
  } catch {
    return undefined;
  }
}

function write(name: string, value: string | undefined): void {
  try {
    if (value === undefined) localStorage.removeItem(prefix + name);
    else localStorage.setItem(prefix + name, value);
  } catch {
    // Full or forbidden: only comfort is lost.
  }
}

/** A machine that was run, as picked so far. */
export interface Pick {
  machine: string;
  minutes: number;
  stock: string;
  extraction: boolean;
}

export interface Draft {
  /** When it was last touched: yesterday's leaving time helps nobody. */
  at: number;
  picks: Pick[];
  people: number;
  leaveAt: string;
  rags: boolean;
  glue: boolean;
}

/** One evening's closing. */
export interface Closing {
  at: number;
  people: number;
  /** The plan as text (kept_list.ts): the walk stays as it began until somebody asks for another. */
  plan: string;
  /** Duty to how it ended. */
  endings: Record<string, string>;
  /** Checks that somebody answered for. */
  checked: string[];
}

const draftLasts_ms = 12 * 3600_000;

export const emptyDraft: Draft = { at: 0, picks: [], people: 1, leaveAt: "", rags: false, glue: false };

export const kept = {
  member: () => read("member") ?? "",
  setMember: (name: string) => write("member", name || undefined),

  language: () => read("language"),
  setLanguage: (language: string) => write("language", language),

  theme: () => read("theme") ?? "system",
  setTheme: (theme: string) => write("theme", theme),

  draft(): Draft {
    try {
      const draft = { ...emptyDraft, ...(JSON.parse(read("draft") ?? "{}") as Partial<Draft>) };
      return Date.now() - draft.at < draftLasts_ms ? draft : emptyDraft;
    } catch {
      return emptyDraft;
    }
  },
  setDraft: (draft: Draft) => write("draft", JSON.stringify({ ...draft, at: Date.now() })),

  /** The list of the session that is being cleaned up after, with its details, as base64. */
  list: () => read("list"),
  setList: (list: string | undefined) => write("list", list),

  /** The session whose list was closed by the person, so that the next one begins. */
  finished: () => read("finished"),
  setFinished: (session: string) => write("finished", session),

  /** One duty at a time, or the whole list. */
  view: () => read("view") ?? "one",
  setView: (view: string) => write("view", view),

  /** The walk of closing the shop: the ledger has each duty's end, this its place in the walk. */
  closing(): Closing | undefined {
    try {
      const closing = JSON.parse(read("closing") ?? "null") as Closing | null;
      return closing && Date.now() - closing.at < draftLasts_ms ? closing : undefined;
    } catch {
      return undefined;
    }
  },
  setClosing: (closing: Closing | undefined) =>
    write("closing", closing && JSON.stringify(closing)),

  /** Random bytes that name this installation, outside the ledger. */
  installation(): Uint8Array {
    const before = read("installation");
    if (before !== undefined && /^([0-9a-f]{2}){16}$/.test(before)) {
      return Uint8Array.from(before.match(/../g)!, (pair) => parseInt(pair, 16));
    }
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    write("installation", [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join(""));
    return bytes;
  },
};
