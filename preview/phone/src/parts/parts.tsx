// The pieces that screens are put together from.
import type { ComponentChildren, JSX } from "preact";
import { useEffect, useId, useRef } from "preact/hooks";
import { useWords } from "../words/words";
import { Icon, type IconName } from "./icons";

interface ButtonProps {
  children: ComponentChildren;
  onClick: () => void;
  kind?: "main" | "plain" | "quiet" | "danger";
  icon?: IconName;
  disabled?: boolean;
  pressed?: boolean;
  label?: string;
  id?: string;
}

export function Button(props: ButtonProps): JSX.Element {
  const { children, onClick, kind = "plain", icon, disabled, pressed, label, id } = props;
  return (
    <button
      type="button"
      class={`button ${kind}`}
      onClick={onClick}
      disabled={disabled ?? false}
      {...(id === undefined ? {} : { id })}
      {...(pressed === undefined ? {} : { "aria-pressed": pressed })}
      {...(label === undefined ? {} : { "aria-label": label })}
    >
      {icon && <Icon name={icon} />}
      <span>{children}</span>
    </button>
  );
}

interface StepperProps {
  label: string;
  value: number;
  say: string;
  step: number;
  least: number;
  most: number;
  onChange: (value: number) => void;
}

/** A number with big steps: half of the hand is in a glove, and nobody types minutes. */
export function Stepper(props: StepperProps): JSX.Element {
  const { label, value, say, step, least, most, onChange } = props;
  const words = useWords();
  const id = useId();
  return (
    <div class="stepper" role="group" aria-labelledby={id}>
      <span class="stepper-label" id={id}>
        {label}
      </span>
      <span class="stepper-controls">
        <button
          type="button"
          class="round"
          aria-label={words.less(label)}
          disabled={value <= least}
          onClick={() => onChange(Math.max(least, value - step))}
        >
          <Icon name="minus" />
        </button>
        <output class="stepper-value">{say}</output>
        <button
          type="button"
          class="round"
          aria-label={words.more(label)}
          disabled={value >= most}
          onClick={() => onChange(Math.min(most, value + step))}
        >
          <Icon name="plus" />
        </button>
      </span>
    </div>
  );
}

export function Toggle(props: {
  label: string;
  on: boolean;
  onChange: (on: boolean) => void;
}): JSX.Element {
  const words = useWords();
  return (
    <button
      type="button"
      class="toggle"
      role="switch"
      aria-checked={props.on}
      onClick={() => props.onChange(!props.on)}
    >
      <span class="toggle-label">{props.label}</span>
      <span class="toggle-state" aria-hidden="true">
        {props.on ? words.on : words.off}
      </span>
      <span class="toggle-knob" aria-hidden="true" />
    </button>
  );
}

/** A choice of one among few. */
export function Choices<T extends string>(props: {
  label: string;
  options: readonly { value: T; text: string }[];
  value: T | undefined;
  onChange: (value: T) => void;
  hidden?: boolean;
}): JSX.Element {
  return (
    <div class="choices" role="group" aria-label={props.label}>
      {props.options.map(({ value, text }) => (
        <button
          type="button"
          key={value}
          class="chip"
          aria-pressed={value === props.value}
          onClick={() => props.onChange(value)}
        >
          {value === props.value && <Icon name="check" />}
          <span>{text}</span>
        </button>
      ))}
    </div>
  );
}

/** A page that lies over the page until it is answered. */
export function Over(props: {
  title: string;
  onClose: () => void;
  children: ComponentChildren;
}): JSX.Element {
  const words = useWords();
  const dialog = useRef<HTMLDialogElement>(null);
  const id = useId();
  useEffect(() => {
    const element = dialog.current;
    element?.showModal();
    return () => element?.close();
  }, []);
  return (
    <dialog
      ref={dialog}
      class="over"
      aria-labelledby={id}
      onCancel={(event) => {
        event.preventDefault();
        props.onClose();
      }}
      onClick={(event) => event.target === dialog.current && props.onClose()}
    >
      <div class="over-inside">
        <div class="over-head">
          <h2 id={id}>{props.title}</h2>
          <button type="button" class="round" aria-label={words.close} onClick={props.onClose}>
            <Icon name="cross" />
          </button>
        </div>
        {props.children}
      </div>
    </dialog>
  );
}

/** A word of caution, never by colour alone. */
export function Care(props: { text: string }): JSX.Element | null {
  const words = useWords();
  if (props.text === "") return null;
  return (
    <p class="care">
      <Icon name="care" />
      <span>
        <strong>{words.care}</strong> {props.text}
      </span>
    </p>
  );
}

/** What a phone lacks that does not trust the hub's certificate, and the way to the hub's own steps. */
export function NotTrusted(): JSX.Element {
  const words = useWords();
  return (
    <section class="card">
      <h2>{words.notTrusted}</h2>
      <p>{words.notTrustedText}</p>
      <a class="button plain" href="/authority">
        {words.trustSteps}
      </a>
    </section>
  );
}

/** How full, with the mark where to empty. What it means is said in words beside it. */
export function FillBar(props: {
  share: number;
  mark: number;
  known: boolean;
  chances: readonly number[];
}): JSX.Element {
  const wide = 130;
  const most = Math.max(...props.chances, 1e-9);
  const step = 2;
  const curve = props.chances
    .map((chance, i) => `${i * step},${(18 - (16 * chance) / most).toFixed(1)}`)
    .join(" ");
  return (
    <svg class={`fill-bar ${props.known ? "" : "unknown"}`} viewBox={props.chances.length > 1 ? `0 0 ${wide} 34` : `0 14 ${wide} 20`} aria-hidden="true">
      {props.chances.length > 1 && (
        <polygon
          class="belief"
          points={`0,18 ${curve} ${(props.chances.length - 1) * step},18`}
        />
      )}
      <rect class="trough" x="0.5" y="19.5" width="100" height="12" rx="2" />
      {props.known && (
        <rect
          class="filled"
          x="0.5"
          y="19.5"
          width={Math.max(0, Math.min(100, 100 * props.share))}
          height="12"
          rx="2"
        />
      )}
      <line class="mark" x1={100 * props.mark} x2={100 * props.mark} y1="16" y2="34" />
    </svg>
  );
}

/** What stands at the bottom, under the thumb. */
export function ActionBar(props: { children: ComponentChildren }): JSX.Element {
  return <div class="action-bar">{props.children}</div>;
}

export function Waiting(props: { trouble: string | undefined }): JSX.Element {
  const words = useWords();
  if (props.trouble !== undefined) return <p class="trouble" role="alert">{props.trouble}</p>;
  return <p class="waiting">{words.oneMoment}</p>;
}

/** A name and what is said of it, in a list of such. */
export function Fact(props: { name: string; children: ComponentChildren }): JSX.Element {
  return (
    <>
      <dt>{props.name}</dt>
      <dd>{props.children}</dd>
    </>
  );
}
