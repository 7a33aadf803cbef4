// What the coach's program is to be told, in order, kept while it does not answer.

import { ask, Full, Gone, patience, pause } from "./server.js";

// What can be told again, with what is said meanwhile and afterwards.
const AGAIN = [
  [Gone, "The coach does not answer. Your taps are kept here until it is back.", "The coach is back."],
  [Full, "The disk is full: make room. Your taps are kept here until then.", "There is room again."],
];

export class Outbox {
  #waiting = [];
  #sending = false;
  #told;

  /** `told` is a notice: that the program is gone, that it is back, and what it refused. */
  constructor(told) {
    this.#told = told;
  }

  /** Whether everything has been told. */
  get empty() {
    return this.#waiting.length === 0;
  }

  /** Tell it, after everything before; its answer, or {refused}: why it was not taken. */
  send(path, body) {
    return new Promise((answered) => {
      this.#waiting.push({ path, body, answered });
      if (!this.#sending) this.#sendAll();
    });
  }

  async #sendAll() {
    this.#sending = true;
    for (let attempt = 1, back = ""; this.#waiting.length; ) {
      const { path, body, answered } = this.#waiting[0];
      try {
        answered(await ask(path, body));
        if (attempt > 1) this.#back(back);
        attempt = 1;
      } catch (error) {
        const [, meanwhile, then] = AGAIN.find(([kind]) => error instanceof kind) ?? [];
        if (meanwhile) {
          this.#told.stands(meanwhile);
          back = then;
          await pause(patience(attempt++));
          continue;
        }
        this.#told.stands(error.message);
        answered({ refused: error.message });
      }
      this.#waiting.shift();
    }
    this.#sending = false;
  }

  #back(words) {
    this.#told.stands("");
    this.#told.passes(`${words} All your taps are kept.`);
  }
}
