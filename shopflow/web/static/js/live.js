// Readings that instruments post into this test: asked for while the switch is on, put into the
// form's cells, and kept and drawn as if they were typed. A tone says that one was taken, a lower
// one that it is doubtful.
import { gettext } from "./texts.js";

const form = document.querySelector("form.bench");
const box = document.getElementById("live");
const button = document.getElementById("live-switch");
const tone = document.getElementById("live-tone");
const taken = document.getElementById("live-taken");
const STORE = "bench live";
const PAUSE = 100;
const PAUSE_AFTER_FAULT = 1500;
let isOn = false;
let audio = null;

function beep(isDoubtful) {
  if (!tone.checked || !audio) return;
  const oscillator = audio.createOscillator();
  const volume = audio.createGain();
  oscillator.frequency.value = isDoubtful ? 220 : 880;
  volume.gain.value = 0.2;
  oscillator.connect(volume).connect(audio.destination);
  oscillator.start();
  oscillator.stop(audio.currentTime + (isDoubtful ? 0.6 : 0.15));
}

// A row that the page lacks is on the server already: the page is loaded anew to show it.
function fill(cells) {
  const fields = Object.entries(cells).map(([name, text]) => [form.elements.namedItem(name), text]);
  if (fields.some(([field]) => !field)) {
    location.reload();
    return false;
  }
  for (const [field, text] of fields) {
    field.value = text;
    field.dispatchEvent(new Event("change", { bubbles: true }));
  }
  return true;
}

function show({ id, cells, words, doubtful }) {
  if (!fill(cells)) return false;
  form.elements.captured.value = id;
  taken.textContent = doubtful ? gettext("Doubtful reading. {words}", { words }) : words;
  taken.dataset.state = doubtful ? "no" : "yes";
  beep(doubtful);
  return true;
}

async function ask() {
  const query = new URLSearchParams({ entry: form.elements.entry.value, since: form.elements.captured.value || "0" });
  const answer = await fetch(`${form.dataset.captured}?${query}`, { credentials: "same-origin", redirect: "error" });
  if (!answer.ok) throw new Error(answer.status);
  const { captured } = await answer.json();
  if (captured.length && captured.every(show)) form.dispatchEvent(new Event("captured"));
}

async function follow() {
  while (isOn) {
    let pause = PAUSE;
    try {
      await ask();
      if (taken.dataset.state === "away") taken.textContent = gettext("Waiting for readings.");
      if (taken.dataset.state === "away") taken.dataset.state = "";
    } catch {
      taken.textContent = gettext("No connection. Readings are kept at the bench and come later.");
      taken.dataset.state = "away";
      pause = PAUSE_AFTER_FAULT;
    }
    await new Promise((resolve) => setTimeout(resolve, pause));
  }
}

function remember() {
  try {
    if (isOn) sessionStorage.setItem(STORE, form.elements.entry.value);
    else sessionStorage.removeItem(STORE);
  } catch {
    // Without storage a page loaded anew is switched on again by hand.
  }
}

function turn(on) {
  isOn = on;
  remember();
  button.setAttribute("aria-pressed", String(on));
  button.textContent = on ? gettext("Stop live readings") : gettext("Start live readings");
  taken.textContent = on ? gettext("Waiting for readings.") : "";
  if (!on) return;
  audio ??= window.AudioContext ? new AudioContext() : null;
  audio?.resume();
  // The draft must be on the server before anything can be posted into it.
  form.dispatchEvent(new Event("captured"));
  follow();
}

function wasOn() {
  try {
    return sessionStorage.getItem(STORE) === form.elements.entry.value;
  } catch {
    return false;
  }
}

box.hidden = false;
button.addEventListener("click", () => turn(!isOn));
if (wasOn()) turn(true);
