// Cleaning up: one duty at a time or the whole list, each ended in one or two taps.
import type { JSX } from "preact";
import { useEffect, useMemo, useState } from "preact/hooks";
import type { ListNow } from "../messages/core/proto/door_pb";
import type { WindDown } from "../messages/core/proto/wind_down_pb";
import { useLive, useTop } from "../core/live";
import { kept } from "../core/kept";
import { kept_list } from "../core/kept_list";
import { entry_key } from "../core/session_draft";
import { ActionBar, Button, Choices } from "../parts/parts";
import { DutyButtons, DutyDetails, DutyRows, type DutyActions, type Line } from "../parts/duty";
import { useTimed } from "../parts/timed";
import { Progress } from "../parts/tools_down";
import { useWords } from "../words/words";
import { BinSheet } from "./tell";
import { SessionFinish } from "./session_finish";

/** The list as it stands now: what the ledger says of each duty, with the details of the plan. */
export function lines_of(list: ListNow, plan: WindDown | undefined): Line[] {
  const details = new Map(plan?.duties.map((duty) => [duty.id, duty]));
  return list.duties.map((listed, i) => {
    const owed = listed.owed!;
    const duty = details.get(owed.id);
    return {
      id: owed.id,
      order: duty?.order ?? i + 1,
      title: owed.title,
      kind: owed.kind,
      minutes: owed.minutes,
      place: owed.place,
      tool: duty?.toolName ?? "",
      why: duty?.why ?? "",
      steps: duty?.steps ?? [],
      caution: duty?.caution ?? "",
      phase: duty?.phase ?? "",
      people: duty?.people ?? 1,
      safety: owed.safety,
      zone: owed.zone,
      bin: owed.bin,
      left_over: false,
      since: "",
      ending: listed.ending,
      reason: listed.reason,
    };
  });
}

/** The first open duty from `after` on, round the list. */
function next_open(lines: readonly Line[], after: string | undefined): Line | undefined {
  const at = lines.findIndex((line) => line.id === after);
  return [...lines.slice(at + 1), ...lines.slice(0, at + 1)].find((line) => line.ending === "open");
}

/** The details of the list: as kept, else planned anew from what was recorded. */
function usePlanOf(key: string): WindDown | undefined {
  const live = useLive();
  const plan = useMemo(() => kept_list(key), [key]);
  const [anew, set] = useState<WindDown | undefined>();
  useEffect(() => {
    if (plan) return;
    void live
      .ask("listShop", {})
      .then((shop) => shop.recent.find((one) => entry_key(one.entry) === key)?.session)
      .then((draft) => draft && live.ask("windDown", { draft }))
      .then(set)
      .catch(() => {});
  }, [live, plan, key]);
  return plan ?? anew;
}

