// What the coach's program is to be told, in order, kept while it does not answer.

import { ask, Gone, patience, pause } from "./server.js";

export class Outbox {
  #waiting = [];
  #sending = null;
  #told;

  /** `told(sentence)` hears when the program is gone, when it is back, and what it refused. */
  constructor(told) {
    this.#told = told;
  }

  /** Whether everything has been told. */
  get empty() {
    return this.#waiting.length === 0;
  }

  /** Tell it, after everything before; answers when that is done. */
  send(path, body) {
    this.#waiting.push({ path, body });
    this.#sending ??= this.#sendAll().finally(() => (this.#sending = null));
    return this.#sending;
  }

  async #sendAll() {
    for (let attempt = 1; this.#waiting.length; ) {
      const { path, body } = this.#waiting[0];
      try {
        await ask(path, body);
        if (attempt > 1) this.#told("The coach is back. All your taps are kept.");
        attempt = 1;
      } catch (error) {
        if (error instanceof Gone) {
          this.#told("The coach does not answer. Your taps are kept here until it is back.");
          await pause(patience(attempt++));
          continue;
        }
        this.#told(error.message);
      }
      this.#waiting.shift();
    }
  }
}
