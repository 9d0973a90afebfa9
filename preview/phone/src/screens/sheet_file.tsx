// A shop without a hub: its sheet from a file, as the bytes of its message.
import type { JSX } from "preact";
import { useLive, error_text } from "../core/live";
import { useWords } from "../words/words";

export function SheetFile(): JSX.Element {
  const live = useLive();
  const words = useWords();
  const load = async (file: File | undefined) => {
    if (!file) return;
    try {
      const message = new Uint8Array(await file.arrayBuffer());
      const loaded = await live.ask("loadSheet", {
        sheet: { name: file.name, message },
        keep: true,
      });
      await live.refresh();
      live.say(words.sheetLoaded(loaded.shop));
    } catch (error) {
      live.say(error_text(error), true);
    }
  };
  return (
    <label class="button plain file">
      <span>{words.sheetFromFile}</span>
      <input
        type="file"
        accept=".binpb,application/octet-stream"
        onChange={(event) => void load(event.currentTarget.files?.[0])}
      />
    </label>
  );
}
