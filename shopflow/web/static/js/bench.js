// Bench entry: each value is kept on the server at once, and here until the server has said so.
// The test is saved from here too: what was typed is forgotten once the server names the test.
// Keys are columns.js.
import { clearFaults, showFaults } from "./faults.js";
import { signedInAgain } from "./signing-in.js";

const form = document.querySelector("form.bench");
const shown = document.getElementById("worked-out");
const safe = document.getElementById("safe");
const store = `bench ${location.pathname}`;
const PAUSE = 1500;
// Names of the fields that the server has not acknowledged, and of all that were typed in here.
const unsafe = new Set();
const touched = new Set();
let sending = false;
let saving = false;
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
  if (sending || saving || ended) return;
  sending = true;
  const sent = new FormData(form);
  const names = Array.from(unsafe);
  try {
    const answer = await fetch(form.dataset.workedOut, {
      method: "POST",
      body: sent,
      credentials: "same-origin",
      redirect: "manual",
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
    } else if (isSignedOut(answer)) {
      say("Not safe yet: you are signed out. Sign in to continue; what you typed stays here.", "no");
      if (await signedInAgain()) again();
    } else {
      say(`Not safe yet: the server refused it (status ${answer.status}). What you typed stays here.`, "no");
    }
  } catch {
    say(`Not safe yet: ${values(unsafe.size)}, no connection. Kept in this browser; trying again.`, "no");
    again();
  }
  sending = false;
  remember();
  mark();
}

// A page of the sign-in instead, or a token of a sign-in that has ended.
function isSignedOut(answer) {
  return answer.type === "opaqueredirect" || answer.status === 400 || answer.status === 401;
}

const HERE = "Your readings are still on this page and kept in this browser.";

// What the server answered to the whole test: saved, refused, or not reached.
async function sent(submitter) {
  const body = new FormData(form);
  body.set(submitter.name, submitter.value);
  // The test's own key sees to it that it is saved once, and is answered with the test.
  body.delete("idempotency_key");
  const answer = await fetch(form.action, {
    method: "POST",
    body,
    headers: { "X-Bench": "save" },
    credentials: "same-origin",
    redirect: "manual",
  });
  const saved = answer.status === 201 ? answer.headers.get("Location") : null;
  if (saved) return { saved };
  if (isSignedOut(answer)) return { signedOut: true };
  if (answer.status === 422) return { faults: await answer.json() };
  if (answer.status >= 500) return { words: "the server cannot save just now. Try again" };
  return { words: (await answer.text()) || `the server refused it (status ${answer.status})` };
}

async function answered(submitter) {
  let outcome = await sent(submitter);
  if (!outcome.signedOut) return outcome;
  say(`Not saved: you are signed out. Sign in to continue. ${HERE}`, "no");
  if (await signedInAgain()) outcome = await sent(submitter);
  return outcome.signedOut ? { words: "you are signed out. Press Save test to sign in" } : outcome;
}

async function save(submitter) {
  if (saving) return;
  saving = true;
  submitter.disabled = true;
  clearTimeout(waiting);
  for (const name of touched) unsafe.add(name);
  remember();
  clearFaults(form);
  say("Saving the test.", "");
  try {
    const outcome = await answered(submitter);
    if (outcome.saved) {
      forget();
      location.assign(outcome.saved);
      return;
    }
    if (outcome.faults) {
      showFaults(form, "Not saved. Fix the fields marked below. Everything else you typed is still here.", outcome.faults);
      say(`Not saved: fix the fields marked. ${HERE}`, "no");
    } else say(`Not saved: ${outcome.words}. ${HERE}`, "no");
  } catch {
    say(`Not saved: no connection. ${HERE} Press Save test when the network is back.`, "no");
  }
  saving = false;
  submitter.disabled = false;
}

form.addEventListener("submit", (event) => {
  const submitter = event.submitter || form.elements.namedItem("save")[0];
  if (submitter.name !== "save") return;
  event.preventDefault();
  save(submitter);
});

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

say("Each value is saved as soon as it is entered.", "");
sameWriter();
restore();
mark();
