// Bench entry: each value is kept on the server at once, and here until the server has said so.
// Keys are columns.js.
"use strict";

const form = document.querySelector("form.bench");
const shown = document.getElementById("worked-out");
const safe = document.getElementById("safe");
const store = `bench ${location.pathname}`;
const PAUSE = 1500;
// Names of the fields that the server has not acknowledged, and of all that were typed in here.
const unsafe = new Set();
const touched = new Set();
let sending = false;
let ended = false;
let waiting = null;

function say(words, state) {
  safe.textContent = words;
  safe.dataset.state = state;
}

// What was typed stays in this browser too, over a reload and a shut lid: what is not safe yet, and
// what became safe only after a page that is being loaded was made.
function remember() {
  if (ended) return;
  const typed = Array.from(touched, (name) => [name, form.elements.namedItem(name).value]);
  const held = { entry: form.elements.entry.value, seen: heard(), unsafe: [...unsafe], typed };
  try {
    localStorage.setItem(store, JSON.stringify(held));
  } catch {
    // A browser that keeps nothing still has the page itself.
  }
}

function forget() {
  ended = true;
  try {
    localStorage.removeItem(store);
  } catch {
    // Nothing was kept.
  }
}

// How often the server has said that this test is kept.
function heard() {
  return Number(form.elements.seen.value);
}

function mark() {
  for (const cell of form.querySelectorAll(".cell-input")) {
    const kept = unsafe.has(cell.name) ? "no" : heard() ? "yes" : "";
    cell.dataset.safe = cell.value.trim() ? kept : "";
  }
}

function values(count) {
  return count === 1 ? "1 value" : `${count} values`;
}

function again() {
  clearTimeout(waiting);
  waiting = setTimeout(keep, PAUSE);
}

function sayWhatIsKept() {
  if (unsafe.size) say(`Not safe yet: ${values(unsafe.size)}.`, "no");
  else say(`Safe: everything typed, ${new Date().toLocaleTimeString()}.`, "yes");
}

async function keep() {
  clearTimeout(waiting);
  if (sending || ended) return;
  sending = true;
  const sent = new FormData(form);
  const names = Array.from(unsafe);
  try {
    const answer = await fetch(form.dataset.workedOut, {
      method: "POST",
      body: sent,
      credentials: "same-origin",
      redirect: "error",
    });
    const text = await answer.text();
    if (answer.ok && answer.headers.get("X-Kept")) {
      form.elements.seen.value = answer.headers.get("X-Kept");
      for (const name of names) {
        if (form.elements.namedItem(name).value === sent.get(name)) unsafe.delete(name);
      }
      shown.innerHTML = text;
      sayWhatIsKept();
      // More was typed while that was on its way.
      if (unsafe.size) again();
    } else if (answer.status === 409) {
      say(`Not safe: ${text}.`, "no");
    } else if (answer.status >= 500) {
      say(`Not safe yet: ${values(unsafe.size)}, the server cannot save just now. Kept in this browser; trying again.`, "no");
      again();
    } else {
      say("Not safe yet: the page has expired. Open it again to sign in; what you typed stays here.", "no");
    }
  } catch {
    say(`Not safe yet: ${values(unsafe.size)}, no connection. Kept in this browser; trying again.`, "no");
    again();
  }
  sending = false;
  remember();
  mark();
}

function changed(field) {
  if (!field.name || field.type === "hidden") return;
  unsafe.add(field.name);
  touched.add(field.name);
  remember();
  mark();
}

// Moving on is columns.js; what was typed is sent as it does.
form.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && event.target.matches("table.readings input")) keep();
});

form.addEventListener("input", (event) => {
  changed(event.target);
  sayWhatIsKept();
  clearTimeout(waiting);
  waiting = setTimeout(keep, 250);
});

window.addEventListener("online", keep);

// A page loaded anew in the same tab is the same writer: what it sent last may still be on its way.
function sameWriter() {
  try {
    const known = sessionStorage.getItem("bench writer");
    if (known) form.elements.writer.value = known;
    else sessionStorage.setItem("bench writer", form.elements.writer.value);
  } catch {
    // Without storage every page is a writer of its own.
  }
}

function held() {
  try {
    return JSON.parse(localStorage.getItem(store) || "null");
  } catch {
    return null;
  }
}

// Which of the values this browser holds the page lacks. Of this very test: all of them where the
// server acknowledged something after it made the page, else what it never acknowledged. Of a test
// it has not heard of at all: all, which goes on under the name it began with.
function lacking(found) {
  if (found.entry === form.elements.entry.value) {
    return found.seen > heard() ? found.typed : found.typed.filter(([name]) => found.unsafe.includes(name));
  }
  return heard() || found.seen ? [] : found.typed;
}

function restore() {
  const found = held();
  for (const [name, value] of found ? lacking(found) : []) {
    form.elements.entry.value = found.entry;
    const field = form.elements.namedItem(name);
    if (!field || !("value" in field)) continue;
    field.value = value;
    unsafe.add(name);
    touched.add(name);
  }
  // A test that was being taken is drawn again at once.
  if (unsafe.size || heard()) keep();
}

for (const other of document.forms) {
  other.addEventListener("submit", (event) => {
    // The whole test is on its way, or thrown away: nothing of it is held here any longer.
    const saved = other === form && event.submitter && event.submitter.name === "save";
    if (saved || other.hasAttribute("data-gives-up")) forget();
  });
}

sameWriter();
restore();
mark();
