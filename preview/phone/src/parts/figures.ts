// Figures as people read them, in the shop's units. The core says grams, litres and minutes; which
// unit a shop reads is in its answers (`units`).

const half = "½";

/** To the half minute, at least half of one. */
export function half_minutes(minutes: number): string {
  const halves = Math.max(1, Math.round(minutes * 2));
  const whole = Math.floor(halves / 2);
  return `${whole === 0 ? "" : whole}${halves % 2 === 1 ? half : ""} min`;
}

/** Rounded up to whole minutes. */
export function whole_minutes(minutes: number): string {
  return `${Math.max(1, Math.ceil(minutes - 1e-9))} min`;
}

export function volume(litres: number, units: string): string {
  return units === "US" ? `${Math.round(litres / 3.785412)} gal` : `${Math.round(litres)} L`;
}

export function mass(kg: number, units: string): string {
  if (units === "US") return `${Math.round(kg / 0.45359237)} lb`;
  return kg < 10 ? `${kg.toFixed(1)} kg` : `${Math.round(kg)} kg`;
}

/** To the nearest 5 %: nobody knows it better. */
export function percent(share: number): string {
  return `${Math.round(share * 20) * 5} %`;
}

export function hhmm(date: Date): string {
  return `${String(date.getHours()).padStart(2, "0")}:${String(date.getMinutes()).padStart(2, "0")}`;
}
