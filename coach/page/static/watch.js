// A phone in the hand as the airplane: how it comes in, how it stands, and what it does.

import { accepting } from "./accepting.js";
import { byId, el, say } from "./dom.js";
import { Link } from "./link.js";
import { fill } from "./picture.js";
import { Reports } from "./reports.js";
import { ask, key } from "./server.js";

export class Hand {
  /** Whether a phone has come in. */
  joined = false;

  #moved = null; // hears what the hand does while something is flown
  #link = null;
  #settled = false;
  #reports = new Reports();
  #anew;

  /** `anew(number)` hears that a run was judged anew, by what the phone had kept. */
  constructor(anew) {
    this.#anew = anew;
  }

  /** Let a phone come in; it may be in already. */
  async open(student) {
    const { address, code, how, accept } = await ask("/api/hand", { student });
    say(byId("hand-address"), address);
    say(byId("hand-code"), code.replace(/^(...)(?=...$)/, "$1 "));
    byId("hand-how").replaceChildren(...how.map((one) => el("li", {}, one)));
    byId("hand-accept").replaceChildren(...(await accepting(accept)));
    const square = el("img", { alt: "The same address as a QR code" });
    await fill(square, "/api/hand/qr.svg");
    byId("hand-picture").replaceChildren(square);
    const hello = () => ({ type: "watch", key, sounding: this.#moved !== null });
    this.#link ??= new Link("/ws/watch", hello, this.#heard, () => (this.#settled = false));
    this.#show(true);
    byId("hand-joining").open = true;
  }

  /** Fly without one. */
  async close() {
    await ask("/api/hand/leave", {});
    this.#left();
  }

  /** Show it where somebody chooses or reads the brief; `place` has room for it. */
  standIn(place) {
    place.append(byId("hand"));
  }

  /** `moved` hears what the hand does, {pitch_deg, bank_deg, off}, until what comes back is called. */
  flies(moved) {
    this.#moved = moved;
    return () => {
      if (this.#moved === moved) this.#moved = null;
    };
  }

  /** Tell what is heard; see `heard` in `reports.js`. */
  sounds(now) {
    if (this.#link) this.#reports.tell(this.#link, this.#settled, now);
  }

  #heard = {
    settled: () => (this.#settled = true),
    phone: ({ joined, words, trouble }) => {
      say(byId("hand-state"), [words, trouble].filter(Boolean).join(" "));
      say(byId("held"), trouble);
      if (joined && !this.joined) byId("hand-joining").open = false;
      this.joined = joined;
    },
    now: (now) => this.#moved?.(now),
    anew: ({ number }) => this.#anew(number),
    refused: ({ why }) => {
      this.#left();
      say(byId("hand-state"), why);
    },
  };

  #left() {
    this.#link?.close();
    this.#link = null;
    this.#settled = this.joined = false;
    say(byId("hand-state"), "");
    say(byId("held"), "");
    this.#moved?.({ pitch_deg: null, bank_deg: null, off: false });
    this.#show(false);
  }

  #show(opened) {
    byId("hand-open").hidden = opened;
    byId("hand-joining").hidden = !opened;
    byId("hand-close").hidden = !opened;
  }
}
