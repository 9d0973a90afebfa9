// The page as a whole: opening the core, the frame round the screens, and which screen is shown.
import type { JSX } from "preact";
import { useEffect, useState } from "preact/hooks";
import { Live, LiveContext, to_top, useChanges, useLive } from "./core/live";
import { NoCore } from "./core/core";
import { want_phrases } from "./core/ask";
import { openCore } from "./core/open";
import { kept } from "./core/kept";
import { take_over } from "./core/one_tab";
import { ask_to_persist, watch_updates } from "./offline/offline";
import { show_light } from "./look/light";
import { pump } from "./sync/pump";
import { WordsContext, languages, preferred_language, useWords, type Language } from "./words/words";
import { Button, NotTrusted } from "./parts/parts";
import { Icon, type IconName } from "./parts/icons";
import { SavingChip } from "./parts/where_saved";
import { Session } from "./screens/session";
import { LockUpScreen } from "./screens/lock_up";
import { CoordinatorScreen } from "./screens/coordinator";
import { Phone } from "./screens/phone";
import { Join } from "./screens/join";
import { SheetFile } from "./screens/sheet_file";

type Place = "session" | "lock-up" | "shop" | "phone" | "join";

function decoded(text: string): string {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}

/** `#/lock-up`, or a link with a join code behind its `#`. */
function place_in(hash: string): { place: Place; code: string } {
  const text = decoded(hash.slice(1));
  if (/CF1\*/i.test(text)) {
    // A code is a secret until it is used: it does not stay in the browser's history.
    history.replaceState(null, "", "#/join");
    return { place: "join", code: text.replace(/^.*?(?=CF1\*)/i, "") };
  }
  const place = text.replace(/^\//, "");
  const known = ["session", "lock-up", "shop", "phone", "join"].includes(place);
  return { place: known ? (place as Place) : "session", code: "" };
}

export function App(): JSX.Element {
  const [language, set_language] = useState<Language>(preferred_language);
  const [theme, set_theme] = useState(kept.theme());
  const [live, set_live] = useState<Live | undefined>();
  const [trouble, set_trouble] = useState<NoCore | undefined>();
  const [persisted, set_persisted] = useState<boolean | undefined>();
  const [update, set_update] = useState<(() => void) | undefined>();
  const [trusted, set_trusted] = useState(true);
  const words = languages[language];

  want_phrases(language);
  useEffect(() => {
    document.documentElement.lang = language;
  }, [language]);
  useEffect(() => show_light(theme), [theme]);
  useEffect(() => watch_updates((apply) => set_update(() => apply), () => set_trusted(false)), []);
  useEffect(() => {
    const stops: (() => void)[] = [];
    openCore((why) => {
      set_live(undefined);
      set_trouble(why);
    })
      .then(async (core) => {
        const opened = new Live(core);
        await opened.refresh();
        stops.push(opened.watch(), pump(opened));
        set_live(opened);
        set_persisted(await ask_to_persist());
      })
      .catch((error: unknown) =>
        set_trouble(
          error instanceof NoCore
            ? error
            : new NoCore("other", error instanceof Error ? error.message : String(error)),
        ),
      );
    return () => stops.forEach((stop) => stop());
  }, []);

  return (
    <WordsContext.Provider value={words}>
      {trouble ? (
        <Troubled trouble={trouble} />
      ) : !live ? (
        <main class="opening">
          <Mark />
          <p role="status">{words.oneMoment}</p>
        </main>
      ) : (
        <LiveContext.Provider value={live}>
          <Frame
            phone={(place) => (
              <Phone
                key={place}
                language={language}
                onLanguage={(next) => {
                  kept.setLanguage(next);
                  set_language(next);
                }}
                theme={theme}
                onTheme={(next) => {
                  kept.setTheme(next);
                  set_theme(next);
                }}
                persisted={persisted}
                update={update}
                trusted={trusted}
              />
            )}
            update={update !== undefined}
            trusted={trusted}
          />
        </LiveContext.Provider>
      )}
    </WordsContext.Provider>
  );
}

/** The page's mark: a chip coming off a board. */
function Mark(): JSX.Element {
  return <img class="mark" src="/icons/icon.svg" alt="" width="72" height="72" />;
}

function Troubled(props: { trouble: NoCore }): JSX.Element {
  const words = useWords();
  const { trouble, message } = props.trouble;
  return (
    <main class="opening">
      <Mark />
      <h1>{words.troubles[trouble].title}</h1>
      <p>{words.troubles[trouble].text}</p>
      {message !== "" && trouble !== "elsewhere" && <p class="small">{message}</p>}
      {trouble === "elsewhere" ? (
        <Button kind="main" onClick={() => void take_over().then(() => location.reload())}>
          {words.useHere}
        </Button>
      ) : (
        <Button kind="main" onClick={() => location.reload()}>
          {words.tryAgain}
        </Button>
      )}
      {trouble === "not trusted" && (
        <a class="button plain" href="/authority">
          {words.trustSteps}
        </a>
      )}
    </main>
  );
}

function Frame(props: {
  phone: (place: Place) => JSX.Element;
  update: boolean;
  trusted: boolean;
}): JSX.Element {
  const live = useLive();
  const words = useWords();
  useChanges();
  const [where, set_where] = useState(() => place_in(location.hash));
  useEffect(() => {
    const moved = () => {
      live.unsay();
      set_where(place_in(location.hash));
      to_top();
    };
    window.addEventListener("hashchange", moved);
    return () => window.removeEventListener("hashchange", moved);
  }, []);
  const role = live.sync?.role ?? "";
  const ready = live.saving?.sheetLoaded ?? false;
  const all: [Place, IconName, string, boolean][] = [
    ["session", "saw", words.navSession, true],
    ["lock-up", "door", words.navLockUp, role !== "member"],
    ["shop", "bin", words.navShop, role === "" || role === "coordinator"],
    ["phone", "phone", words.navPhone, true],
  ];
  const places = all.filter(([, , , shown]) => shown && ready);
  const place = !ready && where.place !== "join" && where.place !== "phone" ? "welcome" : where.place;
  return (
    <div class="frame">
      <header class="top">
        <p class="shop-name">
          <ShopName />
        </p>
        <SavingChip />
      </header>
      <main id="main" key={place}>
        {place === "welcome" && <Welcome trusted={props.trusted} />}
        {place === "session" && <Session />}
        {place === "lock-up" && <LockUpScreen />}
        {place === "shop" && <CoordinatorScreen />}
        {place === "phone" && props.phone(where.place)}
        {place === "join" && (
          <Join code={where.code} onDone={() => (location.hash = "#/session")} />
        )}
      </main>
      {live.saying && (
        <div
          class={`saying ${live.saying.bad ? "bad" : ""}`}
          role={live.saying.bad ? "alert" : "status"}
        >
          <p>{live.saying.text}</p>
          {live.saying.undo && (
            <Button
              kind="quiet"
              icon="undo"
              onClick={() => {
                live.saying?.undo?.();
                live.unsay();
              }}
            >
              {words.undo}
            </Button>
          )}
          <button type="button" class="round" aria-label={words.close} onClick={() => live.unsay()}>
            <Icon name="cross" />
          </button>
        </div>
      )}
      {places.length > 0 && (
        <nav class="places" aria-label={words.places}>
          {places.map(([to, icon, text]) => (
            <a key={to} href={`#/${to}`} aria-current={where.place === to ? "page" : undefined}>
              <Icon name={icon} />
              <span>{text}</span>
              {to === "phone" && props.update && <span class="dot" role="img" aria-label={words.updateReady} />}
            </a>
          ))}
        </nav>
      )}
    </div>
  );
}

function ShopName(): JSX.Element {
  const live = useLive();
  if (!(live.saving?.sheetLoaded ?? false)) return <>Chipfall</>;
  return <KnownShopName />;
}

/** Asked once: a shop seldom changes its name. */
function KnownShopName(): JSX.Element {
  const live = useLive();
  const [name, set] = useState("Chipfall");
  useEffect(() => void live.ask("listShop", {}).then((shop) => set(shop.shop), () => {}), [live]);
  return <>{name}</>;
}

function Welcome(props: { trusted: boolean }): JSX.Element {
  const live = useLive();
  const words = useWords();
  const waiting = live.sync !== undefined && (live.sync.shop !== "" || live.sync.joining);
  return (
    <div class="screen opening">
      <Mark />
      <h1>{words.welcome}</h1>
      <p>{waiting ? words.waitingForSheet : words.welcomeText}</p>
      {live.saving?.sheetMistakes.map((mistake) => (
        <p class="trouble" key={mistake.message}>
          {mistake.message}
        </p>
      ))}
      <a class="button main" href="#/join">
        {words.joinShop}
      </a>
      <SheetFile />
      {!props.trusted && <NotTrusted />}
      <p class="small">{words.cautionAlways}</p>
    </div>
  );
}
