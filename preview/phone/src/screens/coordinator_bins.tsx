// Bins by need: how full each is likely to be, from which evidence, and what to do about it.
import type { JSX } from "preact";
import { useState } from "preact/hooks";
import type { BinOutlook } from "../messages/core/proto/coordinator_pb";
import { useSave } from "../core/live";
import { Button, FillBar, Fact } from "../parts/parts";
import { mass, percent, volume } from "../parts/figures";
import { useWords } from "../words/words";
import { BinLook } from "./tell";

/** What to do about a bin, in a word: as its chances stand in the answer. */
function verdict(bin: BinOutlook): "look" | "empty" | "soon" | undefined {
  if (bin.lookFirst) return "look";
  if (!bin.known) return undefined;
  if (bin.chanceFull >= 0.5 || bin.expectedFillShare >= bin.emptyAtShare) return "empty";
  return bin.daysToDue !== undefined && bin.daysToDue <= 7 ? "soon" : undefined;
}

export function Bins(props: { bins: readonly BinOutlook[]; units: string; notes: readonly string[] }) {
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
