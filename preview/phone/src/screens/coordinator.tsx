// The coordinator's view: bins by need, the round, notices, layers of dust and how estimates held.
import type { JSX } from "preact";
import { useState } from "preact/hooks";
import type { Coordinator } from "../messages/core/proto/coordinator_pb";
import type { EntryName } from "../messages/core/proto/ledger_pb";
import { useAnswer, useTop, useSave } from "../core/live";
import { Button, Choices, FillBar, Waiting } from "../parts/parts";
import { useWords } from "../words/words";
import { Bins } from "./coordinator_bins";
import { RoundPart } from "./coordinator_round";

type Part = "bins" | "round" | "notices" | "dust";

export function CoordinatorScreen(): JSX.Element {
  const words = useWords();
  const [part, set_part] = useState<Part>("bins");
  const [days, set_days] = useState(0);
  const { answer, trouble } = useAnswer("coordinator", days > 0 ? { nextRoundDays: days } : {});
  useTop(part);
  if (!answer) return <Waiting trouble={trouble} />;
  const bins = answer.bins?.bins ?? [];
  const bins_part = <Bins bins={bins} units={answer.units} notes={answer.bins?.notes ?? []} />;
  const round_part = answer.round && (
    <RoundPart round={answer.round} units={answer.units} days={days} onDays={set_days} />
  );
  return (
    <div class="screen">
      <h1>{words.coordinator}</h1>
      <Choices
        label={words.show}
        options={[
          { value: "bins", text: words.bins },
          { value: "round", text: words.round },
          { value: "notices", text: words.notices },
          { value: "dust", text: words.dustAndTrend },
        ]}
        value={part}
        onChange={set_part}
      />
      <div class="two-columns inner">
        {(part === "bins" || part === "round") && (
          <>
            <div class={`column ${part === "round" ? "wide-only" : ""}`}>{bins_part}</div>
            <div class={`column ${part === "bins" ? "wide-only" : ""}`}>{round_part}</div>
          </>
        )}
        {part === "notices" && <Notices answer={answer} />}
        {part === "dust" && <DustAndTrend answer={answer} />}
      </div>
    </div>
  );
}

function Notices(props: { answer: Coordinator }): JSX.Element {
  const { answer } = props;
  const words = useWords();
  const [busy, save] = useSave();
  const { answer: standing } = useAnswer("standing", {});
  // That a machine is back names the very notice that was seen.
  const seen = (machine: string): EntryName | undefined =>
    standing?.machinesOut.find((notice) => notice.machine === machine)?.entry;
  return (
    <>
      <section class="column">
        <h2>{words.machinesOut}</h2>
        {answer.machinesOut.length === 0 && <p>{words.allRun}</p>}
        {answer.machinesOut.map((notice) => {
          const entry = seen(notice.machine);
          return (
            <article class="card" key={notice.machine}>
              <h3>{notice.name}</h3>
              <p>
                {notice.reason} <span class="small">{words.told(notice.since)}</span>
              </p>
              {notice.backUnseen && <p class="care-note">{words.backUnseen}</p>}
              {notice.tryFirst.length > 0 && (
                <>
                  <p class="small">{words.tryFirst}</p>
                  <ul class="steps">
                    {notice.tryFirst.map((step) => (
                      <li key={step}>{words.told(step)}</li>
                    ))}
                  </ul>
                </>
              )}
              <Button
                disabled={busy || !entry}
                onClick={() =>
                  entry &&
                  save(
                    { case: "machineBack", value: { machine: notice.machine, seen: entry, note: "" } },
                    words.saved,
                  )
                }
              >
                {words.backInOrder}
              </Button>
            </article>
          );
        })}
        {standing && standing.duties.length > 0 && (
          <>
            <h2>{words.openAndPassedOn}</h2>
            <ul class="plain-list">
              {standing.duties.slice(0, 60).map((duty, i) => (
                <li key={i}>
                  {words.told(duty.owed?.title ?? "")}
                  <span class="small">
                    {words.endings[duty.ending] ?? duty.ending}
                    {duty.reason !== "" && `: ${words.reason(duty.reason)}`}, {words.told(duty.since)}
                  </span>
                </li>
              ))}
            </ul>
          </>
        )}
      </section>
      <section class="column">
        <h2>{words.supplies}</h2>
        <ul class="plain-list">
          {answer.supplies.map((supply) => (
            <li key={supply.supply} class="supply">
              <span>
                {supply.name} {supply.low && <span class="tag empty">{words.runsLow}</span>}
                <span class="small">{words.told(supply.text)}</span>
              </span>
              <Button
                disabled={busy}
                onClick={() =>
                  save(
                    supply.low
                      ? { case: "supplyRestocked", value: { supply: supply.supply } }
                      : { case: "supplyLow", value: { supply: supply.supply } },
                    words.saved,
                  )
                }
              >
                {supply.low ? words.restocked : words.runsLow}
              </Button>
            </li>
          ))}
        </ul>
      </section>
    </>
  );
}

function DustAndTrend(props: { answer: Coordinator }): JSX.Element {
  const { answer } = props;
  const words = useWords();
  return (
    <>
      <section class="column">
        <h2>{words.layers}</h2>
        {answer.layers.length === 0 && <p>{words.noLayers}</p>}
        <ul class="plain-list">
          {answer.layers.map((layer) => (
            <li key={layer.zone}>
              {layer.name}
              <FillBar share={layer.shareOfLimit} mark={1} known chances={[]} />
              <span class="small">{words.told(layer.text)}</span>
            </li>
          ))}
        </ul>
        <h2>{words.behind}</h2>
        {answer.behind.length === 0 && <p>{words.nothingBehind}</p>}
        <ul class="plain-list">
          {answer.behind.map((zone) => (
            <li key={zone.zone}>
              {zone.name} <span class="small">{words.told(zone.text)}</span>
            </li>
          ))}
        </ul>
      </section>
      <section class="column">
        <h2>{words.estimates}</h2>
        {answer.estimates.length === 0 && <p>{words.noEstimates}</p>}
        <ul class="plain-list">
          {answer.estimates.map((estimate) => (
            <li key={`${estimate.week} ${estimate.kind}`}>
              <span class="small">{words.told(estimate.week)}</span>
              {words.told(estimate.text)}
            </li>
          ))}
        </ul>
      </section>
    </>
  );
}
