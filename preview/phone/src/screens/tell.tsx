// What anyone may tell at any time: a bin, a machine that is out of order, what runs low, a note.
import type { JSX } from "preact";
import { useState } from "preact/hooks";
import type { Named, ShopLists } from "../messages/core/proto/door_pb";
import { useAnswer, useLive, type What } from "../core/live";
import { Button, Over } from "../parts/parts";
import { Icon } from "../parts/icons";
import { useWords } from "../words/words";

export function BinSheet(props: { onClose: () => void }): JSX.Element {
  const { onClose } = props;
  const words = useWords();
  const { answer: shop } = useAnswer("listShop", {});
  const [bin, set_bin] = useState<Named | undefined>();
  if (bin) return <BinLook bin={bin} onClose={onClose} />;
  return (
    <Over title={words.whichBin} onClose={onClose}>
      <ul class="pick-list">
        {shop?.bins.map((one) => (
          <li key={one.id}>
            <button type="button" class="row-button" onClick={() => set_bin(one)}>
              <Icon name="bin" />
              <span class="row-label">{one.name}</span>
            </button>
          </li>
        ))}
      </ul>
    </Over>
  );
}

/** What somebody saw in a bin, or that it was emptied. */
export function BinLook(props: {
  bin: { id: string; name: string };
  onClose: () => void;
}): JSX.Element {
  const { bin, onClose } = props;
  const words = useWords();
  const { answer: shop } = useAnswer("listShop", {});
  const [busy, save] = useSaver(onClose);
  return (
    <Over title={bin.name} onClose={onClose}>
      <div class="stack">
        {shop?.binLooks.map((look) => (
          <Button
            key={look.word}
            disabled={busy}
            onClick={() =>
              void save({ case: "binSeen", value: { bin: bin.id, seen: look.word } }, words.binSaved)
            }
          >
            {words.told(look.text)}
          </Button>
        ))}
        <Button
          icon="check"
          disabled={busy}
          onClick={() => void save({ case: "binEmptied", value: { bin: bin.id } }, words.binSaved)}
        >
          {words.emptied}
        </Button>
        <Button
          icon="check"
          disabled={busy}
          onClick={() =>
            void save(
              { case: "binEmptied", value: { bin: bin.id, bagReplaced: true } },
              words.binSaved,
            )
          }
        >
          {words.emptiedNewBag}
        </Button>
      </div>
    </Over>
  );
}

type Kind = "bin" | "machine" | "supply" | "note";

export function Tell(): JSX.Element {
  const words = useWords();
  const { answer: shop } = useAnswer("listShop", {});
  const [kind, set_kind] = useState<Kind | undefined>();
  const close = () => set_kind(undefined);
  return (
    <section class="stack">
      <Button icon="bin" onClick={() => set_kind("bin")}>
        {words.aBinIsFull}
      </Button>
      <Button icon="care" onClick={() => set_kind("machine")}>
        {words.machineOut}
      </Button>
      <Button icon="dirt" onClick={() => set_kind("supply")}>
        {words.supplyLow}
      </Button>
      <Button icon="tell" onClick={() => set_kind("note")}>
        {words.note}
      </Button>
      {kind === "bin" && <BinSheet onClose={close} />}
      {shop && kind === "machine" && <MachineSheet shop={shop} onClose={close} />}
      {shop && kind === "supply" && <SupplySheet shop={shop} onClose={close} />}
      {kind === "note" && <NoteSheet onClose={close} />}
    </section>
  );
}

function useSaver(onClose: () => void): [boolean, (what: What, said: string) => Promise<void>] {
  const live = useLive();
  const [busy, set_busy] = useState(false);
  return [
    busy,
    async (what, said) => {
      set_busy(true);
      const saved = await live.record(what);
      set_busy(false);
      if (!saved) return;
      live.say(said);
      onClose();
    },
  ];
}

function MachineSheet(props: { shop: ShopLists; onClose: () => void }): JSX.Element {
  const words = useWords();
  const [machine, set_machine] = useState<string | undefined>();
  const [reason, set_reason] = useState("");
  const [busy, save] = useSaver(props.onClose);
  const chosen = props.shop.machines.find((one) => one.id === machine);
  if (!chosen) {
    return (
      <Over title={words.whichMachine} onClose={props.onClose}>
        <ul class="pick-list">
          {props.shop.machines.map((one) => (
            <li key={one.id}>
              <button type="button" class="row-button" onClick={() => set_machine(one.id)}>
                <span class="row-label">
                  {one.name}
                  {one.out && <span class="tag">{words.outOfOrder}</span>}
                </span>
              </button>
            </li>
          ))}
        </ul>
      </Over>
    );
  }
  return (
    <Over title={chosen.name} onClose={props.onClose}>
      <p class="care-note">{words.unplugFirst}</p>
      <TextField label={words.whatIsWrong} value={reason} onInput={set_reason} />
      <Button
        kind="main"
        disabled={busy || reason.trim() === ""}
        onClick={() =>
          void save(
            { case: "machineOut", value: { machine: chosen.id, reason: reason.trim() } },
            words.saved,
          )
        }
      >
        {words.save}
      </Button>
    </Over>
  );
}

function SupplySheet(props: { shop: ShopLists; onClose: () => void }): JSX.Element {
  const words = useWords();
  const [busy, save] = useSaver(props.onClose);
  return (
    <Over title={words.supplyLow} onClose={props.onClose}>
      <ul class="pick-list">
        {props.shop.supplies.map((one) => (
          <li key={one.id}>
            <button
              type="button"
              class="row-button"
              disabled={busy}
              onClick={() =>
                void save({ case: "supplyLow", value: { supply: one.id } }, words.saved)
              }
            >
              <span class="row-label">{one.name}</span>
            </button>
          </li>
        ))}
      </ul>
    </Over>
  );
}

function NoteSheet(props: { onClose: () => void }): JSX.Element {
  const words = useWords();
  const [text, set_text] = useState("");
  const [busy, save] = useSaver(props.onClose);
  return (
    <Over title={words.note} onClose={props.onClose}>
      <TextField label={words.noteText} value={text} onInput={set_text} />
      <Button
        kind="main"
        disabled={busy || text.trim() === ""}
        onClick={() =>
          void save({ case: "note", value: { text: text.trim(), place: "" } }, words.saved)
        }
      >
        {words.save}
      </Button>
    </Over>
  );
}

export function TextField(props: {
  label: string;
  value: string;
  onInput: (value: string) => void;
}): JSX.Element {
  return (
    <label class="field wide">
      <span>{props.label}</span>
      <textarea
        rows={3}
        maxLength={400}
        value={props.value}
        onInput={(event) => props.onInput(event.currentTarget.value)}
      />
    </label>
  );
}
