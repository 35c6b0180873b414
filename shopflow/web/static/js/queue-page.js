// What is not sent yet, entry by entry, and the pages that open without a network.
import { allEntries, fact, putEntry, removeEntry } from "./queue.js";
import { sendNow } from "./offline.js";

const list = document.getElementById("entries");
const template = document.getElementById("entry");
const none = document.getElementById("no-entries");
const pages = document.getElementById("pages");
const HIDDEN = /^(csrf_token|idempotency_key|entry|writer|seen|version|opened|chart_.*|unit-.*|seen-.*|save)$/;

function valuesOf(entry) {
  const named = entry.values || entry.fields.filter(([name]) => !HIDDEN.test(name));
  const filled = named.map(([name, value]) => [name, value instanceof Blob ? value.name : value]);
  return filled.filter(([, value]) => String(value).trim());
}

// The test goes back to where it is typed, under the key it began with.
function takeBack(entry) {
  if (entry.kind !== "save" && entry.kind !== "draft") return;
  const typed = entry.fields.filter(([name, value]) => !HIDDEN.test(name) && typeof value === "string");
  const names = typed.map(([name]) => name);
  const key = entry.fields.find(([name]) => name === "entry")[1];
  const held = { entry: key, seen: 0, unsafe: names, typed };
  const over = JSON.parse(localStorage.getItem("bench over") || "[]").filter((one) => one !== key);
  localStorage.setItem("bench over", JSON.stringify(over));
  localStorage.setItem(entry.group, JSON.stringify(held));
}

// Whose entries are shown: nobody's once they signed out.
async function reader() {
  if (navigator.serviceWorker?.controller) return fact("person");
  return document.getElementById("not-sent").dataset.person;
}

function show(entry, person) {
  const item = template.content.cloneNode(true).firstElementChild;
  item.dataset.state = entry.state;
  if (entry.person !== person) {
    item.replaceChildren(item.querySelector("[data-other]"));
    item.firstElementChild.hidden = false;
    return item;
  }
  item.querySelector("[data-label]").textContent = entry.label || entry.page;
  item.querySelector("[data-at]").textContent = new Date(entry.at).toLocaleString();
  item.querySelector("[data-reason]").textContent = entry.reason;
  item.querySelector("[data-refused]").hidden = entry.state !== "refused";
  const values = item.querySelector("[data-values]");
  for (const [name, value] of valuesOf(entry)) {
    const pair = document.createElement("div");
    pair.append(document.createElement("dt"), document.createElement("dd"));
    pair.firstElementChild.textContent = name.replaceAll("_", " ");
    pair.lastElementChild.textContent = value;
    values.append(pair);
  }
  const link = item.querySelector("[data-page]");
  link.href = entry.page;
  link.addEventListener("click", async (event) => {
    if (entry.state !== "refused" || entry.kind === "form") return;
    event.preventDefault();
    takeBack(entry);
    if (entry.kind !== "sheet") await removeEntry(entry.key);
    location.assign(entry.page);
  });
  item.querySelector("[data-again]").addEventListener("click", async () => {
    await putEntry({ ...entry, state: "waiting", reason: "" });
    sendNow();
  });
  const discard = item.querySelector("[data-discard]");
  discard.addEventListener("click", async () => {
    if (!discard.dataset.asked) {
      discard.dataset.asked = "yes";
      discard.textContent = discard.dataset.confirm;
      return;
    }
    await removeEntry(entry.key);
    sendNow();
  });
  return item;
}

async function showAll() {
  const entries = await allEntries();
  const person = await reader();
  list.replaceChildren(...entries.map((entry) => show(entry, person)));
  none.hidden = entries.length > 0;
}

async function showPages() {
  if (!self.caches || !(await caches.has("pages"))) return;
  const kept = await (await caches.open("pages")).matchAll();
  for (const answer of kept) {
    const title = /<title>([^<]*)<\/title>/.exec(await answer.text());
    const item = document.createElement("li");
    const link = document.createElement("a");
    link.href = answer.url;
    link.textContent = title ? title[1].trim() : answer.url;
    item.append(link);
    pages.append(item);
  }
  pages.closest("section").hidden = !kept.length;
}

document.addEventListener("queue", ({ detail }) => {
  document.getElementById("sign-in-first").hidden = detail.outcome !== "signed out";
  document.getElementById("no-network").hidden = detail.outcome !== "no network" && navigator.onLine;
  showAll();
});
document.getElementById("send-now").addEventListener("click", sendNow);
showAll();
showPages();
