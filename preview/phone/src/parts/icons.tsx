// Drawn here, in one stroke width: nothing to fetch, and it grows with the text.
import type { JSX } from "preact";

const paths = {
  plus: "M12 5v14M5 12h14",
  minus: "M5 12h14",
  cross: "M6 6l12 12M18 6L6 18",
  check: "M5 13l4.5 4.5L19 7.5",
  care: "M12 4L2.5 20h19zM12 10v5M12 17.6v.4",
  pass: "M4 12h14M13 6l6 6-6 6",
  skip: "M5 19L19 5M12 3a9 9 0 100 18 9 9 0 000-18z",
  bin: "M5 7h14l-1.5 13h-11zM3.5 7h17M9 4h6",
  dirt: "M4 18c3-5 5-5 8-2s5 1 8-3M6 8h.01M11 5h.01M16 8h.01M12 10h.01",
  session: "M3 20h18M5 20V9l7-5 7 5v11M9 20v-6h6v6",
  saw: "M12 12m-8 0a8 8 0 1016 0 8 8 0 10-16 0M12 4l2-2M20 12l2 2M12 20l-2 2M4 12l-2-2M12 12h.01",
  door: "M6 21V4h12v17M4 21h16M15 12.5h.01",
  walk: "M6 20c0-6 12-4 12-10a4 4 0 00-8 0M6 20h.01M18 4h.01",
  phone: "M7 3h10v18H7zM11 18h2",
  tell: "M4 5h16v11H9l-5 4z",
  saved: "M12 3v11M8 10l4 4 4-4M5 20h14",
  way: "M12 20V9M8 13l4-4 4 4M5 4h14",
  hub: "M4 20v-9l8-6 8 6v9zM9.5 14.5l2 2 3.5-4",
  clock: "M12 4a8 8 0 100 16 8 8 0 000-16zM12 8v4.5l3 2",
  undo: "M9 7L4 12l5 5M4 12h10a5 5 0 010 10h-2",
  scan: "M4 8V4h4M16 4h4v4M20 16v4h-4M8 20H4v-4M7 12h10",
  people: "M9 11a3.2 3.2 0 100-6.4A3.2 3.2 0 009 11zM3 20c0-4 2.5-6 6-6s6 2 6 6M16 5.2a3 3 0 010 5.6M17.5 14.5c2.3.7 3.5 2.5 3.5 5.5",
  more: "M6 9l6 6 6-6",
} as const;

export type IconName = keyof typeof paths;

export function Icon(props: { name: IconName }): JSX.Element {
  return (
    <svg class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false">
      <path d={paths[props.name]} />
    </svg>
  );
}
