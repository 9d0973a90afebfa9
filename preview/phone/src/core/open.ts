// Opens the core in its worker, on a folder of the browser's own storage, for this tab alone.
import coreUrl from "virtual:chipfall-core";
import { CoreFailure, RemoteCore } from "../../wasm/remote";
import { ask } from "./ask";
import { NoCore, type Core, type Trouble } from "./core";
import { from_bytes } from "./messages";
import { have_the_core, longest_wait_ms } from "./one_tab";

const folder = "chipfall";
/** Files of a worker that was just ended stay taken until the browser has written and closed them. */
const openAgain_ms = 300;
const zonePatience_ms = 3000;

const troubles: Record<string, Trouble> = {
  FolderTaken: "elsewhere",
  NotOpened: "damaged",
  QuotaExceededError: "full",
  NoRoom: "full",
  SecurityError: "no storage",
  NotAllowedError: "no storage",
  InvalidStateError: "no storage",
  TypeError: "old browser",
};

function why_not(error: unknown): NoCore {
  if (!(error instanceof CoreFailure)) {
    return new NoCore("other", error instanceof Error ? error.message : String(error));
  }
  const said = error.response && from_bytes("Response", error.response).mistakes;
  const message = said?.map((mistake) => mistake.message).join("\n") ?? error.message;
  return new NoCore(troubles[error.name] ?? "other", message);
}

/** The rules of a time zone: as kept here before, while a newer file is fetched for the next time. */
async function zone_rules(zone: string): Promise<ArrayBuffer | undefined> {
  const at = `/zones/${zone}`;
  const kept = await caches.open("chipfall-zones").catch(() => undefined);
  const before = await kept?.match(at);
  // Times are told in UTC until it comes; that is better than waiting for a bad network.
  const fetched = fetch(at, { signal: AbortSignal.timeout(zonePatience_ms) }).then(async (answer) => {
    if (!answer.ok) return undefined;
    await kept?.put(at, answer.clone()).catch(() => {});
    return answer.arrayBuffer();
  });
  if (!before) return fetched;
  fetched.catch(() => {});
  return before.arrayBuffer();
}

/** Gives the core the rules of the shop's time zone, which it does not carry itself. */
async function give_zone(remote: RemoteCore, zone: string): Promise<boolean> {
  try {
    const rules = await zone_rules(zone);
    if (rules) await remote.giveZone(zone, new Uint8Array(rules));
    return rules !== undefined;
  } catch {
    return false;
  }
}

/**
 * The core, for this tab alone. `lost` is called when another tab takes it over, and when the core
 * ends by itself (out of memory, or a defect): what was saved is safe, and the page opens it anew.
 * Throws NoCore.
 */
export async function openCore(lost: (why: NoCore) => void): Promise<Core> {
  if (!window.isSecureContext) throw new NoCore("not trusted", "");
  if (!("storage" in navigator) || !("getDirectory" in navigator.storage)) {
    throw new NoCore("no storage", "");
  }
  let remote: RemoteCore | undefined;
  const mine = await have_the_core(async () => {
    await remote?.close().catch(() => {});
    lost(new NoCore("elsewhere", ""));
  });
  if (!mine) throw new NoCore("elsewhere", "");
  const worker = new Worker(new URL("../../wasm/worker.ts", import.meta.url), { type: "module" });
  remote = new RemoteCore(worker);
  const begun = performance.now();
  while (true) {
    try {
      await remote.open(coreUrl, folder);
      break;
    } catch (error) {
      const taken = error instanceof CoreFailure && error.name === "FolderTaken";
      if (!taken || performance.now() - begun > longest_wait_ms) throw why_not(error);
      await new Promise((later) => setTimeout(later, openAgain_ms));
    }
  }
  const opened = remote;
  let zone = "";
  const core: Core = {
    async call(request) {
      try {
        return await opened.call(request);
      } catch (error) {
        if (error instanceof CoreFailure && error.name === "CoreDied") lost(why_not(error));
        throw error;
      }
    },
    had_no_room: () => opened.noRoom,
    poll: () => opened.poll(),
    close: () => opened.close(),
    async learn_zone() {
      if (zone !== "") return;
      const shop = await ask(core, "listShop", {}).catch(() => undefined);
      if (!shop || shop.timeZone === "") return;
      if (await give_zone(opened, shop.timeZone)) zone = shop.timeZone;
    },
  };
  return core;
}
