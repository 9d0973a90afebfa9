// Closing the shop: one walk past everything, then the checks that somebody answers for.
import type { JSX } from "preact";
import { useMemo, useState } from "preact/hooks";
import type { ClosingDuty, LockUp } from "../messages/core/proto/lock_up_pb";
import { useAnswer, useLive, useTop, error_text, type What } from "../core/live";
import { kept, type Closing } from "../core/kept";
import { walk_of, walk_text } from "../core/kept_list";
import { shop_time } from "../core/session_draft";
import { ActionBar, Button, Choices, Stepper } from "../parts/parts";
import { DutyButtons, DutyDetails, DutyRows, type DutyActions, type Line } from "../parts/duty";
import { Icon } from "../parts/icons";
import { useTimed, type Took } from "../parts/timed";
import { Progress } from "../parts/tools_down";
import { half_minutes, whole_minutes } from "../parts/figures";
import { useWords } from "../words/words";

function line_of(duty: ClosingDuty, endings: Record<string, string>): Line {
  const names = duty.building ? duty.steps.join(", ") : "";
  return {
    id: duty.id,
    order: duty.order,
    title: duty.title,
    kind: duty.kind,
    minutes: duty.minutes,
    place: names || duty.place,
    tool: duty.toolName,
    why: duty.why,
    steps: duty.building ? [] : duty.steps,
    caution: duty.caution,
    phase: duty.phase,
    people: duty.people,
    safety: duty.safety,
    zone: duty.zone,
    bin: duty.bin,
    left_over: !duty.building,
    since: duty.since,
    ending: endings[duty.id] ?? (duty.done ? "done" : "open"),
    reason: "",
  };
}

/** The duty's name in each list that owes it; the building's own belongs to no session. */
function names_of(duty: ClosingDuty) {
  if (duty.owedBy.length === 0) return [{ id: duty.id }];
  return duty.owedBy.map((owed) => ({
    id: owed.duty,
    session: { device: owed.device, sequence: owed.sequence },
  }));
}

export function LockUpScreen(): JSX.Element {
  const [closing, set] = useState(kept.closing);
  const text = closing?.plan;
  const plan = useMemo(() => (text === undefined ? undefined : walk_of(text)), [text]);
  const change = (next: Closing | undefined) => {
    kept.setClosing(next);
    set(next);
  };
  if (!closing || !plan) return <Begin onBegin={change} />;
  return <Walk closing={closing} plan={plan} change={change} />;
}

function Begin(props: { onBegin: (closing: Closing) => void }): JSX.Element {
  const live = useLive();
  const words = useWords();
  const { answer: shop } = useAnswer("listShop", {});
  const [people, set_people] = useState(1);
  const begin_at = shop ? shop_time(shop.timeZone, 0) : "";
  const { answer: plan, trouble } = useAnswer("lockUp", { people, beginAt: begin_at });
  const begin = async () => {
    try {
      const now = await live.ask("lockUp", { people, beginAt: begin_at });
      props.onBegin({
        at: Date.now(),
        people,
        plan: walk_text(now),
        endings: {},
        checked: [],
      });
    } catch (error) {
      live.say(error_text(error), true);
    }
  };
  const left_over = plan?.duties.filter((duty) => !duty.building).length ?? 0;
  return (
    <div class="screen two-columns">
      <div class="column">
        <h1>{words.lockUp}</h1>
        {trouble && <p class="trouble">{trouble}</p>}
        {plan && (
          <section class="tools-down">
            <p class="tools-down-label">{words.closedBy}</p>
            <p class="tools-down-time">{plan.finish?.doneBy || whole_minutes(plan.minutesP80)}</p>
            <p>
              {words.likelyAndSure(
                whole_minutes(plan.finish?.minutesMedian ?? plan.minutesMedian),
                whole_minutes(plan.finish?.minutesP80 ?? plan.minutesP80),
                people,
              )}
            </p>
            <p class="small">{words.walking(half_minutes(plan.walkMinutes))}</p>
          </section>
        )}
        <section class="card">
          <Stepper
            label={words.people}
            value={people}
            say={String(people)}
            step={1}
            least={1}
            most={6}
            onChange={set_people}
          />
        </section>
      </div>
      <div class="column">
        {plan && (
          <>
            <p>{words.leftOverOf(left_over, plan.duties.length)}</p>
            <section class="card">
              <h2>{words.takeCare}</h2>
              <ul class="bullets">
                {plan.cautions.map((caution) => (
                  <li key={caution}>{words.told(caution)}</li>
                ))}
              </ul>
            </section>
          </>
        )}
      </div>
      <ActionBar>
        <Button kind="main" icon="walk" disabled={!plan} onClick={() => void begin()}>
          {words.beginWalk}
        </Button>
      </ActionBar>
    </div>
  );
}

