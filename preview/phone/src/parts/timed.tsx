// Minutes of the duty on the screen, for the estimates alone: nobody's minutes are shown to anybody.
import type { JSX } from "preact";
import { useMemo, useState } from "preact/hooks";
import { useWords } from "../words/words";
import { Stepper } from "./parts";

const mostMinutes = 240; // of one duty

/** What is recorded with a duty that was done: as the person says, else what the clock says. */
export interface Took {
  minutes?: number;
  clockMinutes?: number;
}

/** Counts since the duty was opened, which is when the one before it was ended; undefined: none is open. */
export function useTimed(duty: string | undefined): { part: JSX.Element | null; took: (duty: string) => Took } {
  const words = useWords();
  const since = useMemo(() => Date.now(), [duty]);
  const [said, say] = useState<{ duty: string; minutes: number } | undefined>();
  if (duty === undefined) return { part: null, took: () => ({}) };
  const own = said?.duty === duty ? said.minutes : undefined;
  const clock = () => (Date.now() - since) / 60_000;
  const part = (
    <Stepper
      label={words.minutesTook}
      value={own ?? Math.round(clock())}
      say={own === undefined ? words.byTheClock : words.minutesShort(own)}
      step={1}
      least={1}
      most={mostMinutes}
      onChange={(minutes) => say({ duty, minutes })}
    />
  );
  const took = (of: string): Took => {
    if (of !== duty) return {};
    return own === undefined ? { clockMinutes: clock() } : { minutes: own };
  };
  return { part, took };
}
