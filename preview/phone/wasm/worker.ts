// The dedicated worker that has the core: only there do browsers read and write files at once.

import { Answerer } from "./answerer.js";
import { openBrowserFolder } from "./folder.js";
import type { Answer, Question } from "./protocol.js";

// What a dedicated worker is to this file; the page's own types and a worker's do not go together.
const worker = self as unknown as {
  onmessage: ((event: MessageEvent<Question>) => void) | null;
  postMessage(answer: Answer, handedOver: Transferable[]): void;
};

const answerer = new Answerer({
  async module(wasm) {
    return wasm instanceof WebAssembly.Module
      ? wasm
      : WebAssembly.compileStreaming(fetch(wasm, { credentials: "same-origin" }));
  },
  async folder(name) {
    const top = await navigator.storage.getDirectory();
    return openBrowserFolder(await top.getDirectoryHandle(name, { create: true }));
  },
});

worker.onmessage = async (event) => {
  const answer = await answerer.answer(event.data);
  // Bytes of an answer are handed over, not copied.
  worker.postMessage(answer, "response" in answer ? [answer.response.buffer as ArrayBuffer] : []);
};
