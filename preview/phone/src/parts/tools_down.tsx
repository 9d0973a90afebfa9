// First and large: when to put the tools down.
import type { JSX } from "preact";
import type { WindDown } from "../messages/core/proto/wind_down_pb";
import { useWords } from "../words/words";
import { whole_minutes } from "./figures";
import { Icon } from "./icons";

export function ToolsDown(props: { plan: WindDown }): JSX.Element {
  const { plan } = props;
  const words = useWords();
  const finish = plan.finish;
  const likely = whole_minutes(finish?.minutesMedian ?? plan.minutesMedian);
  const sure = whole_minutes(finish?.minutesP80 ?? plan.minutesP80);
  return (
    <section class="tools-down" aria-live="polite">
      {finish?.toolsDownBy ? (
        <>
          <p class="tools-down-label">{words.toolsDownBy}</p>
          <p class="tools-down-time">{finish.toolsDownBy}</p>
          {finish.dayBefore && <p class="small">{words.dayBefore}</p>}
          {finish.leaveAt && <p>{words.toLeaveAt(finish.leaveAt)}</p>}
        </>
      ) : (
        <>
          <p class="tools-down-label">{words.cleaningTakes}</p>
          <p class="tools-down-time">{sure}</p>
          <p>{words.sayWhenYouLeave}</p>
        </>
      )}
      <p class="small">
        <Icon name="clock" /> {words.likelyAndSure(likely, sure, plan.people)}
      </p>
    </section>
  );
}

/** While cleaning: how far they are, and until when, in one line. */
export function Progress(props: {
  done: number;
  all: number;
  until: string | undefined;
}): JSX.Element {
  const words = useWords();
  return (
    <div class="progress-line">
      {props.until && (
        <span class="until">
          {words.doneBy} <strong>{props.until}</strong>
        </span>
      )}
      <progress value={props.done} max={props.all} aria-label={words.progress} />
      <span class="count">{words.ofThem(props.done, props.all)}</span>
    </div>
  );
}
