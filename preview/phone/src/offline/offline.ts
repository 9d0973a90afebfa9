// Working without a network: the service worker, its updates, and storage that is not thrown away.

/** Whether the browser promised to keep what is stored; undefined where it cannot say. */
export async function ask_to_persist(): Promise<boolean | undefined> {
  try {
    return (await navigator.storage.persisted()) || (await navigator.storage.persist());
  } catch {
    return undefined;
  }
}

/**
 * Registers the service worker. `ready` is given what puts a new version in place: that waits for
 * the person, so that the page never changes under an entry that is being made. Entries are on the
 * disk before they count as saved, so whatever waits for the hub goes on waiting in the new version.
 * `untrusted` is called where the browser refuses that for want of trust in the hub's certificate.
 */
export function watch_updates(
  ready: (apply: () => void) => void,
  untrusted: () => void,
): () => void {
  if (!("serviceWorker" in navigator) || import.meta.env.DEV) return () => {};
  let applying = false;
  const offer = (worker: ServiceWorker) =>
    ready(() => {
      applying = true;
      worker.postMessage("use");
    });
  const changed = () => applying && location.reload();
  navigator.serviceWorker.addEventListener("controllerchange", changed);
  const again = () => {
    if (document.visibilityState === "visible") void registration?.update().catch(() => {});
  };
  document.addEventListener("visibilitychange", again);
  let registration: ServiceWorkerRegistration | undefined;
  navigator.serviceWorker
    .register("/service-worker.js", { type: "module", updateViaCache: "none" })
    .then((found) => {
      registration = found;
      if (found.waiting && navigator.serviceWorker.controller) offer(found.waiting);
      found.addEventListener("updatefound", () => {
        const fresh = found.installing;
        fresh?.addEventListener("statechange", () => {
          if (fresh.state === "installed" && navigator.serviceWorker.controller) offer(fresh);
        });
      });
    })
    .catch((error: unknown) => {
      // Without a network it is another error: then a worker of before may well be there.
      if (error instanceof DOMException && error.name === "SecurityError") untrusted();
    });
  return () => {
    navigator.serviceWorker.removeEventListener("controllerchange", changed);
    document.removeEventListener("visibilitychange", again);
  };
}
