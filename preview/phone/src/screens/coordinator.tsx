// The coordinator's view: bins by need, the round, notices, layers of dust and how estimates held.
import type { ComponentChildren, JSX } from "preact";
import { useState } from "preact/hooks";
import type { BinOutlook, Coordinator, Round } from "../messages/core/proto/coordinator_pb";
import type { EntryName } from "../messages/core/proto/ledger_pb";
import { useAnswer, useLive, useTop, type What } from "../core/live";
import { Button, Care, Choices, FillBar, Stepper, Waiting } from "../parts/parts";
import { half_minutes, mass, percent, volume, whole_minutes } from "../parts/figures";
import { useWords } from "../words/words";
import { BinLook } from "./tell";

type Part = "bins" | "round" | "notices" | "dust";

function useSave(): [boolean, (what: What, said: string) => void] {
  const live = useLive();
  const [busy, set_busy] = useState(false);
  const save = async (what: What, said: string) => {
    set_busy(true);
    if (await live.record(what)) live.say(said);
    set_busy(false);
  };
  return [busy, (what, said) => void save(what, said)];
}

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

/** What to do about a bin, in a word: as its chances stand in the answer. */
function verdict(bin: BinOutlook): "look" | "empty" | "soon" | undefined {
  if (bin.lookFirst) return "look";
  if (!bin.known) return undefined;
  if (bin.chanceFull >= 0.5 || bin.expectedFillShare >= bin.emptyAtShare) return "empty";
  return bin.daysToDue !== undefined && bin.daysToDue <= 7 ? "soon" : undefined;
}

function Bins(props: { bins: readonly BinOutlook[]; units: string; notes: readonly string[] }) {
  const words = useWords();
  return (
    <section aria-label={words.bins}>
      <h2>{words.binsByNeed}</h2>
      <ul class="bin-list">
        {props.bins.map((bin) => (
          <BinCard key={bin.id} bin={bin} units={props.units} />
        ))}
      </ul>
      {props.notes.map((note) => (
        <p class="small" key={note}>
          {words.told(note)}
        </p>
      ))}
    </section>
  );
}

function BinCard(props: { bin: BinOutlook; units: string }): JSX.Element {
  const { bin, units } = props;
  const words = useWords();
  const [open, set_open] = useState(false);
  const [busy, save] = useSave();
  const [looking, look] = useState(false);
  const say = verdict(bin);
  return (
    <li class="card bin-card">
      <button
        type="button"
        class="bin-head"
        aria-expanded={open}
        onClick={() => set_open(!open)}
      >
        <span class="bin-name">
          {bin.name}
          {say && <span class={`tag ${say}`}>{words.verdicts[say]}</span>}
        </span>
        <FillBar
          share={bin.expectedFillShare}
          mark={bin.emptyAtShare}
          known={bin.known}
          chances={bin.known ? bin.fillChances : []}
        />
        <span class="bin-words">
          {bin.known
            ? words.aboutFull(percent(bin.expectedFillShare), volume(bin.volumeL, units))
            : words.nobodyLooked}
        </span>
        {bin.known && <span class="small">{words.told(bin.forecast)}</span>}
      </button>
      {open && (
        <div class="bin-body">
          <dl>
            {bin.known && <Fact name={words.evidence}>{words.told(bin.evidence)}</Fact>}
            {bin.known && (
              <Fact name={words.chanceFull}>
                {bin.chanceFull < 0.05 ? words.under(percent(0.05)) : percent(bin.chanceFull)}
              </Fact>
            )}
            {bin.sinceEmptiedL >= 1 && (
              <Fact name={words.goneIn}>{volume(bin.sinceEmptiedL, units)}</Fact>
            )}
            {bin.fullKg > 0 && (
              <Fact name={words.whenFull}>
                {mass(bin.fullKg, units)}, {words.carry(bin.people)}
                {bin.lift && ` (${words.liftingIndex(bin.lift.index.toFixed(1))})`}
              </Fact>
            )}
            {bin.bag !== "" && (
              <Fact name={words.bagOf}>
                {bin.bag}
                {bin.bagsLeft !== undefined && `: ${words.left(String(bin.bagsLeft))}`}
              </Fact>
            )}
          </dl>
          {bin.pace !== "" && <p class="small">{words.told(bin.pace)}</p>}
          {bin.doubts.map((doubt) => (
            <p class="small" key={doubt}>
              {words.told(doubt)}
            </p>
          ))}
          {bin.lookFirst && <p class="care-note">{words.lookFirst}</p>}
          <div class="side-buttons">
            <Button onClick={() => look(true)}>{words.iLooked}</Button>
            <Button
              icon="check"
              disabled={busy}
              onClick={() =>
                save({ case: "binEmptied", value: { bin: bin.id, bagReplaced: bin.bag !== "" } }, words.binSaved)
              }
            >
              {words.emptied}
            </Button>
          </div>
        </div>
      )}
      {looking && (
        <BinLook bin={bin} onClose={() => look(false)} />
      )}
    </li>
  );
}

