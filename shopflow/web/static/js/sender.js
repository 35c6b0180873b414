// Sends the queue in its order, each entry once: the server knows a repeat by the entry's key.
import { allEntries, newKey, putEntry, removeEntry } from "./queue.js";

const LOCK = "shopflow queue";
const HELD = "held: ";

// While a page that has an entry's fields is open, that page sends them itself.
export function hold(key) {
  navigator.locks?.request(HELD + key, () => new Promise(() => {}));
}

async function heldKeys() {
  if (!navigator.locks) return new Set();
  const { held } = await navigator.locks.query();
  return new Set(held.map(({ name }) => name).filter((name) => name.startsWith(HELD)).map((name) => name.slice(HELD.length)));
}

async function bodyOf(entry, token) {
  const body = new FormData();
  for (const [name, value] of entry.fields) if (name !== "csrf_token") body.append(name, value);
  body.set("csrf_token", token);
  return body;
}

function wordsOf(text) {
  const page = new DOMParser().parseFromString(text, "text/html");
  const notes = page.querySelectorAll(".faults p, .fault");
  const words = Array.from(notes, (note) => note.textContent.trim().replace(/\s+/g, " "));
  return Array.from(new Set(words)).join(" ") || page.querySelector("h1")?.textContent.trim() || "";
}

// Of a sheet the cells that were not taken, to be sent under a key of their own.
function partOf(entry, faults) {
  const isLeft = ([name]) => !/^(seen-)?cell-/.test(name) || name.replace(/^seen-/, "") in faults;
  const fields = entry.fields.filter(([name]) => name !== "idempotency_key").filter(isLeft);
  const values = entry.values.filter(([, , name]) => name in faults);
  return { ...entry, fields: [...fields, ["idempotency_key", newKey()]], values };
}

const joined = (faults) => Object.values(faults).map(String).join(" ");

// What is left of an entry, with the reason why the server did not take it; null where it did.
async function leftOf(entry, answer) {
  const isJson = (answer.headers.get("Content-Type") || "").includes("json");
  if (answer.ok) {
    const { faults } = isJson ? await answer.json() : {};
    if (!faults || !Object.keys(faults).length) return null;
    return { ...partOf(entry, faults), state: "refused", reason: joined(faults) };
  }
  const text = await answer.text();
  const words = isJson ? joined(JSON.parse(text)) : wordsOf(text) || text.slice(0, 300);
  return { ...entry, state: "refused", reason: words || `Status ${answer.status}` };
}

async function post(entry, token) {
  const headers = { "X-Queue": "1" };
  if (entry.kind === "save") headers["X-Bench"] = "save";
  const body = await bodyOf(entry, token);
  return fetch(entry.address, { method: "POST", body, headers, credentials: "same-origin", redirect: "manual" });
}

// Sends what waits; "sent", "signed out", "no network", or "busy" where another page is sending.
async function sendAll(standing) {
  const entries = await allEntries();
  const waiting = entries.filter(({ state }) => state === "waiting");
  if (!waiting.length) return "sent";
  const held = await heldKeys();
  const now = await (await fetch(standing, { credentials: "same-origin", cache: "no-store" })).json();
  if (!now.who) return "signed out";
  const blocked = new Set(entries.filter(({ state }) => state === "refused").map(({ group }) => group));
  for (const entry of waiting) {
    if (held.has(entry.key) || entry.person !== now.person || blocked.has(entry.group)) continue;
    const answer = await post(entry, now.csrf_token);
    if (answer.status >= 500 || answer.status === 429) return "no network";
    if (answer.status === 401 || answer.type === "opaqueredirect") return "signed out";
    const left = await leftOf(entry, answer);
    if (!left) await removeEntry(entry.key);
    else {
      blocked.add(entry.group);
      await putEntry(left);
    }
  }
  return "sent";
}

async function attempt(standing) {
  try {
    return await sendAll(standing);
  } catch (fault) {
    if (fault instanceof TypeError || fault instanceof SyntaxError) return "no network";
    throw fault;
  }
}

export async function send(standing) {
  if (!navigator.locks) return attempt(standing);
  return navigator.locks.request(LOCK, { ifAvailable: true }, (lock) => (lock ? attempt(standing) : "busy"));
}