function Walk(props: {
  closing: Closing;
  plan: LockUp;
  change: (closing: Closing | undefined) => void;
}): JSX.Element {
  const { closing, plan, change } = props;
  const live = useLive();
  const words = useWords();
  const [view, set_view] = useState(kept.view());
  const [opened, set_opened] = useState<string | undefined>();
  const [at, set_at] = useState<string | undefined>();
  const [busy, set_busy] = useState(false);
  const [signing, set_signing] = useState(false);
  const duties = new Map(plan.duties.map((duty) => [duty.id, duty]));
  const lines = plan.duties.map((duty) => line_of(duty, closing.endings));
  const open = lines.filter((line) => line.ending === "open");
  const current = open.find((line) => line.id === at) ?? open[0];

  /** Ends the duty in each list that owes it; all or the rest stays open. */
  const end = async (
    line: Line,
    ending: string,
    what: (duty: object, took: Took) => What,
    took: Took = {},
  ) => {
    set_busy(true);
    let saved = true;
    for (const name of names_of(duties.get(line.id)!)) {
      saved = saved && (await live.record(what(name, took), took.clockMinutes)) !== undefined;
      took = {}; // done once, though several lists owe it: the estimates hear of it once
    }
    set_busy(false);
    if (!saved) return;
    change({ ...closing, endings: { ...closing.endings, [line.id]: ending } });
    const after = lines.slice(line.order).find((one) => one.ending === "open");
    set_at(after?.id);
    set_opened(undefined);
    if (ending !== "open") live.say(ending === "done" ? words.doneSaved : words.saved);
  };
  const actions: DutyActions = {
    done: (line) =>
      void end(
        line,
        "done",
        (duty, { minutes }) => ({
          case: "done",
          value: { duty, people: line.people, ...(minutes === undefined ? {} : { minutes }) },
        }),
        timed.took(line.id),
      ),
    pass_on: (line, reason) =>
      void end(line, "passed on", (duty) => ({ case: "passedOn", value: { duty, reason } })),
    not_needed: (line, reason) =>
      void end(line, "not needed", (duty) => ({ case: "notNeeded", value: { duty, reason } })),
    reopen: (line) =>
      void end(line, "open", (duty) => ({ case: "reopened", value: { duty, reason: "" } })),
  };
  const timed = useTimed(view === "one" ? current?.id : undefined);
  useTop(`${signing} ${view} ${view === "one" ? (current?.id ?? "") : ""}`);
  const checks_left = plan.signOff.filter((check) => !closing.checked.includes(check.id));

  if (signing) {
    return (
      <SignOffs
        closing={closing}
        plan={plan}
        lines={lines}
        change={change}
        onBack={() => set_signing(false)}
      />
    );
  }
  const finish_button = (
    <Button
      kind={open.length === 0 ? "main" : "plain"}
      icon="door"
      onClick={() => set_signing(true)}
    >
      {words.toChecks(checks_left.length)}
    </Button>
  );
  return (
    <div class="screen two-columns">
      <div class="column">
        <h1 class="unseen">{words.lockUp}</h1>
        <Progress
          done={lines.length - open.length}
          all={lines.length}
          until={plan.finish?.doneBy}
        />
        {view === "one" && current && (
          <article class="card big-duty">
            <p class="small">{words.dutyOf(current.order, lines.length)}</p>
            <h2 class="big-title" aria-live="polite">
              {words.told(current.title)}
            </h2>
            <DutyDetails line={current} whole />
            {timed.part}
          </article>
        )}
        {view === "one" && !current && <p class="card">{words.walkDone}</p>}
        {view !== "one" && (
          <DutyRows
            class="route"
            lines={lines}
            actions={actions}
            busy={busy}
            opened={opened}
            onOpen={set_opened}
          />
        )}
      </div>
      <div class="column beside">
        <Choices
          label={words.show}
          options={[
            { value: "one", text: words.oneAtATime },
            { value: "all", text: words.wholeWalk },
          ]}
          value={view}
          onChange={(next) => {
            kept.setView(next);
            set_view(next);
          }}
        />
        {view === "one" && (
          <section class="coming-up">
            <h2>{words.comingUp}</h2>
            <ol class="duties route">
              {open
                .filter((line) => line.id !== current?.id)
                .slice(0, 12)
                .map((line) => (
                  <li class="duty-row" key={line.id}>
                    <button type="button" class="duty-title" onClick={() => set_at(line.id)}>
                      <span class="duty-order">{line.order}</span>
                      <span class="duty-text">
                        {words.told(line.title)}
                        {line.place !== "" && <span class="small">{line.place}</span>}
                      </span>
                    </button>
                  </li>
                ))}
            </ol>
          </section>
        )}
        <div class="stack">
          {open.length > 0 && finish_button}
          <Button kind="quiet" icon="undo" onClick={() => change(undefined)}>
            {words.planAgain}
          </Button>
        </div>
      </div>
      <ActionBar>
        {view === "one" && current ? (
          <DutyButtons line={current} actions={actions} busy={busy} />
        ) : (
          open.length === 0 && finish_button
        )}
      </ActionBar>
    </div>
  );
}

