// Bench entry: each value is kept on the server at once, and here until the server has said so.
// The test is saved from here too: what was typed is forgotten once the server names the test.
// Keys are columns.js.
// Without a network it goes into the queue of this browser, the draft as it is and the saved test.
import { clearFaults, showFaults } from "./faults.js";
import { newKey, putEntry, removeEntry } from "./queue.js";
import { hold } from "./sender.js";
import { signedInAgain } from "./signing-in.js";
import { counted, gettext } from "./texts.js";

const form = document.querySelector("form.bench");
const shown = document.getElementById("worked-out");
const safe = document.getElementById("safe");
// One test has one store, whichever page it is typed in.
const store = form.dataset.store;
const PAUSE = 1500;
const OVER = "bench over";
const MOST_OVER = 200;
// Names of the fields that the server has not acknowledged, and of all that were typed in here.
const unsafe = new Set();
const touched = new Set();
let sending = false;
// A reading came while what was there before it was on its way.
let isStale = false;
let isQueued = false;
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

// Keys of the tests that are saved, or wait to be: a page kept from before begins a new one.
function overs() {
  try {
    return JSON.parse(localStorage.getItem(OVER) || "[]");
  } catch {
    return [];
  }
}

function setOver() {
  try {
    const keys = [...overs(), form.elements.entry.value].slice(-MOST_OVER);
    localStorage.setItem(OVER, JSON.stringify(keys));
  } catch {
    // Without storage no page is kept from before either.
  }
}

function renew() {
  if (!overs().includes(form.elements.entry.value)) return;
  form.elements.entry.value = newKey();
  form.elements.seen.value = "0";
  for (const cell of form.querySelectorAll(".cell-input:not([name$=lift])")) cell.value = "";
}

function readings() {
  const filled = Array.from(form.querySelectorAll(".cell-input:not([name$=lift])")).filter(({ value }) => value.trim());
  return filled.map((cell) => [cell.getAttribute("aria-label"), cell.value]);
}

async function queue(kind, address, fields, more = {}) {
  const { pathname, search } = new URL(address, location.href);
  await putEntry({
    key: `${kind} ${form.elements.entry.value}`,
    kind,
    address: pathname + search,
    fields: fields.filter(([name]) => name !== "csrf_token" && name !== "idempotency_key"),
    values: readings(),
    page: location.pathname + location.search,
    group: store,
    label: document.title,
    person: document.getElementById("not-sent")?.dataset.person,
    ...more,
  });
  window.dispatchEvent(new Event("queued"));
}

function queueDraft(sent, more) {
  queue("draft", form.dataset.workedOut, Array.from(sent), more).catch(() => {
    // A browser without a database still has what `remember` kept.
  });
}

async function unqueueDraft() {
  await removeEntry(`draft ${form.elements.entry.value}`).catch(() => {});
  window.dispatchEvent(new Event("queued"));
}

// The test waits for the network where the pages do: true where it does.
async function waits(submitter) {
  if (!form.dataset.after || !navigator.serviceWorker?.controller) return false;
  const fields = [...new FormData(form), [submitter.name, submitter.value]];
  await queue("save", form.action, fields);
  await unqueueDraft();
  setOver();
  forget();
  location.assign(form.dataset.after);
  return true;
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
  return counted(gettext("{count} value"), gettext("{count} values"), count);
}

function again() {
  clearTimeout(waiting);
  waiting = setTimeout(keep, PAUSE);
}

function sayWhatIsKept() {
  if (unsafe.size) say(gettext("Not safe yet: {values}.", { values: values(unsafe.size) }), "no");
  else say(gettext("Safe: everything typed, {time}.", { time: new Date().toLocaleTimeString() }), "yes");
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
      if (isQueued) unqueueDraft();
      isQueued = false;
      sayWhatIsKept();
      // More was typed while that was on its way.
      if (unsafe.size) again();
    } else if (answer.status === 409) {
      say(gettext("Not safe: {reason}.", { reason: text }), "no");
      queueDraft(sent, { state: "refused", reason: text });
    } else if (answer.status >= 500) {
      say(gettext("Not safe yet: {values}, the server cannot save just now. Kept in this browser; trying again.", { values: values(unsafe.size) }), "no");
      again();
    } else if (isSignedOut(answer)) {
      say(gettext("Not safe yet: you are signed out. Sign in to continue; what you typed stays here."), "no");
      if (await signedInAgain()) again();
    } else {
      say(gettext("Not safe yet: the server refused it (status {status}). What you typed stays here.", { status: answer.status }), "no");
    }
  } catch {
    say(gettext("Not safe yet: {values}, no connection. Kept in this browser; trying again.", { values: values(unsafe.size) }), "no");
    isQueued = true;
    queueDraft(sent);
    again();
  }
  sending = false;
  remember();
  mark();
  if (isStale) {
    isStale = false;
    keep();
  }
}

// A page of the sign-in instead, or a token of a sign-in that has ended.
function isSignedOut(answer) {
  return answer.type === "opaqueredirect" || answer.status === 400 || answer.status === 401;
}

const HERE = gettext("Your readings are still on this page and kept in this browser.");

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
  if (answer.status >= 500) return { words: gettext("the server cannot save just now. Try again") };
  return { words: (await answer.text()) || gettext("the server refused it (status {status})", { status: answer.status }) };
}

async function answered(submitter) {
  let outcome = await sent(submitter);
  if (!outcome.signedOut) return outcome;
  say(gettext("Not saved: you are signed out. Sign in to continue. {here}", { here: HERE }), "no");
  if (await signedInAgain()) outcome = await sent(submitter);
  return outcome.signedOut ? { words: gettext("you are signed out. Press Save test to sign in") } : outcome;
}

async function save(submitter) {
  if (saving) return;
  saving = true;
  submitter.disabled = true;
  clearTimeout(waiting);
  for (const name of touched) unsafe.add(name);
  remember();
  clearFaults(form);
  say(gettext("Saving the test."), "");
  try {
    const outcome = await answered(submitter);
    if (outcome.saved) {
      setOver();
      await unqueueDraft();
      forget();
      location.assign(outcome.saved);
      return;
    }
    if (outcome.faults) {
      showFaults(form, gettext("Not saved. Fix the fields marked below. Everything else you typed is still here."), outcome.faults);
      say(gettext("Not saved: fix the fields marked. {here}", { here: HERE }), "no");
    } else say(gettext("Not saved: {reason}. {here}", { reason: outcome.words, here: HERE }), "no");
  } catch {
    if (await waits(submitter)) return;
    say(gettext("Not saved: no connection. {here} Press Save test when the network is back.", { here: HERE }), "no");
  }
  saving = false;
  submitter.disabled = false;
}

form.addEventListener("submit", (event) => {
  const submitter = event.submitter || form.querySelector("[name=save]");
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

// Readings of instruments were put into the cells: live.js.
form.addEventListener("captured", () => {
  for (const cell of form.querySelectorAll(".cell-input")) if (cell.value.trim()) touched.add(cell.name);
  if (sending) isStale = true;
  else keep();
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

say(gettext("Each value is saved as soon as it is entered."), "");
sameWriter();
renew();
restore();
hold(`draft ${form.elements.entry.value}`);
mark();
