// Rehearse alone: choose, read the brief, fly, look at the debrief.

import { board } from "./brief.js";
import { Choice } from "./choose.js";
import { judged, logbook } from "./debrief.js";
import { byId, el, say, trouble, turnTo } from "./dom.js";
import { Flying } from "./flying.js";
import { ask, key, letGo, pictureFrom } from "./server.js";

let choice = null;
let chosen = null;
let ready = null; // a promise of the rehearsal
let giveUp = null; // gives up preparing it
let flying = null;
let shown = ""; // the picture on the page

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
  turnTo(id);
}

async function pictured(path, body) {
  if (shown) letGo(shown);
  shown = await pictureFrom(path, body);
  return shown;
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
    byId("board").replaceChildren(...board(told, await pictured("/api/brief.svg", chosen)));
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
  const now = new Flying();
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
  if (run.number !== null) await debrief(run.number);
  else {
    open("brief");
    trouble("You stopped before the first moment, so there is nothing to debrief.");
  }
}

async function debrief(number) {
  await tried(async () => {
    const told = await ask(`/api/runs/${number}`);
    const source = await pictured(`/api/runs/${number}/picture.svg`);
    say(byId("debrief").querySelector("h1"), `Debrief: ${told.run.title}`);
    byId("judged").replaceChildren(...judged(told, source));
    byId("once-more").hidden = ready === null;
    open("debrief");
  });
}

async function showLogbook() {
  await tried(async () => {
    byId("runs").replaceChildren(...logbook(await ask("/api/runs"), debrief));
    open("logbook");
  });
}

/** What to practise today, for those who have flown before. */
async function suggest() {
  const student = choice.values.student;
  const known = (await ask("/api/runs")).some((run) => run.student === student);
  const today = known ? await ask(`/api/next?student=${encodeURIComponent(student)}`) : [];
  const take = (maneuver) => () => {
    choice.maneuver = maneuver;
    byId("choice").elements.maneuver.focus();
  };
  const one = ({ maneuver, title, reason }) =>
    el("li", {}, el("button", { class: "quiet", onclick: take(maneuver) }, title), " ", reason);
  byId("next").hidden = !today.length;
  byId("next").replaceChildren(el("h2", {}, "To practise today"), el("ul", {}, ...today.slice(0, 3).map(one)));
}

async function choosing() {
  flying?.leave();
  flying = null;
  open("choose");
  await tried(suggest);
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
byId("to-room").addEventListener("click", () => open("open-room"));
byId("room-form").addEventListener("submit", openRoom);
byId("pause").addEventListener("click", () => flying.turn());
byId("stop").addEventListener("click", () => flying.stop());
byId("again").addEventListener("click", fly);
window.addEventListener("popstate", (event) => {
  if (byId("fly").hidden === false) flying?.stop();
  else turnTo(event.state?.section ?? "choose");
});

await tried(async () => {
  choice = new Choice(byId("choice"), await ask("/api/library"), "Read the brief", brief);
  byId("choice").elements.student.addEventListener("change", () => tried(suggest));
  history.replaceState({ section: "choose" }, "");
  turnTo("choose");
  await suggest();
});
