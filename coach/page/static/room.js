// The instructor's page: the room's screen and its loudspeaker.

import { accepting } from "./accepting.js";
import { board } from "./brief.js";
import { byId, el, list, note, Notice, say, trouble } from "./dom.js";
import { Form } from "./form.js";
import { Link } from "./link.js";
import { fill, picture } from "./picture.js";
import { heard as heardNow, Reports } from "./reports.js";
import { Roster } from "./roster.js";
import { ask, bytes, key } from "./server.js";
import { newContext, Sound } from "./sound.js";
import { Stage } from "./stage.js";

const HEARD_MS = 500;
const PASSED = {
  jumped: "The sound was interrupted for a moment. It goes on, and taps count.",
  late: "A part of the sound came too late and left a gap.",
};
const STOPPED = "The loudspeaker stopped, so the room is paused.";

let link = null;
let room = { state: "open", run: 0, rehearsal: "", picture: "", position_s: 0 };
let rehearsal = null; // as the server prepared it
let sound = null;
let stage = null;
let context = null;
let choosing = false;
let inviting = true;
let following = Promise.resolve(); // one state after the other
let invited = ""; // the code as it is shown
let settled = false; // the room answers, and knows this page's clock
const reports = new Reports();
let drawn = ""; // the address of everybody's picture as it is shown
const told = new Notice(byId("told"));

const does = (id, what) => byId(id).addEventListener("click", what);
const control = (what, student = 0) => link.send({ type: "control", do: what, student });
const roster = new Roster(control);

const heard = {
  room: (message) => {
    following = following.then(() => follow(message)).catch((error) => trouble(error.message));
  },
  roster: (message) => roster.show(message),
  settled: () => {
    settled = true;
    report();
  },
  note: ({ text }) => (room.state === "running" ? note : trouble)(text),
  refused: ({ why }) => {
    close();
    trouble(why);
  },
};

/** Do what the room's new state asks of this page. */
async function follow(message) {
  const before = room;
  room = message;
  say(byId("name"), room.name);
  if (room.code !== invited) await invitation();
  if (room.state === "preparing" && before.state !== "preparing") choosing = false;
  // A coach that was started again in the middle prepares the same anew, while it sounds here.
  const again = sound && !room.rehearsal && ["running", "paused"].includes(room.state);
  if (room.rehearsal !== (rehearsal?.id ?? "") && !again) {
    rehearsal = null;
    close();
    if (room.rehearsal) rehearsal = await ask(`/api/rehearsals/${room.rehearsal}`);
  }
  if (room.run !== before.run || !["running", "paused"].includes(room.state)) close();
  if (room.state === "running" && !sound) await sounds();
  if (room.state === "paused" && !sound && rehearsal) stands(room.position_s);
  if (room.state === "paused" && sound?.playing) {
    await sound.pause();
    report();
  }
  if (room.state === "running" && sound?.paused) {
    await sound.resume();
    report();
  }
  if (room.picture !== drawn) await everybodys();
  show();
}

function show() {
  const { state } = room;
  const flying = state === "running" || state === "paused";
  const choose = !flying && state !== "preparing" && (state === "open" || choosing);
  const held = document.activeElement;
  byId("joining").hidden = flying || !inviting;
  byId("choosing").hidden = !choose;
  byId("flying").hidden = !flying && (state === "open" || choose || state === "finished");
  byId("after").hidden = state !== "finished" || choosing;
  byId("start").hidden = choose || !["ready", "finished"].includes(state);
  say(byId("start"), state === "finished" ? "Once more" : "Start");
  byId("pause").hidden = state !== "running";
  byId("resume").hidden = state !== "paused";
  byId("stop").hidden = !flying;
  byId("other").hidden = choose || !["ready", "finished"].includes(state);
  byId("renew").hidden = false; // as everything here once the room has answered: before, a press would be lost
  byId("call").hidden = flying;
  say(byId("call"), inviting ? "Hide how to join" : "Show how to join");
  byId("names").checked = room.names_shown;
  if (!flying) say(byId("title"), state === "preparing" ? "The voice is being prepared …" : room.title || "The rehearsal");
  told.stands(state === "paused" ? "Paused. Nothing counts until you go on." : "");
  if (!flying && state !== "ready") byId("stage").replaceChildren();
  if (state === "ready" && rehearsal && !byId("stage").hasChildNodes())
    byId("stage").replaceChildren(summary(), briefing());
  // Who works with the keyboard goes on from what comes next, not from the top of the page.
  if (held !== document.body && !held.checkVisibility())
    (document.querySelector(".controls button:not([hidden])") ?? byId("title")).focus();
}

