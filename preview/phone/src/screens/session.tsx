// A member's session: picking what ran, then the list until it is finished.
import type { JSX } from "preact";
import { useState } from "preact/hooks";
import { useAnswer } from "../core/live";
import { kept } from "../core/kept";
import { entry_key } from "../core/session_draft";
import { useWords } from "../words/words";
import { SessionList } from "./session_list";
import { SessionPick } from "./session_pick";

export function Session(): JSX.Element {
  const words = useWords();
  const { answer: list, trouble } = useAnswer("list", {});
  const [finished, set_finished] = useState(kept.finished());
  if (!list && trouble === undefined) return <p class="waiting">{words.oneMoment}</p>;
  const key = entry_key(list?.session);
  if (list && list.duties.length > 0 && key !== finished) {
    return (
      <SessionList
        list={list}
        onFinished={() => {
          kept.setFinished(key);
          set_finished(key);
        }}
      />
    );
  }
  return <SessionPick onSaved={() => {}} />;
}
