// What was picked, as the core's message.
import type { MessageInitShape } from "@bufbuild/protobuf";
import type { SessionSchema } from "../messages/core/proto/session_pb";
import type { EntryName } from "../messages/core/proto/ledger_pb";
import type { Draft } from "./kept";

export function session_of(draft: Draft): MessageInitShape<typeof SessionSchema> {
  return {
    people: draft.people,
    leaveAt: draft.leaveAt,
    oilyRags: draft.rags,
    glue: draft.glue,
    uses: draft.picks.map((pick) => ({
      machine: pick.machine,
      minutes: pick.minutes,
      stock: pick.stock,
      extraction: pick.extraction,
    })),
  };
}

/** The name of an entry as text, for comparing. */
export function entry_key(name: EntryName | undefined): string {
  if (!name) return "";
  const hex = [...name.device].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return `${hex}:${name.sequence}`;
}

/** HH:MM in the shop's time, so many minutes from now. */
export function shop_time(zone: string, from_now_minutes: number): string {
  const at = new Date(Date.now() + from_now_minutes * 60_000);
  const options = { hour: "2-digit", minute: "2-digit", hourCycle: "h23" } as const;
  try {
    return new Intl.DateTimeFormat("en-GB", { ...options, timeZone: zone }).format(at);
  } catch {
    return new Intl.DateTimeFormat("en-GB", options).format(at);
  }
}
