// One duty, as a card of its own or a line that opens.
import type { ComponentChildren, JSX } from "preact";
import { useState } from "preact/hooks";
import { useAnswer } from "../core/live";
import { useWords } from "../words/words";
import { half_minutes } from "./figures";
import { Icon } from "./icons";
import { Button, Care, Over } from "./parts";

/** What the screens need to know of a duty, whichever list it comes from. */
export interface Line {
  id: string;
  order: number;
  title: string;
  kind: string;
  minutes: number;
  place: string;
  tool: string;
  why: string;
  steps: readonly string[];
  caution: string;
  phase: string;
  people: number;
  safety: boolean;
  zone: string;
  bin: string;
  left_over: boolean;
  since: string;
  ending: string;
  reason: string;
}

export interface DutyActions {
  done: (line: Line) => void;
  pass_on: (line: Line, reason: string) => void;
  not_needed: (line: Line, reason: string) => void;
  reopen: (line: Line) => void;
  dirtier?: (line: Line) => void;
  bin_full?: (line: Line) => void;
}

const ended = { done: "check", "passed on": "pass", "not needed": "skip" } as const;

export function Ending(props: { line: Line }): JSX.Element | null {
  const words = useWords();
  const icon = ended[props.line.ending as keyof typeof ended];
  if (!icon) return null;
  return (
    <span class="ending">
      <Icon name={icon} /> {words.endings[props.line.ending] ?? props.line.ending}
      {props.line.reason !== "" && `: ${words.reason(props.line.reason)}`}
    </span>
  );
}

export function DutyDetails(props: { line: Line; whole: boolean }): JSX.Element {
  const { line } = props;
  const words = useWords();
  const place = line.title.includes(line.place) ? "" : line.place;
  return (
    <div class="duty-details">
      <p class="duty-facts">
        <span>
          <Icon name="clock" /> {half_minutes(line.minutes)}
        </span>
        {line.people > 1 && (
          <span>
            <Icon name="people" /> {words.together(line.people)}
          </span>
        )}
        {line.tool !== "" && <span>{words.with(line.tool)}</span>}
        {place !== "" && <span>{words.at(place)}</span>}
        {line.since !== "" && <span class="tag">{words.told(line.since)}</span>}
      </p>
      {line.why !== "" && line.why !== line.since && props.whole && (
        <p class="why">{words.told(line.why)}</p>
      )}
      {line.steps.length > 0 && (
        <ul class="steps">
          {line.steps.map((step) => (
            <li key={step}>{words.told(step)}</li>
          ))}
        </ul>
      )}
      <Care text={words.told(line.caution)} />
    </div>
  );
}

/** The reasons to choose from, in the page's language; what goes to the ledger is the word. */
function Reasons(props: {
  title: string;
  kind: "passOnReasons" | "notNeededReasons";
  onChoose: (reason: string) => void;
  onClose: () => void;
}): JSX.Element {
  const words = useWords();
  const [own, set] = useState("");
  const { answer: shop } = useAnswer("listShop", {});
  return (
    <Over title={props.title} onClose={props.onClose}>
      <div class="stack">
        {shop?.[props.kind].map((reason) => (
          <Button key={reason.word} onClick={() => props.onChoose(reason.word)}>
            {words.told(reason.text)}
          </Button>
        ))}
        <label class="field">
          <span>{words.otherReason}</span>
          <input
            type="text"
            maxLength={120}
            value={own}
            onInput={(event) => set(event.currentTarget.value)}
          />
        </label>
        <Button kind="main" disabled={own.trim() === ""} onClick={() => props.onChoose(own.trim())}>
          {words.save}
        </Button>
      </div>
    </Over>
  );
}

