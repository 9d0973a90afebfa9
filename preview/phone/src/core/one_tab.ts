// One tab has the core at a time. A second one says so, and may take over: the first then gives the
// storage free before the second opens it.

const lockName = "chipfall-core";
const channel = () => new BroadcastChannel("chipfall-tabs");
const patience_ms = 1500;
/** A page that is loaded anew may still have the lock for a moment. */
const ownEnd_ms = 1500;

/** Resolves with true where this tab has the core from now on; `lost` when another takes it. */
export async function have_the_core(give_up: () => Promise<void>): Promise<boolean> {
  if (!("locks" in navigator)) return true;
  return new Promise((settled) => {
    void navigator.locks
      .request(lockName, { signal: AbortSignal.timeout(ownEnd_ms) }, async () => {
        const asked = channel();
        await new Promise<void>((free) => {
          asked.onmessage = (event) => {
            if (event.data !== "give") return;
            void give_up().finally(free);
          };
          settled(true);
        });
        asked.close();
      })
      .catch(() => settled(false));
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
