// Joining a hub: by the code of a link, by the camera, or typed.
import type { JSX } from "preact";
import { useEffect, useRef, useState } from "preact/hooks";
import type { Joining } from "../messages/core/proto/door_pb";
import { useLive, error_text, useChanges } from "../core/live";
import { kept } from "../core/kept";
import { ActionBar, Button, Over } from "../parts/parts";
import { code_reader, there_may_be_a_camera } from "../sync/qr_reader";
import { TextField } from "./tell";
import { useWords } from "../words/words";

export function Join(props: { code: string; onDone: () => void }): JSX.Element {
  const live = useLive();
  const words = useWords();
  useChanges();
  const [code, set_code] = useState(props.code);
  const [label, set_label] = useState("");
  const [read, set_read] = useState<Joining | undefined>();
  const [trouble, set_trouble] = useState<string | undefined>();
  const [scanning, set_scanning] = useState(false);
  const [begun, set_begun] = useState(false);
  useEffect(() => {
    if (props.code !== "") void look(props.code);
  }, [props.code]);

  const look = async (text: string) => {
    set_code(text);
    set_trouble(undefined);
    try {
      set_read(await live.ask("join", { code: text.trim(), begin: false }));
    } catch (error) {
      set_read(undefined);
      set_trouble(error_text(error));
    }
  };
  const begin = async () => {
    try {
      await live.ask("join", {
        code: code.trim(),
        begin: true,
        label: label.trim(),
        installation: kept.installation(),
      });
      set_begun(true);
      live.recordedSomething();
      await live.refresh();
    } catch (error) {
      set_trouble(error_text(error));
    }
  };
  const sync = live.sync;
  if (begun) {
    const joined = sync !== undefined && !sync.joining && sync.shop !== "";
    const gone = joined && sync.refusal === undefined;
    return (
      <div class="screen">
        <h1>{gone ? words.joined(sync.shop) : words.joining}</h1>
        <p aria-live="polite">{gone ? words.joinedText : (sync?.text ?? words.oneMoment)}</p>
        {sync?.refusal && <p class="trouble">{words.told(sync.refusal.sentence)}</p>}
        <ActionBar>
          <Button kind="main" onClick={props.onDone}>
            {words.goOn}
          </Button>
        </ActionBar>
      </div>
    );
  }
  return (
    <div class="screen">
      <h1>{words.joinShop}</h1>
      {!read && (
        <>
          <p>{words.joinHow}</p>
          {there_may_be_a_camera() && (
            <Button icon="scan" onClick={() => set_scanning(true)}>
              {words.scan}
            </Button>
          )}
          <TextField label={words.code} value={code} onInput={set_code} />
        </>
      )}
      {trouble && (
        <p class="trouble" role="alert">
          {trouble}
        </p>
      )}
      {read && (
        <section class="card">
          <p>{words.told(read.text)}</p>
          {read.hub && (
            <dl>
              <dt>{words.hub}</dt>
              <dd>
                {read.hub.host}:{read.hub.port}
              </dd>
              <dt>{words.fingerprint}</dt>
              <dd class="mono">{read.hub.fingerprintText}</dd>
            </dl>
          )}
          {read.joinedBefore !== "" && (
            <p class="care-note">{words.leavesShop(read.joinedBefore)}</p>
          )}
          <label class="field wide">
            <span>{words.deviceName}</span>
            <input
              type="text"
              maxLength={40}
              value={label}
              onInput={(event) => set_label(event.currentTarget.value)}
            />
          </label>
        </section>
      )}
      <ActionBar>
        {read ? (
          <>
            <div class="side-buttons">
              <Button onClick={() => set_read(undefined)}>{words.otherCode}</Button>
            </div>
            <Button kind="main" icon="hub" onClick={() => void begin()}>
              {words.joinNow}
            </Button>
          </>
        ) : (
          <Button kind="main" disabled={code.trim() === ""} onClick={() => void look(code)}>
            {words.next}
          </Button>
        )}
      </ActionBar>
      {scanning && (
        <Scanner
          onClose={() => set_scanning(false)}
          onRead={(text) => {
            set_scanning(false);
            void look(text);
          }}
        />
      )}
    </div>
  );
}

function Scanner(props: { onRead: (text: string) => void; onClose: () => void }): JSX.Element {
  const words = useWords();
  const video = useRef<HTMLVideoElement>(null);
  const [trouble, set_trouble] = useState<string | undefined>();
  useEffect(() => {
    let stopped = false;
    let stream: MediaStream | undefined;
    const run = async () => {
      const reading = code_reader();
      reading.catch(() => {}); // told below, once the camera is there
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
      const screen = video.current;
      if (stopped || !screen) return;
      screen.srcObject = stream;
      await screen.play();
      const read = await reading;
      while (!stopped) {
        const found = (await read(screen)).find((text) => text.includes("CF1"));
        if (found !== undefined && !stopped) return props.onRead(found);
        await new Promise((later) => setTimeout(later, 150));
      }
    };
    run().catch(() => set_trouble(words.noCamera));
    return () => {
      stopped = true;
      for (const track of stream?.getTracks() ?? []) track.stop();
    };
  }, []);
  return (
    <Over title={words.scan} onClose={props.onClose}>
      {trouble ? (
        <p class="trouble">{trouble}</p>
      ) : (
        <video class="camera" ref={video} playsInline muted aria-label={words.scan} />
      )}
    </Over>
  );
}
