// Where this phone's entries are: saved here, on their way, at the hub.
import type { JSX } from "preact";
import { useChanges, useLive } from "../core/live";
import { useWords } from "../words/words";
import { Icon, type IconName } from "./icons";

export interface Where {
  here: number;
  way: number;
  hub: number;
  joined: boolean;
}

export function useWhere(): Where {
  const live = useLive();
  useChanges();
  const sync = live.sync;
  const joined = sync !== undefined && sync.shop !== "";
  return {
    here: joined ? Number(sync.savedHere - sync.onItsWay) : Number(live.saving?.ownEntries ?? 0),
    way: joined ? Number(sync.onItsWay) : 0,
    hub: joined ? Number(sync.atHub) : 0,
    joined,
  };
}

/** Always in view: how many entries the hub does not have yet. */
export function SavingChip(): JSX.Element {
  const live = useLive();
  const where = useWhere();
  const words = useWords();
  const waiting = where.here + where.way;
  const [icon, text]: [IconName, string] =
    live.underWay > 0
      ? ["saved", words.saving]
      : live.full
        ? ["care", words.chipFull]
        : !where.joined
        ? ["saved", words.chipHere(where.here)]
        : waiting > 0
          ? ["way", words.chipWaiting(waiting)]
          : ["hub", words.chipAtHub];
  return (
    <a class={`saving-chip ${live.full ? "full" : ""}`} href="#/phone" aria-label={`${words.whereSaved}: ${text}`}>
      <Icon name={icon} />
      <span role="status">{text}</span>
    </a>
  );
}

export function WhereSaved(): JSX.Element {
  const live = useLive();
  const where = useWhere();
  const words = useWords();
  const rows: [IconName, string, number][] = [
    ["saved", where.joined ? words.onlyHere : words.savedHereNoHub, where.here],
    ["way", words.onItsWay, where.way],
    ["hub", words.atHub, where.hub],
  ];
  return (
    <section class="card" aria-label={words.whereSaved}>
      <h2>{words.whereSaved}</h2>
      <ul class="saved-rows">
        {rows
          .filter(([, , count], i) => where.joined || i === 0 || count > 0)
          .map(([icon, text, count]) => (
            <li key={icon}>
              <Icon name={icon} />
              <span>{text}</span>
              <strong>{count}</strong>
            </li>
          ))}
      </ul>
      {live.sync && <p class="small">{words.link[live.sync.link] ?? live.sync.text}</p>}
      {live.sync?.refusal && <p class="care-note">{words.told(live.sync.refusal.sentence)}</p>}
      {live.sync?.aside.map((one) => (
        <p class="care-note" key={entry(one.entry)}>
          {words.setAside} {words.told(one.why)}
        </p>
      ))}
    </section>
  );
}

const entry = (name: { sequence: bigint } | undefined) => String(name?.sequence ?? "");