export function SessionList(props: { list: ListNow; onFinished: () => void }): JSX.Element {
  const { list } = props;
  const live = useLive();
  const words = useWords();
  const session = list.session;
  const key = entry_key(session);
  const plan = usePlanOf(key);
  const all = lines_of(list, plan);
  const lanes = plan && plan.lanes.length > 1 ? plan.lanes : [];
  const [view, set_view] = useState(kept.view());
  const [person, set_person] = useState("");
  const [at, set_at] = useState<string | undefined>();
  const [opened, set_opened] = useState<string | undefined>();
  const [busy, set_busy] = useState(false);
  const [bins, set_bins] = useState(false);
  const [finishing, set_finishing] = useState(false);

  const lane = lanes.find((one) => one.person === person);
  const by_id = new Map(all.map((line) => [line.id, line]));
  const lines = lane
    ? lane.steps.map((step) => by_id.get(step.duty)).filter((line) => line !== undefined)
    : all;
  const open = lines.filter((line) => line.ending === "open");
  const current = lines.find((line) => line.id === at && line.ending === "open") ??
    next_open(lines, undefined);

  const timed = useTimed(view === "one" ? current?.id : undefined);

  useTop(`${view} ${view === "one" ? (current?.id ?? "") : ""}`);
  const once = async (work: () => Promise<unknown>) => {
    set_busy(true);
    try {
      await work();
    } finally {
      set_busy(false);
    }
  };
  const duty_of = (line: Line) => ({ id: line.id, ...(session ? { session } : {}) });
  const moved_on = (line: Line) => {
    set_at(next_open(lines.filter((one) => one.id !== line.id || one.ending !== "open"), line.id)?.id);
    set_opened(undefined);
  };
  const reopen = (line: Line) =>
    once(() =>
      live.record({ case: "reopened", value: { duty: duty_of(line), reason: "" } }),
    );
  const ended = (line: Line, text: string) => {
    moved_on(line);
    live.say(text, false, () => void reopen(line));
  };
  const actions: DutyActions = {
    done: (line) =>
      void once(async () => {
        const { clockMinutes, ...minutes } = timed.took(line.id);
        const value = { duty: duty_of(line), people: line.people, ...minutes };
        if (await live.record({ case: "done", value }, clockMinutes)) ended(line, words.doneSaved);
      }),
    pass_on: (line, reason) =>
      void once(async () => {
        const saved = await live.record({ case: "passedOn", value: { duty: duty_of(line), reason } });
        if (saved) ended(line, words.passedOnSaved);
      }),
    not_needed: (line, reason) =>
      void once(async () => {
        const saved = await live.record({ case: "notNeeded", value: { duty: duty_of(line), reason } });
        if (saved) ended(line, words.notNeededSaved);
      }),
    reopen: (line) => void reopen(line),
    dirtier: (line) =>
      void once(async () => {
        const value = { zone: line.zone, seen: "dirtier" };
        if (await live.record({ case: "zoneSeen", value })) live.say(words.dirtierSaved);
      }),
    bin_full: (line) =>
      void once(async () => {
        const value = { bin: line.bin, seen: "full" };
        if (await live.record({ case: "binSeen", value })) live.say(words.binSaved);
      }),
  };

  useEffect(() => {
    if (all.length > 0 && all.every((line) => line.ending !== "open")) set_finishing(true);
  }, [list]);

  if (finishing) {
    return (
      <SessionFinish
        list={list}
        lines={all}
        onBack={() => set_finishing(false)}
        onFinished={props.onFinished}
      />
    );
  }

  const ended_count = all.length - all.filter((line) => line.ending === "open").length;
  const phases = [...new Set(lines.map((line) => line.phase))];
  const whole = (
    <>
      {phases.map((phase) => (
        <section key={phase}>
          {phase !== "" && <h2>{words.phases[phase] ?? words.also}</h2>}
          <DutyRows
            lines={lines.filter((line) => line.phase === phase)}
            actions={actions}
            busy={busy}
            opened={opened}
            onOpen={set_opened}
          />
        </section>
      ))}
    </>
  );
  const one = current && (
    <article class="card big-duty" aria-label={words.told(current.title)}>
      <p class="small">
        {words.dutyOf(current.order, all.length)}
        {current.phase !== "" && ` · ${words.phases[current.phase] ?? words.also}`}
      </p>
      <h2 class="big-title" aria-live="polite">
        {words.told(current.title)}
      </h2>
      <DutyDetails line={current} whole />
      {timed.part}
    </article>
  );

  return (
    <div class="screen two-columns">
      <div class="column">
        <h1 class="unseen">{words.cleaningUp}</h1>
        <Progress done={ended_count} all={all.length} until={plan?.finish?.doneBy} />
        {view === "one" && one}
        {view === "one" && !current && <p class="card">{words.nothingOpen}</p>}
        {view !== "one" && whole}
      </div>
      <div class="column beside">
        <Choices
          label={words.show}
          options={[
            { value: "one", text: words.oneAtATime },
            { value: "all", text: words.wholeList },
          ]}
          value={view}
          onChange={(next) => {
            kept.setView(next);
            set_view(next);
          }}
        />
        {lanes.length > 0 && (
          <Choices
            label={words.whosePart}
            options={[
              { value: "", text: words.everyone },
              ...lanes.map((one_lane) => ({ value: one_lane.person, text: one_lane.person })),
            ]}
            value={person}
            onChange={(next) => {
              set_person(next);
              set_at(undefined);
            }}
          />
        )}
        {view === "one" && (
          <section class="coming-up" aria-label={words.comingUp}>
            <h2>{words.comingUp}</h2>
            <ol class="duties">
              {open
                .filter((line) => line.id !== current?.id)
                .slice(0, 12)
                .map((line) => (
                  <li class="duty-row" key={line.id}>
                    <button type="button" class="duty-title" onClick={() => set_at(line.id)}>
                      <span class="duty-order">{line.order}</span>
                      <span class="duty-text">{words.told(line.title)}</span>
                    </button>
                  </li>
                ))}
            </ol>
          </section>
        )}
        <div class="stack">
          <Button icon="bin" onClick={() => set_bins(true)}>
            {words.aBinIsFull}
          </Button>
          <Button icon="door" onClick={() => set_finishing(true)}>
            {words.finishUp}
          </Button>
        </div>
      </div>
      {view === "one" && current && (
        <ActionBar>
          <DutyButtons line={current} actions={actions} busy={busy} />
        </ActionBar>
      )}
      {bins && <BinSheet onClose={() => set_bins(false)} />}
    </div>
  );
}
