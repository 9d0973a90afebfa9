// The end of a session: what was done, what is passed on, and where all of it is saved.
import type { JSX } from "preact";
import { useState } from "preact/hooks";
import type { ListNow } from "../messages/core/proto/door_pb";
import { useLive, useTop } from "../core/live";
import { ActionBar, Button } from "../parts/parts";
import type { Line } from "../parts/duty";
import { useWords } from "../words/words";
import { WhereSaved } from "../parts/where_saved";

export function SessionFinish(props: {
  list: ListNow;
  lines: readonly Line[];
  onBack: () => void;
  onFinished: () => void;
}): JSX.Element {
  const { lines, list } = props;
  const live = useLive();
  const words = useWords();
  const [busy, set_busy] = useState(false);
  useTop("finish");
  const open = lines.filter((line) => line.ending === "open");
  const count = (ending: string) => lines.filter((line) => line.ending === ending).length;

  const pass_on_rest = async () => {
    set_busy(true);
    for (const line of open) {
      const duty = { id: line.id, ...(list.session ? { session: list.session } : {}) };
      const saved = await live.record({ case: "passedOn", value: { duty, reason: "no time" } });
      if (!saved) break;
    }
    set_busy(false);
  };

  return (
    <div class="screen two-columns">
      <div class="column">
        <h1>{open.length === 0 ? words.thankYou : words.almostDone}</h1>
        <ul class="card tally">
          <li>
            <strong>{count("done")}</strong> {words.endings["done"]}
          </li>
          <li>
            <strong>{count("passed on")}</strong> {words.endings["passed on"]}
          </li>
          <li>
            <strong>{count("not needed")}</strong> {words.endings["not needed"]}
          </li>
          <li>
            <strong>{open.length}</strong> {words.stillOpen}
          </li>
        </ul>
        {open.length > 0 && (
          <section>
            <h2>{words.stillOpen}</h2>
            <ul class="plain-list">
              {open.map((line) => (
                <li key={line.id}>
                  {words.told(line.title)}
                  {line.safety && <span class="tag">{words.safety}</span>}
                </li>
              ))}
            </ul>
            {open.some((line) => line.safety) && <p class="care-note">{words.safetyStaysOpen}</p>}
          </section>
        )}
      </div>
      <div class="column">
        <WhereSaved />
      </div>
      <ActionBar>
        {open.length > 0 ? (
          <>
            <div class="side-buttons">
              <Button icon="undo" onClick={props.onBack}>
                {words.backToList}
              </Button>
            </div>
            <Button kind="main" icon="pass" disabled={busy} onClick={() => void pass_on_rest()}>
              {words.passOnRest(open.length)}
            </Button>
          </>
        ) : (
          <Button kind="main" icon="check" onClick={props.onFinished}>
            {words.newSession}
          </Button>
        )}
      </ActionBar>
    </div>
  );
}
