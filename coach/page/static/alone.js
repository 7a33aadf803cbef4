// Rehearse alone: choose, read the brief, fly, look at the debrief.

import { board } from "./brief.js";
import { judged, ofRun } from "./debrief.js";
import { byId, el, say, trouble, turnTo } from "./dom.js";
import { Flying } from "./flying.js";
import { Form } from "./form.js";
import { Hand } from "./watch.js";
import { flown, session } from "./logbook.js";
import { ask, key } from "./server.js";

const FIRST = 3; // so many of the next session are told where a maneuver is chosen

let choice = null;
let chosen = null;
let ready = null; // a promise of the rehearsal
let giveUp = null; // gives up preparing it
let flying = null;
let debriefed = null; // the run that was looked at last, with the interruptions of its sound
const hand = new Hand((number) => {
  if (!byId("debrief").hidden && debriefed?.number === number) debrief(number, debriefed.interrupted_s);
});

/** Do something, and say what is wrong if it cannot be done. */
async function tried(doing) {
  trouble("");
  try {
    return await doing();
  } catch (error) {
    if (error.name !== "AbortError") trouble(error.message);
    return undefined;
  }
}

/** Turn to a section, and let the browser's back button come back to this one. */
function open(id) {
  if (history.state?.section !== id) history.pushState({ section: id }, "");
  turn(id);
}

function turn(id) {
  const place = byId(id).querySelector(".for-hand");
  if (place) hand.standIn(place);
  turnTo(id);
}

function prepare() {
  giveUp?.abort();
  giveUp = new AbortController();
  ready = ask("/api/rehearsals", chosen, giveUp.signal);
  ready.catch(() => {}); // said when it is waited for
  return ready;
}

async function brief() {
  const button = byId("choice").querySelector("button.large");
  button.disabled = true;
  say(button, "One moment …");
  chosen = choice.values;
  await tried(async () => {
    const told = await ask("/api/brief", chosen);
    prepare();
    byId("board").replaceChildren(...(await board(told, "/api/brief.svg", chosen)));
    say(byId("brief").querySelector("h1"), told.title);
    open("brief");
    say(byId("readiness"), "The voice is being prepared …");
    const rehearsal = await ready;
    say(byId("readiness"), [rehearsal.why, rehearsal.note].filter(Boolean).join(" "));
  });
  button.disabled = false;
  say(button, "Read the brief");
}

async function fly() {
  flying?.leave();
  const now = new Flying(hand);
  flying = now;
  const run = await tried(async () => {
    byId("start").disabled = true;
    say(byId("readiness"), "One moment: the voice is being prepared …");
    const rehearsal = await ready.catch(() => prepare());
    say(byId("readiness"), "");
    say(byId("flown"), rehearsal.title);
    open("fly");
    return now.fly(rehearsal, chosen.student);
  });
  byId("start").disabled = false;
  if (!run) return;
  if (run.number !== null) await debrief(run.number, run.interrupted_s);
  else {
    open("brief");
    trouble(run.refused || "You stopped before the first checkpoint, so nothing of it is kept.");
  }
}

async function debrief(number, interrupted_s = []) {
  await tried(async () => {
    const told = await ask(`/api/runs/${number}`);
    const drawing = await ofRun(`/api/runs/${number}/picture.svg`);
    say(byId("debrief").querySelector("h1"), `Debrief: ${told.run.title}`);
    byId("judged").replaceChildren(...judged(told, drawing, interrupted_s));
    byId("once-more").hidden = ready === null;
    debriefed = { number, interrupted_s };
    open("debrief");
  });
}

const logbookOf = (student) => ask(`/api/logbook?student=${encodeURIComponent(student)}`);

/** Fill the logbook: of the one who is named in the form, or of somebody else who has runs. */
async function fillLogbook(student = choice.values.student) {
  const logbook = await logbookOf(student);
  const names = [...new Set([student, ...logbook.students])].sort();
  const whose = byId("whose");
  whose.replaceChildren(...names.map((name) => el("option", { value: name }, name || "without a name")));
  whose.value = student;
  whose.parentElement.hidden = names.length < 2;
  byId("flown-so-far").replaceChildren(...flown(logbook, debrief));
  byId("session").replaceChildren(el("p", {}, "The next session is being worked out …"));
  await suggest(byId("session"), student, logbook.maneuvers);
}

function showLogbook() {
  open("logbook");
  tried(fillLogbook);
}

/** Tell what to fly next: who has flown before, or has said what they learn for. */
async function suggest(place, student, maneuvers, most = Infinity) {
  place.dataset.whose = student;
  const coming = await ask(`/api/next?student=${encodeURIComponent(student)}`);
  if (place.dataset.whose !== student) return; // somebody else was chosen meanwhile
  const take = (one) => {
    choice.setUp(student, one);
    choosing();
    byId("choice").elements.maneuver.focus();
  };
  const told = [el("h2", {}, "To fly next"), session(coming.slice(0, most), take)];
  place.replaceChildren(...(maneuvers.length || coming.length ? told : []));
}

async function suggestFirst() {
  const { student } = choice.values;
  const { maneuvers } = await logbookOf(student);
  await suggest(byId("next"), student, maneuvers, FIRST);
}

/** What is learned for decides what is asked, here and wherever this machine's coach is asked. */
async function learn(event) {
  await tried(async () => {
    await ask("/api/checkride", { checkride: event.target.value });
    await suggestFirst();
  });
}

async function choosing() {
  flying?.leave();
  flying = null;
  open("choose");
  await tried(suggestFirst);
}

async function openRoom(event) {
  event.preventDefault();
  await tried(async () => {
    await ask("/api/room", { name: byId("room-form").elements.name.value });
    location.href = `/room#${key}`;
  });
}

byId("start").addEventListener("click", fly);
byId("once-more").addEventListener("click", fly);
byId("another").addEventListener("click", choosing);
byId("to-choose").addEventListener("click", choosing);
byId("to-logbook").addEventListener("click", showLogbook);
byId("whose").addEventListener("change", (event) => tried(() => fillLogbook(event.target.value)));
byId("to-room").addEventListener("click", () => open("open-room"));
byId("room-form").addEventListener("submit", openRoom);
byId("hand-open").addEventListener("click", () => tried(() => hand.open(choice.values.student)));
byId("hand-close").addEventListener("click", () => tried(() => hand.close()));
byId("pause").addEventListener("click", () => flying.turn());
byId("stop").addEventListener("click", () => flying.stop());
byId("again").addEventListener("click", fly);
window.addEventListener("popstate", (event) => {
  const section = event.state?.section ?? "choose";
  if (byId("fly").hidden === false) flying?.stop();
  else if (section === "logbook") showLogbook();
  else turn(section);
});

await tried(async () => {
  const library = await ask("/api/library");
  choice = new Form(byId("choice"), library, "Read the brief", brief);
  say(byId("unkept"), library.unkept);
  byId("unkept").hidden = !library.unkept;
  byId("choice").elements.student.addEventListener("change", () => tried(suggestFirst));
  byId("choice").elements.checkride.addEventListener("change", learn);
  history.replaceState({ section: "choose" }, "");
  turn("choose");
  if (library.hand) await hand.open(choice.values.student);
  await suggestFirst();
});
