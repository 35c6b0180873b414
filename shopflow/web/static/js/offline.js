// On every page: keep it for when there is no network, count what is not sent, and send it.
import { allEntries } from "./queue.js";
import { send } from "./sender.js";

const count = document.getElementById("not-sent");
const EVERY = 10000;

export async function showCount(outcome) {
  const entries = await allEntries();
  const refused = entries.filter(({ state }) => state === "refused").length;
  const words = [];
  if (entries.length > refused) {
    words.push(`${outcome === "signed out" ? count.dataset.signIn : count.dataset.waiting} ${entries.length - refused}`);
  }
  if (refused) words.push(`${count.dataset.refused} ${refused}`);
  count.textContent = words.join(" · ");
  count.hidden = !words.length;
  count.dataset.state = refused ? "refused" : "waiting";
  document.dispatchEvent(new CustomEvent("queue", { detail: { outcome } }));
}

export async function sendNow() {
  const outcome = await send(count.dataset.standing);
  await showCount(outcome);
  return outcome;
}

// What is saved already is not left on the device when its user signs out.
function forgetSaved() {
  for (const name of Object.keys(localStorage).filter((key) => key.startsWith("bench /"))) {
    const held = JSON.parse(localStorage.getItem(name) || "{}");
    if (!held.unsafe?.length) localStorage.removeItem(name);
  }
}

for (const form of document.querySelectorAll('form[action*="sign-out"]')) form.addEventListener("submit", forgetSaved);

// The first page of all is loaded before there is a worker to keep it.
async function keepForOffline() {
  const workers = navigator.serviceWorker;
  if (!workers) return;
  const isKept = Boolean(workers.controller);
  await workers.register("/service-worker.js");
  if (!isKept) (await workers.ready).active.postMessage(location.href);
}

if (count) {
  keepForOffline();
  window.addEventListener("online", sendNow);
  window.addEventListener("queued", () => showCount());
  setInterval(sendNow, EVERY);
  sendNow();
}
