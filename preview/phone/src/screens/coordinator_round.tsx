// The emptying round: which bins now, in which order, with which bags.
import type { JSX } from "preact";
import type { Round } from "../messages/core/proto/coordinator_pb";
import { Button, Care, Stepper } from "../parts/parts";
import { half_minutes, mass, volume, whole_minutes } from "../parts/figures";
import { useWords } from "../words/words";
import { useSave } from "../core/live";

export function RoundPart(props: {
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
