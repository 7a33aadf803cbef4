// A phone of a room that may be held as the airplane: whether it is, and what it shows of that.

import { accepting } from "./accepting.js";
import { byId, el, say } from "./dom.js";
import { Held, NOTHING } from "./held.js";
import { ask } from "./server.js";

export class Holder {
  told = null; // what the room says that it is to show; null while this phone is no hand
  #changed;
  #held;
  #holds = load();
  #token = ""; // by which the secure page has been told of

  /** `send(message)` tells the room; `changed()` is called when `told` is another. */
  constructor(send, changed) {
    this.#changed = changed;
    this.#held = new Held(send, "held in a room");
    byId("hold").addEventListener("click", () => {
      this.#keep(true);
      this.#held.begin(); // in the press
      this.#arrives();
    });
    byId("only").addEventListener("click", () => {
      this.#held.hold("leave");
      this.leave();
    });
    byId("offer").hidden = !window.isSecureContext;
  }

  /** The room has this phone in, on a new connection. */
  welcome() {
    this.lost();
    if (this.#holds) this.#arrives();
  }

  /** What is read meanwhile is kept. */
  lost() {
    this.#held.lost();
  }

  /** This phone is no hand any more. */
  leave() {
    this.#keep(false);
    this.#held.forget();
    this.told = null;
    this.#changed();
  }

  settled() {
    this.#held.settled();
  }

  kept(message) {
    this.#held.kept(message);
  }

  holding(told) {
    if (!this.#holds) return;
    this.told = told;
    this.#changed();
  }

  /** Show what is to be shown while the room is `running` or not; nothing beside a debrief. */
  show(running, debriefed) {
    const holds = this.told !== null && !debriefed;
    const told = holds ? this.told : NOTHING;
    say(byId("unread"), told.trouble);
    this.#held.show(told);
    byId("attitude").hidden = !told.attitude;
    byId("holds").hidden = !holds;
    for (const how of ["learn", "easy", "only"]) byId(how).hidden = running;
    byId("offer").hidden = !window.isSecureContext || this.told !== null || running || debriefed;
    byId("secure").hidden = window.isSecureContext || !byId("secure").hasChildNodes() || running || debriefed;
  }

  /** Where the page is not secure, say where it is, for whoever is in by this `token`. */
  async secure(token) {
    if (window.isSecureContext || token === this.#token) return;
    this.#token = token;
    const { link, accept } = await ask("/secure").catch(() => ({}));
    if (!link) return;
    const shown = el(
      "details",
      {},
      el("summary", {}, "Hold the phone as the airplane"),
      el("p", {}, "Browsers tell how a phone is held to secure pages only. ", el("a", { href: `${link}#as=${token}` }, "Go on over a secure connection"), "."),
      ...(await accepting(accept)),
    );
    byId("secure").replaceChildren(shown);
    this.#changed();
  }

  #arrives() {
    this.#held.arrives();
    this.#held.hold("come");
  }

  #keep(holds) {
    this.#holds = holds;
    try {
      localStorage.setItem("holder", JSON.stringify(holds));
    } catch {
      // Then it is known only as long as the page stays open.
    }
  }
}

function load() {
  try {
    return JSON.parse(localStorage.getItem("holder")) === true;
  } catch {
    return false;
  }
}
