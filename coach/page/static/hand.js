// The page of a phone that is the airplane of somebody alone: one large state, and how it is held.

import { byId, note, say, trouble, turnTo } from "./dom.js";
import { Held, NOTHING, phone, stayAwake } from "./held.js";
import { Link } from "./link.js";
import { milliseconds } from "./units.js";

let link = null;
let me = load(); // {token, code}
const held = new Held((message) => link?.send(message), "held");

function load() {
  try {
    return JSON.parse(localStorage.getItem("hand")) ?? {};
  } catch {
    return {};
  }
}

function keep(now) {
  me = now;
  try {
    localStorage.setItem("hand", JSON.stringify(me));
  } catch {
    // Then the phone comes back only as long as the page stays open.
  }
}

function connect(code = "") {
  const hello = () => ({ type: "come", code, token: me.token ?? "", phone });
  link = new Link("/ws/hand", hello, heard, (sentence) => sentence && lost());
  stayAwake();
}

const heard = {
  welcome({ token }) {
    if (token !== me.token) held.forget();
    keep({ token, code: location.hash.slice(1) });
    trouble("");
    if (byId("in").hidden) turnTo("in");
    held.lost();
    held.arrives();
  },
  kept: (message) => held.kept(message),
  settled({ uncertainty_ms }) {
    held.settled();
    say(byId("clock"), `This phone’s clock agrees with the coach’s to about ${milliseconds(uncertainty_ms)} ms.`);
  },
  holding(told) {
    document.body.dataset.state = told.state;
    say(byId("state"), told.words);
    say(byId("hint"), told.hint);
    trouble(told.trouble);
    held.show(told);
    byId("learn").hidden = byId("easy").hidden = ["level", "flying"].includes(told.state);
  },
  refused({ why }) {
    link = null;
    held.lost();
    held.forget();
    keep({});
    turnTo("join");
    trouble(why);
  },
  note: ({ text }) => note(text),
};

function lost() {
  held.lost();
  held.show(NOTHING);
  document.body.dataset.state = "lost";
  say(byId("state"), "Lost");
  say(byId("hint"), "The coach does not answer. What you fly is kept here, and sent when it is back.");
  trouble("");
}

byId("join-form").addEventListener("submit", (event) => {
  event.preventDefault();
  trouble("");
  held.begin(); // in the press
  connect(event.target.elements.code.value.trim());
});

const code = decodeURIComponent(location.hash.slice(1));
byId("join-form").elements.code.value = code;
if (!window.isSecureContext) turnTo("plain");
else if (me.token && (!code || code === me.code)) {
  turnTo("in");
  held.flies();
  connect();
} else turnTo("join");
