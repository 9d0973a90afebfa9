/// <reference lib="webworker" />
// The dedicated worker that has the core: only there do browsers read and write files at once.

import { Answerer } from "./answerer.js";
import { openBrowserFolder } from "./folder.js";
import { Question } from "./protocol.js";

declare const self: DedicatedWorkerGlobalScope;

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

self.onmessage = async (event: MessageEvent<Question>) => {
  const answer = await answerer.answer(event.data);
  // Bytes of an answer are handed over, not copied.
  self.postMessage(answer, "response" in answer ? [answer.response.buffer] : []);
};
