// Bench entry: each value is kept on the server at once, and here until the server has said so.
// Keys are columns.js.
"use strict";

const form = document.querySelector("form.bench");
const shown = document.getElementById("worked-out");
const safe = document.getElementById("safe");
const store = `bench ${location.pathname}`;
const PAUSE = 1500;
let unsafe = new Set();
let sending = false;
let saving = false;
let waiting = null;

function say(words, state) {
  safe.textContent = words;
  safe.dataset.state = state;
}

// What is not safe yet stays in this browser, over a reload and a shut lid.
function remember() {
  if (saving) return;
  const typed = Array.from(unsafe, (name) => [name, form.elements.namedItem(name).value]);
  const entry = form.elements.entry.value;
  try {
    if (typed.length) localStorage.setItem(store, JSON.stringify({ entry, typed }));
    else localStorage.removeItem(store);
  } catch {
    // A browser that keeps nothing still has the page itself.
  }
}

function mark() {
  for (const cell of form.querySelectorAll(".cell-input")) {
    cell.dataset.safe = cell.value.trim() ? (unsafe.has(cell.name) ? "no" : "yes") : "";
  }
}

function values(count) {
  return count === 1 ? "1 value" : `${count} values`;
}

function again() {
  clearTimeout(waiting);
  waiting = setTimeout(keep, PAUSE);
}

async function keep() {
  clearTimeout(waiting);
  if (sending) return;
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
      say(`Safe: everything typed, ${new Date().toLocaleTimeString()}.`, "yes");
    } else if (answer.status === 409) {
      say(`Not safe: ${text}.`, "no");
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
  // More was typed while that was on its way.
  if (unsafe.size && safe.dataset.state === "yes") again();
}

function changed(field) {
  if (!field.name || field.type === "hidden") return;
  unsafe.add(field.name);
  remember();
  mark();
}

// Moving on is columns.js; what was typed is sent as it does.
form.addEventListener("keydown", (event) => {
  if (event.key === "Enter" && event.target.matches("table.readings input")) keep();
});

form.addEventListener("input", (event) => {
  changed(event.target);
  say(`Not safe yet: ${values(unsafe.size)}.`, "no");
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

// What this browser still holds of this very test comes back, and is kept. A test the server has
// not heard of yet goes on under the name it began with.
function restore() {
  const found = held();
  const begun = Number(form.elements.seen.value);
  if (found && (found.entry === form.elements.entry.value || !begun)) {
    form.elements.entry.value = found.entry;
    for (const [name, value] of found.typed) {
      const field = form.elements.namedItem(name);
      if (!field || !("value" in field)) continue;
      field.value = value;
      unsafe.add(name);
    }
  }
  // A test that was being taken is drawn again at once.
  if (unsafe.size || begun) keep();
}

form.addEventListener("submit", (event) => {
  if (!event.submitter || event.submitter.name !== "save") return;
  // The whole form is on its way; what comes back of earlier sends must not be remembered.
  saving = true;
  localStorage.removeItem(store);
});

sameWriter();
restore();
mark();
