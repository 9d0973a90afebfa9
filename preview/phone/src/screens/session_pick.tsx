// What was run, for how long, in which stock: a few taps with big steps, what was used last first.
import type { JSX } from "preact";
import { useEffect, useState } from "preact/hooks";
import type { MachineNamed, ShopLists } from "../messages/core/proto/door_pb";
import type { WindDown } from "../messages/core/proto/wind_down_pb";
import { useLive, error_text, useAnswer, useTop } from "../core/live";
import { kept, emptyDraft, type Draft, type Pick } from "../core/kept";
import { entry_key, session_of, shop_time } from "../core/session_draft";
import { keep_list } from "../core/kept_list";
import { ActionBar, Button, Choices, Over, Stepper, Toggle } from "../parts/parts";
import { Icon } from "../parts/icons";
import { half_minutes, whole_minutes } from "../parts/figures";
import { useWords } from "../words/words";
import { ToolsDown } from "../parts/tools_down";

const minuteStep = 5;
const mostMinutes = 600;
const mostPeople = 12;
const usualMinutes = 20;

/** In the order of `ids`, then what is not among them. */
function in_order<T extends { id: string }>(items: readonly T[], ids: readonly string[]): T[] {
  const place = new Map(ids.map((id, i) => [id, i]));
  const rank = (item: T) => place.get(item.id) ?? ids.length;
  return [...items].sort((a, b) => rank(a) - rank(b));
}

function useDraft(): [Draft, (change: Partial<Draft>) => void] {
  const [draft, set] = useState(kept.draft);
  return [
    draft,
    (change) => {
      const next = { ...draft, ...change };
      kept.setDraft(next);
      set(next);
    },
  ];
}

/** The list that the draft would give, a moment after the last tap. */
function usePlan(draft: Draft): { plan: WindDown | undefined; trouble: string | undefined } {
  const live = useLive();
  const [state, set] = useState<{ plan?: WindDown; trouble?: string }>({});
  const key = JSON.stringify({ ...draft, at: 0 });
  useEffect(() => {
    if (draft.picks.length === 0) return set({});
    let current = true;
    const timer = setTimeout(() => {
      live.ask("windDown", { draft: session_of(draft) }).then(
        (plan) => current && set({ plan }),
        (error: unknown) => current && set({ trouble: error_text(error) }),
      );
    }, 200);
    return () => {
      current = false;
      clearTimeout(timer);
    };
  }, [live, key]);
  return { plan: state.plan, trouble: state.trouble };
}

function PickedMachine(props: {
  pick: Pick;
  machine: MachineNamed | undefined;
  shop: ShopLists;
  onChange: (pick: Pick) => void;
  onRemove: () => void;
}): JSX.Element {
  const { pick, machine, shop, onChange, onRemove } = props;
  const words = useWords();
  const [asking, ask] = useState(false);
  const name = machine?.name ?? pick.machine;
  const stock = shop.stocks.find((one) => one.id === pick.stock);
  return (
    <section class="card picked" aria-label={name}>
      <div class="card-head">
        <h2>{name}</h2>
        <button type="button" class="round" aria-label={words.remove(name)} onClick={onRemove}>
          <Icon name="cross" />
        </button>
      </div>
      <Stepper
        label={words.minutes}
        value={pick.minutes}
        say={words.minutesShort(pick.minutes)}
        step={minuteStep}
        least={minuteStep}
        most={mostMinutes}
        onChange={(minutes) => onChange({ ...pick, minutes })}
      />
      <button type="button" class="row-button" onClick={() => ask(true)}>
        <span class="row-label">{words.stock}</span>
        <span class="row-value">{stock ? words.told(stock.name) : words.pickStock}</span>
        <Icon name="more" />
      </button>
      {machine?.extraction && (
        <Toggle
          label={words.extractionOn}
          on={pick.extraction}
          onChange={(extraction) => onChange({ ...pick, extraction })}
        />
      )}
      {asking && (
        <Over title={words.stock} onClose={() => ask(false)}>
          <ul class="pick-list">
            {in_order(shop.stocks, shop.stocksByUse).map((one) => (
              <li key={one.id}>
                <button
                  type="button"
                  class="row-button"
                  aria-pressed={one.id === pick.stock}
                  onClick={() => {
                    onChange({ ...pick, stock: one.id });
                    ask(false);
                  }}
                >
                  <span class="row-label">{words.told(one.name)}</span>
                  {one.id === pick.stock && <Icon name="check" />}
                </button>
              </li>
            ))}
          </ul>
        </Over>
      )}
    </section>
  );
}

