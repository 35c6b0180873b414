// A sheet of measurements: each cell is saved as it is left, and kept here until the server has it.
// Enter goes down the column, then to the top of the next one.
"use strict";

import { newKey, putEntry, removeEntry } from "./queue.js";
import { hold } from "./sender.js";
import { signedInAgain } from "./signing-in.js";
import { counted, gettext } from "./texts.js";

const form = document.querySelector("form.sheet-form");
const summary = document.getElementById("summary");
const safe = document.getElementById("safe");
// Sheets of other columns are kept apart.
const store = `sheet ${location.pathname}${location.search}`;
const PAUSE = 2000;
// What was refused, by the cell's name: it is not sent again until it is changed.
const refused = new Map();
let sending = false;
// The cell under the hands: half a number is not sent.
let typing = null;
let waiting = null;
let queueing = Promise.resolve();

const inputs = () => Array.from(form.querySelectorAll(".cell-input"));
const seen = (cell) => form.elements.namedItem(`seen-${cell.name}`);
const isDirty = (cell) => cell.value.trim() !== seen(cell).value;
const isRefused = (cell) => refused.get(cell.name) === cell.value;
const isToSend = (cell) => cell !== typing && isDirty(cell) && !isRefused(cell);

function say(words, state) {
  safe.textContent = words;
  safe.dataset.state = state;
}

function values(count) {
  return counted(gettext("{count} value"), gettext("{count} values"), count);
}

// What is not saved stays in this browser, over a reload and a shut lid, with what stood in its cell
// when it was typed: what another entered since is not replaced unseen.
function remember() {
  const held = inputs().filter(isDirty).map((cell) => [cell.name, cell.value, seen(cell).value]);
  try {
    if (held.length) localStorage.setItem(store, JSON.stringify(held));
    else localStorage.removeItem(store);
  } catch {
    // A browser that keeps nothing still has the page itself.
  }
}

function standing() {
  const left = inputs().filter(isToSend).length;
  const parts = [];
  if (left) parts.push(gettext("Saving {values}.", { values: values(left) }));
  if (refused.size) parts.push(gettext("Not saved: {values}. Correct the cells marked.", { values: values(refused.size) }));
  if (typing) parts.push(gettext("The value you are typing is saved as you leave its cell."));
  const doubts = form.querySelectorAll(".doubt").length;
  if (doubts) parts.push(gettext("Check: {values} far from the others.", { values: values(doubts) }));
  if (parts.length) say(parts.join(" "), "no");
  else say(gettext("Saved: everything entered, {time}.", { time: new Date().toLocaleTimeString() }), "yes");
}

function clearFault(cell) {
  refused.delete(cell.name);
  cell.removeAttribute("aria-invalid");
  cell.removeAttribute("aria-describedby");
  const spot = cell.closest("td");
  spot.classList.remove("cell-faulty");
  for (const note of spot.querySelectorAll(".fault")) note.remove();
}

function showFault(cell, words) {
  clearFault(cell);
  refused.set(cell.name, cell.value);
  const note = document.createElement("p");
  note.className = "fault";
  note.id = `${cell.name}-fault`;
  note.textContent = words;
  cell.setAttribute("aria-invalid", "true");
  cell.setAttribute("aria-describedby", note.id);
  cell.closest("td").classList.add("cell-faulty");
  cell.closest("td").append(note);
}

function show(name, now) {
  const spot = form.querySelector(`[data-cell="${name}"]`) || form.elements.namedItem(name);
  if (!spot) return;
  const place = spot.closest("td");
  place.dataset.state = now.state;
  place.querySelector(".cell-state .hidden").textContent = now.words;
  for (const note of place.querySelectorAll(".doubt")) note.remove();
  if (now.doubt) {
    const note = document.createElement("p");
    note.className = "doubt";
    note.textContent = now.doubt;
    place.append(note);
  }
  const limits = form.querySelector(`[data-limits="${name}"]`);
  if (limits && now.limits) limits.textContent = now.limits;
  if (spot.matches("output")) spot.textContent = now.text || "–";
}

// `sent` has what each cell held when it was sent: more may have been typed since.
function take(answer, sent) {
  for (const [name, now] of Object.entries(answer.cells)) {
    show(name, now);
    const cell = form.elements.namedItem(name);
    if (!cell || !sent.has(name)) continue;
    seen(cell).value = now.text;
    clearFault(cell);
    if (cell.value === sent.get(name)) cell.value = now.text;
  }
  for (const [name, fault] of Object.entries(answer.faults)) {
    const cell = form.elements.namedItem(name);
    if (name in answer.now) seen(cell).value = answer.now[name];
    if (cell.value === sent.get(name)) showFault(cell, fault);
  }
  summary.innerHTML = answer.summary;
}

// Before it is sent: the page may be left while the answer is on its way.
function queue(body, cells) {
  const entry = {
    key: store,
    kind: "sheet",
    address: form.dataset.cells,
    fields: [...body, ["idempotency_key", newKey()]],
    values: cells.map((cell) => [cell.getAttribute("aria-label") || cell.name, cell.value, cell.name]),
    page: location.pathname + location.search,
    group: store,
    label: document.title,
    person: document.getElementById("not-sent")?.dataset.person,
  };
  return inTurn(() => putEntry(entry));
}