export function DutyButtons(props: {
  line: Line;
  actions: DutyActions;
  busy: boolean;
}): JSX.Element {
  const { line, actions, busy } = props;
  const words = useWords();
  const [asking, ask] = useState<"pass on" | "not needed" | undefined>();
  if (line.ending !== "open") {
    return (
      <div class="duty-buttons">
        <Ending line={line} />
        <Button icon="undo" disabled={busy} onClick={() => actions.reopen(line)}>
          {words.openAgain}
        </Button>
      </div>
    );
  }
  return (
    <div class="duty-buttons">
      <div class="side-buttons">
        <Button icon="pass" disabled={busy} onClick={() => ask("pass on")}>
          {words.passOn}
        </Button>
        <Button icon="skip" disabled={busy} onClick={() => ask("not needed")}>
          {words.notNeeded}
        </Button>
        {actions.dirtier && line.zone !== "" && (
          <Button icon="dirt" disabled={busy} onClick={() => actions.dirtier?.(line)}>
            {words.dirtier}
          </Button>
        )}
        {actions.bin_full && line.bin !== "" && (
          <Button icon="bin" disabled={busy} onClick={() => actions.bin_full?.(line)}>
            {words.binIsFull}
          </Button>
        )}
      </div>
      <Button kind="main" icon="check" disabled={busy} onClick={() => actions.done(line)}>
        {words.done}
      </Button>
      {asking === "pass on" && (
        <Reasons
          title={words.passOnWhy}
          kind="passOnReasons"
          onClose={() => ask(undefined)}
          onChoose={(reason) => {
            ask(undefined);
            actions.pass_on(line, reason);
          }}
        />
      )}
      {asking === "not needed" && (
        <Reasons
          title={words.notNeededWhy}
          kind="notNeededReasons"
          onClose={() => ask(undefined)}
          onChoose={(reason) => {
            ask(undefined);
            actions.not_needed(line, reason);
          }}
        />
      )}
    </div>
  );
}

/** A line of the whole list: ticked off at the right edge, where the thumb is. */
function DutyRow(props: {
  line: Line;
  actions: DutyActions;
  busy: boolean;
  open: boolean;
  onOpen: (open: boolean) => void;
  children?: ComponentChildren;
}): JSX.Element {
  const { line, actions, busy, open } = props;
  const words = useWords();
  const over = line.ending !== "open";
  return (
    <li class={`duty-row ${over ? "ended" : ""} ${open ? "opened" : ""}`} id={`duty-${line.id}`}>
      <div class="duty-line">
        <button
          type="button"
          class="duty-title"
          aria-expanded={open}
          onClick={() => props.onOpen(!open)}
        >
          <span class="duty-order">{line.order}</span>
          <span class="duty-text">
            <span>{words.told(line.title)}</span>
            <span class="small">
              {half_minutes(line.minutes)}
              {line.safety && <span class="tag">{words.safety}</span>}
              {line.left_over && <span class="tag">{words.leftOver}</span>}
            </span>
            <Ending line={line} />
          </span>
        </button>
        {!over && (
          <button
            type="button"
            class="tick"
            disabled={busy}
            aria-label={words.tick(line.title)}
            onClick={() => actions.done(line)}
          >
            <Icon name="check" />
          </button>
        )}
      </div>
      {open && (
        <div class="duty-body">
          <DutyDetails line={line} whole />
          <DutyButtons line={line} actions={actions} busy={busy} />
        </div>
      )}
    </li>
  );
}

/** Lines as a list, of which one at a time is open. */
export function DutyRows(props: {
  lines: readonly Line[];
  actions: DutyActions;
  busy: boolean;
  opened: string | undefined;
  onOpen: (id: string | undefined) => void;
  class?: string;
}): JSX.Element {
  return (
    <ol class={`duties ${props.class ?? ""}`}>
      {props.lines.map((line) => (
        <DutyRow
          key={line.id}
          line={line}
          actions={props.actions}
          busy={props.busy}
          open={props.opened === line.id}
          onOpen={(now) => props.onOpen(now ? line.id : undefined)}
        />
      ))}
    </ol>
  );
}
