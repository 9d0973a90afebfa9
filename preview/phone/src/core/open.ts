// Placeholder until the worker is there.
import { NoCore, type Core } from "./core";
export async function openCore(_lost: () => void): Promise<Core> {
  throw new NoCore("other", "no core yet");
}
