// A WebSocket that comes back, and answers the room's questions about this browser's clock.

import { patience } from "./server.js";

const SILENT_MS = 12000; // the room asks every two seconds: a longer silence is a dead connection

export class Link {
  #path;
  #hello;
  #heard;
  #state;
  #socket = null;
  #attempt = 0;
  #closed = false;
  #last_ms = 0;

  /**
   * `hello()` is the first message of every connection; `heard` has a function for every type of
   * message; `state(sentence)` hears "" when the room answers, and else what is wrong.
   */
  constructor(path, hello, heard, state) {
    this.#path = path;
    this.#hello = hello;
    this.#heard = heard;
    this.#state = state;
    this.#connect();
    setInterval(() => {
      if (this.open && performance.now() - this.#last_ms > SILENT_MS) this.#socket.close();
    }, 2000);
    // A phone that wakes up, or has its network back, does not wait for its turn.
    const now = () => document.hidden || this.#attempt < 2 || this.#connect();
    document.addEventListener("visibilitychange", now);
    window.addEventListener("online", now);
  }

  get open() {
    return this.#socket?.readyState === WebSocket.OPEN;
  }

  send(message) {
    if (this.open) this.#socket.send(JSON.stringify(message));
  }

  /** Leave, and do not come back. */
  close() {
    this.#closed = true;
    this.#socket.close();
  }

  #connect() {
    if (this.#closed || (this.#socket && this.#socket.readyState < WebSocket.CLOSING)) return;
    const scheme = location.protocol === "https:" ? "wss:" : "ws:";
    const socket = new WebSocket(`${scheme}//${location.host}${this.#path}`);
    this.#socket = socket;
    socket.onopen = () => {
      this.#last_ms = performance.now();
      socket.send(JSON.stringify(this.#hello()));
    };
    socket.onmessage = (event) => this.#take(socket, event);
    socket.onclose = () => this.#lost(socket);
  }

  #take(socket, event) {
    if (socket !== this.#socket || this.#closed) return;
    const received_ms = performance.now();
    this.#last_ms = received_ms;
    const message = JSON.parse(event.data);
    if (message.type === "ask") {
      const times = { received_s: received_ms / 1000, answered_s: performance.now() / 1000 };
      socket.send(JSON.stringify({ type: "answer", number: message.number, ...times }));
      return;
    }
    if (message.type === "refused") this.#closed = true;
    else if (this.#attempt) {
      this.#attempt = 0;
      this.#state("");
    }
    this.#heard[message.type]?.(message);
  }

  #lost(socket) {
    if (this.#closed || socket !== this.#socket) return;
    this.#attempt += 1;
    this.#state("The room does not answer. Trying again by itself …");
    setTimeout(() => this.#connect(), patience(this.#attempt));
  }
}