function summary() {
  const loops = Math.max(...rehearsal.moments.map((moment) => moment.loop));
  const names = rehearsal.moments.filter((moment) => moment.loop === 1).map((moment) => moment.name);
  const minutes = Math.max(1, Math.round(rehearsal.length_s / 60));
  return list([
    `About ${minutes} ${minutes === 1 ? "minute" : "minutes"}${loops > 1 ? `, ${loops} loops` : ""}.`,
    `Everybody taps at ${names.join(", ")}.`,
    ...(rehearsal.note ? [rehearsal.note] : []),
  ]);
}

/** The brief for the class, in sight once it is there; who has read it folds it away. */
function briefing() {
  const path = `/api/rehearsals/${rehearsal.id}/brief`;
  const brief = el("details", { class: "briefing", open: true }, el("summary", {}, "The brief"));
  ask(path)
    .then(async (told) => {
      brief.append(...(await board(told, `${path}.svg`)));
      if (brief.isConnected) byId("flying").scrollIntoView(); // it may have been started meanwhile
    })
    .catch((error) => trouble(error.message));
  return brief;
}

/** Show the flight where the sound stands. */
function stands(position_s) {
  stage = new Stage(rehearsal, null, (title) => say(byId("title"), title));
  byId("stage").replaceChildren(stage.root);
  stage.draw(position_s);
}

/** Let the run sound from where the room has it. */
async function sounds() {
  const piece = (index) => bytes(`/api/rehearsals/${room.rehearsal}/sound/${index}.wav`);
  const happened = (what, why) => {
    if (PASSED[what]) told.passes(PASSED[what]);
    else trouble(why ?? STOPPED);
    if (what === "stopped") control("pause");
    report();
  };
  const now = new Sound(rehearsal, context ?? newContext(), piece, happened);
  context = null;
  sound = now;
  inviting = false;
  const from_s = room.position_s;
  stands(from_s);
  try {
    await now.play(from_s);
  } catch (error) {
    trouble(error.message);
    control("stop");
    return;
  }
  report();
  const frame = () => {
    if (sound !== now) return;
    if (!now.unsure) stage.draw(now.position());
    requestAnimationFrame(frame);
  };
  frame();
}

/** Tell the room what is heard now. */
function report() {
  reports.tell(link, settled, heardNow(room.run, sound, rehearsal?.length_s));
}

function close() {
  sound?.close();
  sound = null;
}

async function everybodys() {
  drawn = room.picture;
  const shown = drawn ? [await picture(drawn, "Everybody’s taps, early or late, by checkpoint, and everybody’s bank over the planned one")] : [];
  byId("picture").replaceChildren(...shown);
}

/** How to join, with the code of now. */
async function invitation() {
  const opened = await ask("/api/room");
  invited = opened.code;
  say(byId("name"), opened.name);
  say(byId("address"), opened.address);
  const code = invited.replace(/^(...)(?=...$)/, "$1 ");
  say(byId("code"), code);
  say(byId("door"), `${opened.address} · code ${code}`);
  byId("loopback").hidden = opened.lan;
  byId("warns").hidden = !opened.lan;
  if (opened.accept) byId("accept").replaceChildren(...(await accepting(opened.accept)));
  say(byId("tapping"), opened.tapping);
  const square = el("img", { alt: "The same address as a QR code" });
  await fill(square, "/api/room/qr.svg");
  byId("qr").replaceChildren(square);
  return opened;
}

async function begin() {
  const [library, opened] = await Promise.all([ask("/api/library"), invitation()]);
  document.title = `${opened.name} · Chair flying`;
  new Form(byId("choice"), library, "Prepare it", (chosen) => link.send({ type: "choose", chosen }), false);
  const hello = () => ({ type: "lead", key, sounding: sound !== null });
  link = new Link("/ws/lead", hello, heard, (sentence) => {
    settled = false;
    trouble(sentence);
  });
  setInterval(report, HEARD_MS);
}

does("start", () => {
  trouble("");
  context = newContext(); // while a click is handled, or it may not sound
  control("start");
});
does("pause", () => control("pause"));
does("resume", () => {
  trouble("");
  if (!sound) context = newContext();
  control("resume");
});
does("stop", () => control("stop"));
does("other", () => {
  choosing = true;
  show();
});
does("renew", () => control("code"));
does("call", () => {
  inviting = !inviting;
  show();
});
byId("names").addEventListener("change", (event) => control(event.target.checked ? "show" : "hide"));

begin().catch((error) => trouble(error.message));
