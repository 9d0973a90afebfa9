// Answers that are kept for comfort: the list of the session being cleaned up after, the walk of a
// closing. The ledger has what is owed and how it ended; these copies only spare planning anew. What
// their sentences are made of is kept with them, for other languages.
import type { Response } from "../messages/core/proto/door_pb";
import type { LockUp } from "../messages/core/proto/lock_up_pb";
import type { WindDown } from "../messages/core/proto/wind_down_pb";
import { learn, learned } from "../words/told";
import { kept } from "./kept";
import { from_bytes, to_bytes } from "./messages";

function to_base64(bytes: Uint8Array): string {
  let text = "";
  for (const byte of bytes) text += String.fromCharCode(byte);
  return btoa(text);
}

function kept_text(answer: Response["answer"]): string {
  return to_base64(to_bytes("Response", { format: 1, said: learned(), answer }));
}

function from_text(base64: string | undefined): Response["answer"] | undefined {
  if (base64 === undefined) return undefined;
  try {
    const bytes = Uint8Array.from(atob(base64), (letter) => letter.charCodeAt(0));
    const response = from_bytes("Response", bytes);
    learn(response.said);
    return response.answer;
  } catch {
    return undefined;
  }
}

export function keep_list(session: string, list: WindDown): void {
  kept.setList(`${session} ${kept_text({ case: "windDown", value: list })}`);
}

export function kept_list(session: string): WindDown | undefined {
  const [key, base64] = (kept.list() ?? "").split(" ");
  if (key !== session) return undefined;
  const answer = from_text(base64);
  return answer?.case === "windDown" ? answer.value : undefined;
}

export const walk_text = (walk: LockUp): string => kept_text({ case: "lockUp", value: walk });

export function walk_of(text: string): LockUp | undefined {
  const answer = from_text(text);
  return answer?.case === "lockUp" ? answer.value : undefined;
}
