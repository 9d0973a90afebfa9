// The words of the page in the person's language. English and Spanish stand in en.ts and es.ts; one
// that lacks a word does not compile.
import { createContext } from "preact";
import { useContext } from "preact/hooks";
import { en, type Words } from "./en";
import { es } from "./es";
import { kept } from "../core/kept";

export type Language = "en" | "es";
export const languages: Record<Language, Words> = { en, es };

export function preferred_language(): Language {
  const chosen = kept.language() ?? navigator.language.slice(0, 2);
  return chosen === "es" ? "es" : "en";
}

export const WordsContext = createContext<Words>(en);
export const useWords = (): Words => useContext(WordsContext);