export function SessionPick(props: { onSaved: () => void }): JSX.Element {
  const live = useLive();
  const words = useWords();
  const { answer: shop, trouble: no_shop } = useAnswer("listShop", {});
  const [draft, change] = useDraft();
  const { plan, trouble } = usePlan(draft);
  const [saving, set_saving] = useState(false);
  const [adding, set_adding] = useState(draft.picks.length === 0);
  useTop(shop !== undefined);
  if (!shop) return <p class={no_shop ? "trouble" : "waiting"}>{no_shop ?? words.oneMoment}</p>;

  const machines = in_order(shop.machines, shop.machinesByUse);
  const left = machines.filter((one) => !draft.picks.some((pick) => pick.machine === one.id));
  const first_stock = in_order(shop.stocks, shop.stocksByUse)[0]?.id ?? "";

  const add = (machine: MachineNamed) => {
    const last = machine.last;
    const pick: Pick = {
      machine: machine.id,
      minutes: Math.round(last?.minutes || usualMinutes),
      stock: draft.picks.at(-1)?.stock || last?.stock || first_stock,
      extraction: last?.extraction ?? machine.extraction,
    };
    change({ picks: [...draft.picks, pick] });
    set_adding(false);
  };

  const save = async () => {
    set_saving(true);
    const recorded = await live.record({ case: "session", value: { draft: session_of(draft) } });
    set_saving(false);
    if (!recorded) return;
    if (recorded.list) keep_list(entry_key(recorded.entry), recorded.list);
    change(emptyDraft);
    live.say(words.savedHere);
    props.onSaved();
  };

  const leave_options = [30, 45, 60, 90].map((minutes) => ({
    value: shop_time(shop.timeZone, minutes),
    text: words.inMinutes(minutes),
  }));
  const recent = draft.picks.length === 0 ? shop.recent.slice(0, 3) : [];

  return (
    <div class="screen two-columns">
      <div class="column">
        {plan && <ToolsDown plan={plan} />}
        <h1>{words.whatRan}</h1>
        {recent.map((one) => (
          <button
            type="button"
            key={entry_key(one.entry)}
            class="card-button"
            onClick={() => {
              change({
                picks: (one.session?.uses ?? []).map((use) => ({
                  machine: use.machine,
                  minutes: Math.round(use.minutes),
                  stock: use.stock,
                  extraction: use.extraction ?? true,
                })),
                people: Math.max(1, one.session?.people ?? 1),
                rags: one.session?.oilyRags ?? false,
                glue: one.session?.glue ?? false,
              });
              set_adding(false);
            }}
          >
            <span class="small">{words.asBefore(one.when)}</span>
            <span>{one.text}</span>
          </button>
        ))}
        {draft.picks.map((pick, i) => (
          <PickedMachine
            key={`${i} ${pick.machine}`}
            pick={pick}
            machine={shop.machines.find((one) => one.id === pick.machine)}
            shop={shop}
            onChange={(next) =>
              change({ picks: draft.picks.map((old, at) => (at === i ? next : old)) })
            }
            onRemove={() => change({ picks: draft.picks.filter((_, at) => at !== i) })}
          />
        ))}
        {!adding && (
          <Button icon="plus" onClick={() => set_adding(true)}>
            {words.anotherMachine}
          </Button>
        )}
        {adding && (
          <ul class="pick-list" aria-label={words.machines}>
            {left.map((machine) => (
              <li key={machine.id}>
                <button type="button" class="row-button" onClick={() => add(machine)}>
                  <span class="row-label">
                    {machine.name}
                    {machine.out && <span class="tag">{words.outOfOrder}</span>}
                    {machine.last && <span class="small">{words.lastUsed(machine.last.when)}</span>}
                  </span>
                  <Icon name="plus" />
                </button>
              </li>
            ))}
          </ul>
        )}
      </div>
      <div class="column">
        <h2>{words.whoAndWhen}</h2>
        <section class="card">
          <Stepper
            label={words.people}
            value={draft.people}
            say={String(draft.people)}
            step={1}
            least={1}
            most={mostPeople}
            onChange={(people) => change({ people })}
          />
          <label class="field">
            <span>{words.leaveAt}</span>
            <input
              type="time"
              value={draft.leaveAt}
              onInput={(event) => change({ leaveAt: event.currentTarget.value })}
            />
          </label>
          <Choices
            label={words.leaveAt}
            options={leave_options}
            value={draft.leaveAt || undefined}
            onChange={(leaveAt) => change({ leaveAt })}
          />
          <Toggle label={words.ragsUsed} on={draft.rags} onChange={(rags) => change({ rags })} />
          <Toggle label={words.glueUsed} on={draft.glue} onChange={(glue) => change({ glue })} />
        </section>
        {trouble && (
          <p class="trouble" role="alert">
            {trouble}
          </p>
        )}
        {plan && (
          <section class="card" aria-label={words.whatComes}>
            <h2>{words.whatComes}</h2>
            <ol class="short-list">
              {plan.duties.slice(0, 40).map((duty) => (
                <li key={duty.id}>
                  <span>{words.told(duty.title)}</span> <span class="small">{half_minutes(duty.minutes)}</span>
                </li>
              ))}
            </ol>
          </section>
        )}
      </div>
      <ActionBar>
        <p class="bar-note" aria-live="polite">
          {plan
            ? words.barPlan(plan.duties.length, whole_minutes(plan.finish?.minutesP80 ?? plan.minutesP80))
            : words.pickFirst}
        </p>
        <Button kind="main" icon="check" disabled={!plan || saving} onClick={() => void save()}>
          {saving ? words.saving : words.toolsAreDown}
        </Button>
      </ActionBar>
    </div>
  );
}