function SignOffs(props: {
  closing: Closing;
  plan: LockUp;
  lines: readonly Line[];
  change: (closing: Closing | undefined) => void;
  onBack: () => void;
}): JSX.Element {
  const { closing, plan, lines, change } = props;
  const live = useLive();
  const words = useWords();
  const [note, set_note] = useState("");
  const [busy, set_busy] = useState(false);
  const duties = new Map(plan.duties.map((duty) => [duty.id, duty]));
  const open = lines.filter((line) => line.ending === "open");
  const toggle = (id: string) => {
    const checked = closing.checked.includes(id)
      ? closing.checked.filter((one) => one !== id)
      : [...closing.checked, id];
    change({ ...closing, checked });
  };
  const close = async () => {
    set_busy(true);
    const left = open.flatMap((line) => names_of(duties.get(line.id)!));
    const saved = await live.record({ case: "shopClosed", value: { open: left, note: note.trim() } });
    set_busy(false);
    if (!saved) return;
    change(undefined);
    live.say(words.closedSaved);
  };
  const all_checked = plan.signOff.every((check) => closing.checked.includes(check.id));
  return (
    <div class="screen two-columns">
      <div class="column">
        <h1>{words.beforeClosed}</h1>
        <ul class="checks">
          {plan.signOff.map((check) => {
            const on = closing.checked.includes(check.id);
            const waiting = lines.filter(
              (line) => check.duties.includes(line.id) && line.ending === "open",
            );
            return (
              <li key={check.id} class="card">
                <button
                  type="button"
                  class="check"
                  role="checkbox"
                  aria-checked={on}
                  onClick={() => toggle(check.id)}
                >
                  <span class="check-box" aria-hidden="true">
                    {on && <Icon name="check" />}
                  </span>
                  <span>{words.told(check.title)}</span>
                </button>
                {waiting.length > 0 && (
                  <p class="small">{words.notTicked(waiting.map((line) => line.order).join(", "))}</p>
                )}
                {!on && (
                  <p class="if-not">
                    <strong>{words.ifNot}</strong> {words.told(check.ifNot)}
                  </p>
                )}
              </li>
            );
          })}
        </ul>
      </div>
      <div class="column">
        {open.length > 0 && (
          <section class="card">
            <h2>{words.stillOpen}</h2>
            <ul class="plain-list">
              {open.map((line) => (
                <li key={line.id}>
                  {line.order}. {words.told(line.title)}
                </li>
              ))}
            </ul>
            <p class="small">{words.openIsWritten}</p>
          </section>
        )}
        <label class="field wide">
          <span>{words.noteForTomorrow}</span>
          <textarea
            rows={3}
            maxLength={400}
            value={note}
            onInput={(event) => set_note(event.currentTarget.value)}
          />
        </label>
      </div>
      <ActionBar>
        <div class="side-buttons">
          <Button icon="undo" onClick={props.onBack}>
            {words.backToWalk}
          </Button>
        </div>
        <Button kind="main" icon="door" disabled={busy || !all_checked} onClick={() => void close()}>
          {words.shopIsClosed}
        </Button>
        {!all_checked && <p class="bar-note">{words.checksFirst}</p>}
      </ActionBar>
    </div>
  );
}
