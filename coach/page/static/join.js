// The phone's page: one large button, and the phone as the airplane where it is held as that.

import { judged, ofRun } from "./debrief.js";
import { byId, note, say, trouble, turnTo } from "./dom.js";
import { stayAwake } from "./held.js";
import { Holder } from "./holder.js";
import { Link } from "./link.js";
import { listen } from "./taps.js";
import { milliseconds } from "./units.js";

const UNSURE_MS = 50; // a clock less certain than this is worth a word

let link = null;
let me = load(); // {token, taps: [{number, on_ms}], next}; on_ms is since 1970, as a page may be loaded anew
let settled = false;
let room = null;
let debriefed = null; // this run's, once it has come
let handed = new URLSearchParams(location.hash.slice(1)).get("as"); // a token, of the page without HTTPS
let listens = null; // {holds, end}: where taps are listened for, and what ends that
const holder = new Holder((message) => link?.send(message), () => room && show());

function load() {
  try {
    return JSON.parse(localStorage.getItem("me")) ?? {};
  } catch {
    return {};
  }
}

function keep() {
  try {
    localStorage.setItem("me", JSON.stringify(me));
  } catch {
    // Then the phone comes back only as long as the page stays open.
  }
}

/** Go on in the place that the page without HTTPS handed over. */
function takeSeat() {
  me = { token: handed };
  handed = null;
  keep();
  connect();
}

function connect(name = "", code = "", back = false) {
  const hello = () => ({ type: "join", name, code, token: me.token ?? "", back });
  link = new Link("/ws/join", hello, heard, (sentence) => {
    settled = false;
    holder.lost();
    trouble(sentence);
    const kept = me.taps?.length ? "Your taps are kept and sent when it is back." : "";
    if (sentence) say(byId("clock"), holder.told ? "What you fly is kept and sent when it is back." : kept);
  });
}

const heard = {
  waiting({ words, hint }) {
    say(byId("asked"), words);
    say(byId("asking"), hint);
    trouble("");
    turnTo("waits");
  },
  welcome(message) {
    const { token, name, next_tap } = message;
    handed = null;
    const taps = me.token === token ? (me.taps ?? []).filter((tap) => tap.number >= next_tap) : [];
    me = { token, taps, next: Math.max(next_tap, (taps.at(-1)?.number ?? 0) + 1) };
    settled = false;
    keep();
    say(byId("where"), message.room);
    say(byId("who"), name);
    trouble("");
    if (byId("in").hidden) turnTo("in");
    holder.welcome();
    holder.secure(token);
    stayAwake();
  },
  kept: (message) => holder.kept(message),
  holding: (message) => holder.holding(message),
  refused(message) {
    link = null;
    if (handed) {
      takeSeat();
      return;
    }
    holder.leave();
    me = {};
    keep();
    turnTo("join");
    trouble(message.why);
    byId("back").hidden = !message.gone;
  },
  settled({ uncertainty_ms }) {
    const waited = settled ? [] : (me.taps ?? []); // each is sent once in a connection
    settled = true;
    const about = milliseconds(uncertainty_ms);
    const said = `This phone’s clock agrees with the room’s to about ${about} ms.`;
    say(byId("clock"), about > UNSURE_MS ? `${said} The network is slow.` : said);
    for (const tap of waited) send(tap);
    holder.settled();
  },
  tapped({ number }) {
    me.taps = me.taps.filter((tap) => tap.number > number);
    keep();
  },
  room(message) {
    if (message.run !== room?.run || !["finished", "ready"].includes(message.state)) debriefed = null;
    room = message;
    show();
  },
  own(message) {
    debriefed = message;
    show();
    return drawOwn();
  },
  note({ text }) {
    (room?.state === "running" ? note : trouble)(text);
  },
};

function show() {
  document.body.dataset.state = room.state;
  document.body.classList.toggle("reading", Boolean(debriefed));
  byId("judged").hidden = !debriefed;
  const shown = holder.told ?? room;
  const hint = debriefed ? "" : shown.hint;
  const running = room.state === "running";
  document.body.classList.toggle("holding", holder.told !== null);
  holder.show(running, Boolean(debriefed));
  listenTo(holder.told !== null);
  say(byId("state"), debriefed ? "Your debrief" : shown.words);
  say(byId("tap").firstElementChild, running ? "Tap" : "Not yet");
  say(byId("hint"), [room.state === "open" ? "" : room.title, hint].filter(Boolean).join(". "));
}

async function drawOwn() {
  const { debrief, picture } = debriefed;
  byId("judged").replaceChildren(...judged(debrief, await ofRun(picture, me.token).catch(() => null)));
}

function send({ number, on_ms }) {
  link?.send({ type: "tap", number, at_s: (on_ms - performance.timeOrigin) / 1000 });
}

function tap(at_ms) {
  if (room?.state !== "running") return;
  const one = { number: me.next, on_ms: performance.timeOrigin + at_ms };
  me.next += 1;
  me.taps.push(one);
  keep();
  byId("tap").animate([{ opacity: 0.5 }, { opacity: 1 }], 250);
  navigator.vibrate?.(15);
  if (settled) send(one);
}

/** Anywhere is tapped, but on a phone in the hand the button alone. */
function listenTo(holds) {
  if (listens?.holds === holds) return;
  listens?.end();
  listens = { holds, end: listen(byId(holds ? "tap" : "in"), byId("tap"), tap) };
}

listenTo(false);
byId("join-form").addEventListener("submit", (event) => {
  event.preventDefault();
  const { name, code } = event.target.elements;
  trouble("");
  connect(name.value.trim(), code.value.trim(), event.submitter === byId("back"));
  byId("back").hidden = true;
});
byId("another").addEventListener("click", () => {
  link.close();
  turnTo("join");
});
byId("join-form").elements.name.addEventListener("input", () => {
  byId("back").hidden = true;
});
if (handed) history.replaceState(null, "", location.pathname);
byId("join-form").elements.code.value = decodeURIComponent(location.hash.slice(1));
turnTo("join");
// Whoever is in stays in, whatever link they were given.
if (me.token) connect();
else if (handed) takeSeat();
