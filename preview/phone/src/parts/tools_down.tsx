// First and large: when to put the tools down.
import type { JSX } from "preact";
import type { WindDown } from "../messages/core/proto/wind_down_pb";
import { useWords } from "../words/words";
import { whole_minutes } from "./figures";
import { Icon } from "./icons";

export function ToolsDown(props: { plan: WindDown; saved?: boolean }): JSX.Element {
  const { plan } = props;
  const words = useWords();
  const finish = plan.finish;
  const likely = whole_minutes(finish?.minutesMedian ?? plan.minutesMedian);
  const sure = whole_minutes(finish?.minutesP80 ?? plan.minutesP80);
  const under_way = props.saved === true;
  const time = under_way ? finish?.doneBy : finish?.toolsDownBy;
  return (
    <section class="tools-down" aria-live="polite">
      {time ? (
        <>
          <p class="tools-down-label">{under_way ? words.doneBy : words.toolsDownBy}</p>
          <p class="tools-down-time">{time}</p>
          {finish?.dayBefore && <p class="small">{words.dayBefore}</p>}
          {finish?.leaveAt && <p>{words.toLeaveAt(finish.leaveAt)}</p>}
        </>
      ) : (
        <>
          <p class="tools-down-label">{words.cleaningTakes}</p>
          <p class="tools-down-time">{sure}</p>
          {!under_way && <p>{words.sayWhenYouLeave}</p>}
        </>
      )}
      <p class="small">
        <Icon name="clock" /> {words.likelyAndSure(likely, sure, plan.people)}
      </p>
    </section>
  );
}
