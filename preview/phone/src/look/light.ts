// Which light the page is shown in.

const by_system = "(prefers-color-scheme: dark)";

/** "light", "dark", or "system" for what the phone says. */
export function show_light(chosen: string): void {
  const dark = document.querySelector<HTMLLinkElement>("link[data-dark]");
  if (dark) dark.media = chosen === "dark" ? "all" : chosen === "light" ? "not all" : by_system;
}
