// One tab has the core at a time. A second one says so, and may take over: the first then gives the
// storage free before the second opens it.
//
// Whether there is another tab is asked, not guessed from how long the lock takes: a page that was just
// left gives its lock and files back when the browser gets to it, on a busy phone after many seconds.

const lockName = "chipfall-core";
const channel = () => new BroadcastChannel("chipfall-tabs");
const patience_ms = 1500;
const askAgain_ms = 400;
/** A tab that is frozen in the background has the lock and does not answer. */
export const longest_wait_ms = 15_000;

/** Resolves with true where this tab has the core from now on; `lost` when another takes it. */
export async function have_the_core(give_up: () => Promise<void>): Promise<boolean> {
  if (!("locks" in navigator)) return true;
  const waiting = new AbortController();
  const others = channel();
  others.onmessage = (event) => event.data === "here" && waiting.abort();
  const asking = setInterval(() => others.postMessage("who"), askAgain_ms);
  const longest = setTimeout(() => waiting.abort(), longest_wait_ms);
  const decided = () => {
    clearInterval(asking);
    clearTimeout(longest);
    others.close();
  };
  return new Promise((settled) => {
    void navigator.locks
      .request(lockName, { signal: waiting.signal }, async () => {
        decided();
        const asked = channel();
        await new Promise<void>((free) => {
          asked.onmessage = (event) => {
            if (event.data === "who") asked.postMessage("here");
            if (event.data === "give") void give_up().finally(free);
          };
          settled(true);
        });
        asked.close();
      })
      .catch(() => {
        decided();
        settled(false);
      });
    others.postMessage("who");
  });
}

/** Asks the other tab to give the core, and waits until it has. */
export async function take_over(): Promise<void> {
  const ask = channel();
  ask.postMessage("give");
  ask.close();
  const given = new AbortController();
  const timer = setTimeout(() => given.abort(), patience_ms);
  // A tab that is frozen in the background does not answer: its lock is taken from it.
  await navigator.locks
    .request(lockName, { signal: given.signal }, async () => {})
    .catch(() => navigator.locks.request(lockName, { steal: true }, async () => {}));
  clearTimeout(timer);
}
