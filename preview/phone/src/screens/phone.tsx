// This phone: where its entries are, joining, what was recorded, language and light.
import type { JSX } from "preact";
import { useEffect, useState } from "preact/hooks";
import type { HistoryLine, HistoryPlace } from "../messages/core/proto/door_pb";
import { useChanges, useLive, error_text } from "../core/live";
import { kept } from "../core/kept";
import { entry_key } from "../core/session_draft";
import { Button, Choices, NotTrusted } from "../parts/parts";
import { WhereSaved } from "../parts/where_saved";
import { useWords, type Language } from "../words/words";
import { Tell } from "./tell";
import { SheetFile } from "./sheet_file";

export function Phone(props: {
  language: Language;
  onLanguage: (language: Language) => void;
  theme: string;
  onTheme: (theme: string) => void;
  persisted: boolean | undefined;
  update: (() => void) | undefined;
  trusted: boolean;
}): JSX.Element {
  const live = useLive();
  const words = useWords();
  useChanges();
  const [member, set_member] = useState(kept.member());
  const joined = live.sync !== undefined && live.sync.shop !== "";
  return (
    <div class="screen two-columns">
      <div class="column">
        <h1>{words.thisPhone}</h1>
        {props.update && (
          <section class="card">
            <p>{words.updateReady}</p>
            <Button kind="main" disabled={live.underWay > 0} onClick={props.update}>
              {words.updateNow}
            </Button>
          </section>
        )}
        <WhereSaved />
        {!props.trusted && <NotTrusted />}
        {props.persisted === false && <p class="care-note">{words.mayBeEvicted}</p>}
        <div class="stack">
          <a class="button plain" href="#/join">
            {joined ? words.joinAnother : words.joinShop}
          </a>
          {!joined && <SheetFile />}
        </div>
        <h2>{words.tellSomething}</h2>
        <Tell />
      </div>
      <div class="column">
        <section class="card">
          <label class="field wide">
            <span>{words.yourName}</span>
            <input
              type="text"
              maxLength={40}
              autocomplete="nickname"
              value={member}
              onInput={(event) => {
                set_member(event.currentTarget.value);
                kept.setMember(event.currentTarget.value.trim());
              }}
            />
          </label>
          <p class="field-label">{words.language}</p>
          <Choices
            label={words.language}
            options={[
              { value: "en", text: "English" },
              { value: "es", text: "Español" },
            ]}
            value={props.language}
            onChange={props.onLanguage}
          />
          <p class="field-label">{words.light}</p>
          <Choices
            label={words.light}
            options={[
              { value: "system", text: words.lightSystem },
              { value: "light", text: words.lightPaper },
              { value: "dark", text: words.lightShop },
            ]}
            value={props.theme}
            onChange={props.onTheme}
          />
        </section>
        <History />
      </div>
    </div>
  );
}

function History(): JSX.Element {
  const live = useLive();
  const words = useWords();
  useChanges();
  const [lines, set_lines] = useState<HistoryLine[]>([]);
  const [next, set_next] = useState<HistoryPlace | undefined>();
  const [trouble, set_trouble] = useState<string | undefined>();
  const stamp = live.stamp;
  const read = (before: HistoryPlace | undefined) => {
    live.ask("history", { most: 20, ...(before ? { before } : {}) }).then(
      (page) => {
        set_lines((old) => (before ? [...old, ...page.lines] : page.lines));
        set_next(page.next);
      },
      (error: unknown) => set_trouble(error_text(error)),
    );
  };
  useEffect(() => read(undefined), [stamp]);
  return (
    <section>
      <h2>{words.history}</h2>
      {trouble && <p class="trouble">{trouble}</p>}
      <ol class="history">
        {lines.map((line) => (
          <li key={entry_key(line.entry)}>
            <span class="small">
              {words.told(line.day)} {line.time}
              {line.member !== "" && ` · ${line.member}`}
              {line.doubtful && <span class="tag">{words.doubtful}</span>}
            </span>
            {words.told(line.text)}
          </li>
        ))}
      </ol>
      {next && <Button onClick={() => read(next)}>{words.older}</Button>}
    </section>
  );
}