function Fact(props: { name: string; children: ComponentChildren }): JSX.Element {
  return (
    <>
      <dt>{props.name}</dt>
      <dd>{props.children}</dd>
    </>
  );
}

function RoundPart(props: {
  round: Round;
  units: string;
  days: number;
  onDays: (days: number) => void;
}): JSX.Element {
  const { round, units } = props;
  const words = useWords();
  const [busy, save] = useSave();
  return (
    <section aria-label={words.round}>
      <h2>{words.round}</h2>
      <div class="card">
        <Stepper
          label={words.nextRound}
          value={props.days}
          say={props.days === 0 ? words.dueNow : words.inDays(props.days)}
          step={1}
          least={0}
          most={28}
          onChange={props.onDays}
        />
        <p>
          {round.stops.length === 0
            ? words.nothingToEmpty
            : words.roundIs(
                round.stops.length,
                whole_minutes(round.minutes),
                round.people,
                half_minutes(round.walkMinutes),
              )}
        </p>
      </div>
      <ol class="duties route">
        {round.stops.map((stop, i) => (
          <li class="duty-row opened" key={stop.bin}>
            <div class="duty-line">
              <div class="duty-title still">
                <span class="duty-order">{i + 1}</span>
                <span class="duty-text">
                  {stop.name}
                  <span class="small">
                    {half_minutes(stop.minutes)}, {volume(stop.litres, units)}, {mass(stop.kg, units)}
                    {stop.people > 1 && `, ${words.together(stop.people)}`}
                  </span>
                </span>
              </div>
            </div>
            <div class="duty-body">
              <p class="why">{words.told(stop.why)}</p>
              {stop.bag !== "" && <p>{words.bring(stop.bag)}</p>}
              {stop.cautions.map((caution) => (
                <Care key={caution} text={words.told(caution)} />
              ))}
              <Button
                kind="main"
                icon="check"
                disabled={busy}
                onClick={() =>
                  save(
                    {
                      case: "binEmptied",
                      value: { bin: stop.bin, bagReplaced: stop.bag !== "" },
                    },
                    words.binSaved,
                  )
                }
              >
                {words.emptied}
              </Button>
            </div>
          </li>
        ))}
      </ol>
      {round.bags.length > 0 && (
        <>
          <h3>{words.bringAlong}</h3>
          <ul class="plain-list">
            {round.bags.map((bags) => (
              <li key={bags.supply}>
                {bags.count} × {bags.name}
                {bags.left !== undefined && ` (${words.left(String(bags.left))})`}
              </li>
            ))}
          </ul>
        </>
      )}
      {round.looks.length > 0 && (
        <>
          <h3>{words.lookOnTheWay}</h3>
          <ul class="plain-list">
            {round.looks.map((look) => (
              <li key={look.bin}>
                {look.name}: {words.told(look.why)}
              </li>
            ))}
          </ul>
        </>
      )}
      {round.cautions.length > 0 && (
        <section class="card">
          <h3>{words.takeCare}</h3>
          <ul class="bullets">
            {round.cautions.map((caution) => (
              <li key={caution}>{words.told(caution)}</li>
            ))}
          </ul>
        </section>
      )}
    </section>
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
