// The phone's page: one large button.

import { judged, ofRun } from "./debrief.js";
import { byId, note, say, trouble, turnTo } from "./dom.js";
import { Link } from "./link.js";
import { listen } from "./taps.js";
import { milliseconds } from "./units.js";

const UNSURE_MS = 50; // a clock less certain than this is worth a word

let link = null;
let me = load(); // {token, taps: [{number, on_ms}], next}; on_ms is since 1970, as a page may be loaded anew
let settled = false;
let room = null;
let debriefed = null; // this run's, once it has come

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

function connect(name = "", code = "", back = false) {
  const hello = () => ({ type: "join", name, code, token: me.token ?? "", back });
  link = new Link("/ws/join", hello, heard, (sentence) => {
    settled = false;
    trouble(sentence);
    if (sentence) say(byId("clock"), me.taps?.length ? "Your taps are kept and sent when it is back." : "");
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
    const taps = me.token === token ? (me.taps ?? []).filter((tap) => tap.number >= next_tap) : [];
    me = { token, taps, next: Math.max(next_tap, (taps.at(-1)?.number ?? 0) + 1) };
    settled = false;
    keep();
    say(byId("where"), message.room);
    say(byId("who"), name);
    trouble("");
    if (byId("in").hidden) turnTo("in");
  },
  refused(message) {
    link = null;
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
  const hint = debriefed ? "" : room.hint;
  say(byId("state"), debriefed ? "Your debrief" : room.words);
  say(byId("tap").firstElementChild, room.state === "running" ? "Tap" : "Not yet");
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

listen(byId("in"), byId("tap"), tap);
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
byId("join-form").elements.code.value = decodeURIComponent(location.hash.slice(1));
turnTo("join");
if (me.token) connect();
