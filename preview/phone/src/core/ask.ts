// Requests and answers as typed messages. A mistake in an answer is thrown as Refused.
import type { MessageInitShape } from "@bufbuild/protobuf";
import type { Mistake, Request, RequestSchema, Response } from "../messages/core/proto/door_pb";
import { learn } from "../words/told";
import type { Core } from "./core";
import { from_bytes, to_bytes } from "./messages";

export type Ask = NonNullable<MessageInitShape<typeof RequestSchema>["ask"]>;
type Answer = Response["answer"];
export type AnswerCase = NonNullable<Answer["case"]>;
export type AnswerOf<C extends AnswerCase> = Extract<Answer, { case: C }>["value"];

export class Refused extends Error {
  constructor(readonly mistakes: Mistake[]) {
    super(mistakes.map((mistake) => mistake.message).join("\n"));
  }
}

/** Refused since the browser has no room for it: nothing of it is kept. */
export class NoRoomLeft extends Refused {}

/** Which answer belongs to which request. */
const answers = {
  loadSheet: "sheetLoaded",
  listShop: "shop",
  windDown: "windDown",
  record: "recorded",
  standing: "standing",
  history: "history",
  exportRecord: "exported",
  saving: "saving",
  lockUp: "lockUp",
  coordinator: "coordinator",
  join: "joining",
  sync: "sync",
  syncState: "syncState",
  list: "list",
} as const satisfies Partial<Record<NonNullable<Request["ask"]["case"]>, AnswerCase>>;

export type Asked = keyof typeof answers;
export type AskValue<C extends Asked> = Extract<Ask, { case: C }>["value"];
export type AnswerTo<C extends Asked> = AnswerOf<(typeof answers)[C]>;

/** Of the words on the page; answers are in the core's English, and say what they are made of for others. */
let language = "en";
export function want_phrases(wanted: string): void {
  language = wanted;
}

export async function ask<C extends Asked>(
  core: Core,
  kind: C,
  value: AskValue<C>,
): Promise<AnswerTo<C>> {
  const request = { format: 1, phrases: language !== "en", language, ask: { case: kind, value } as Ask };
  const bytes = await core.call(to_bytes("Request", request));
  const no_room = core.had_no_room();
  const response = from_bytes("Response", bytes);
  learn(response.said);
  if (response.mistakes.length > 0) {
    throw no_room ? new NoRoomLeft(response.mistakes) : new Refused(response.mistakes);
  }
  if (response.answer.case !== answers[kind]) throw new Error(`no answer to ${kind}`);
  return response.answer.value as AnswerTo<C>;
}
