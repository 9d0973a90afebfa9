// The core's own sentences in another language: an answer says of which phrases its texts are made
// (Response.said), and a table has those phrases. What is not in the table stays as it was said.
import type { Phrase, Said } from "../messages/core/proto/door_pb";

const mostKept = 6000; // texts; a year's answers have hundreds
const mostDepth = 4; // of phrases within phrases

const said = new Map<string, readonly Phrase[]>();

export function learn(texts: readonly Said[]): void {
  for (const { text, phrases } of texts) {
    said.delete(text);
    said.set(text, phrases);
  }
  for (const text of said.keys()) {
    if (said.size <= mostKept) break;
    said.delete(text);
  }
}

/** What was learned of these texts and of what they are made of, for keeping beside an answer. */
export function learned(): { text: string; phrases: Phrase[] }[] {
  return [...said].map(([text, phrases]) => ({ text, phrases: [...phrases] }));
}

/** A template with its arguments; what stands in [...] only where all that it names is there. */
export function filled(template: string, given: ReadonlyMap<string, string>): string {
  const names = (text: string) => [...text.matchAll(/\{([\w-]+)\}/g)].map((found) => found[1]!);
  return template
    .replace(/\[([^\]]*)\]/g, (_, part: string) =>
      names(part).every((name) => given.has(name)) ? part : "",
    )
    .replace(/\{([\w-]+)\}/g, (whole, name: string) => given.get(name) ?? whole);
}

/**
 * The phrase's template: `ID.ARGUMENT.CATEGORY` where the table has one for a number's category, which the
 * core tells (CLDR's: one, many, other, ...), else `ID`.
 */
function template_of(phrase: Phrase, table: Readonly<Record<string, string>>): string | undefined {
  for (const { name, plural } of phrase.arguments) {
    const form = plural === "" ? undefined : table[`${phrase.id}.${name}.${plural}`];
    if (form !== undefined) return form;
  }
  return table[phrase.id];
}

/** A text of the core's by the table; sentence by sentence, each as far as the table goes. */
export function told(text: string, table: Readonly<Record<string, string>>, depth = 0): string {
  const phrases = said.get(text);
  if (!phrases || depth > mostDepth) return text;
  let out = "";
  for (const phrase of phrases) {
    const template = template_of(phrase, table);
    if (template === undefined) return text;
    const given = new Map(
      phrase.arguments.map((one) => [one.name, told(one.text, table, depth + 1)]),
    );
    out += phrase.before + filled(template, given);
  }
  return out;
}