function unqueue() {
  return inTurn(() => removeEntry(store)).then(countQueue);
}

// What is put and what is taken away again happen in the order in which they were asked for. A
// browser without a database still has what `remember` kept.
function inTurn(act) {
  queueing = queueing.then(act).catch(() => {});
  return queueing;
}

const countQueue = () => window.dispatchEvent(new Event("queued"));

function again() {
  clearTimeout(waiting);
  waiting = setTimeout(send, PAUSE);
}

function isSignedOut(answer) {
  return answer.type === "opaqueredirect" || answer.status === 400 || answer.status === 401;
}

function bodyOf(cells) {
  const body = new FormData();
  body.set("csrf_token", form.elements.csrf_token.value);
  for (const unit of form.querySelectorAll("input[name^=unit-]")) body.set(unit.name, unit.value);
  for (const cell of cells) {
    body.set(cell.name, cell.value);
    body.set(`seen-${cell.name}`, seen(cell).value);
  }
  return body;
}

function post(body) {
  return fetch(form.dataset.cells, { method: "POST", body, credentials: "same-origin", redirect: "manual" });
}

async function send() {
  clearTimeout(waiting);
  remember();
  const cells = inputs().filter(isToSend);
  if (!cells.length) {
    if (!sending) standing();
    return;
  }
  const body = bodyOf(cells);
  queue(body, cells);
  if (sending) return;
  sending = true;
  const sent = new Map(cells.map((cell) => [cell.name, cell.value]));
  const words = await answered(body, sent);
  sending = false;
  if (words !== null) {
    say(words.replace("{values}", values(inputs().filter(isToSend).length)), "no");
    queueing.then(countQueue);
    return;
  }
  remember();
  standing();
  // More was typed while that was on its way.
  if (inputs().some(isToSend)) send();
}

// Posts the cells; null where the server took them, else the words that say why not.
async function answered(body, sent) {
  let answer;
  try {
    answer = await post(body);
    if (answer.ok) {
      take(await answer.json(), sent);
      unqueue();
      return null;
    }
  } catch {
    again();
    return gettext("Not saved: {values}, no connection. Kept in this browser; trying again.");
  }
  if (isSignedOut(answer)) {
    signedInAgain().then((isIn) => isIn && again(), again);
    return gettext("Not saved: you are signed out. Sign in to continue; what you typed stays here.");
  }
  again();
  return gettext("Not saved: {values}. Kept in this browser; trying again.");
}

// The cells of a table by column, so that Enter and the arrows know their neighbours.
function columns() {
  const found = [];
  for (const table of form.querySelectorAll("table.measured-sheet")) {
    const rows = Array.from(table.tBodies[0].rows, (row) => Array.from(row.cells));
    const width = Math.max(...rows.map((cells) => cells.length));
    for (let column = 0; column < width; column += 1) {
      const cells = rows.map((row) => row[column] && row[column].querySelector(".cell-input")).filter(Boolean);
      if (cells.length) found.push(cells);
    }
  }
  return found;
}

function go(cell) {
  if (!cell) return;
  cell.focus();
  // A choice of words has no text to select.
  if (cell.matches("input")) cell.select();
}

form.addEventListener("keydown", (event) => {
  if (!event.target.matches(".cell-input")) return;
  // In a choice of words the arrows choose.
  const keys = event.target.matches("input") ? ["Enter", "ArrowDown", "ArrowUp"] : ["Enter"];
  if (!keys.includes(event.key)) return;
  event.preventDefault();
  const all = columns();
  const column = all.findIndex((cells) => cells.includes(event.target));
  const row = all[column].indexOf(event.target);
  if (event.key === "ArrowUp") return go(all[column][row - 1]);
  if (event.key === "ArrowDown") return go(all[column][row + 1]);
  const back = event.shiftKey ? -1 : 1;
  const next = all[column][row + back] || (back > 0 && all[column + 1] && all[column + 1][0]);
  go(next);
  // The last cell has no next one to leave for.
  typing = null;
  send();
});

form.addEventListener("input", (event) => {
  if (!event.target.matches(".cell-input")) return;
  typing = event.target;
  clearFault(event.target);
  remember();
  standing();
});

form.addEventListener("focusout", () => {
  if (!typing) return;
  typing = null;
  send();
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  typing = null;
  send();
});
window.addEventListener("online", send);

function restore() {
  let held = [];
  try {
    held = JSON.parse(localStorage.getItem(store) || "[]");
  } catch {
    return;
  }
  for (const [name, value, was] of held) {
    const cell = form.elements.namedItem(name);
    if (!cell) continue;
    cell.value = value;
    if (was !== undefined) seen(cell).value = was;
  }
  if (held.length) send();
}

if (form) {
  hold(store);
  say(gettext("Each value is saved as soon as you leave its cell."), "");
  restore();
}
