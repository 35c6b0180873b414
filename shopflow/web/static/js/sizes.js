// The sizes of the side and cylinder chosen: loaded when either changes, nothing typed lost.
import { gettext } from "./texts.js";

const form = document.querySelector("form.bench");
const notes = document.getElementById("size-notes");
const side = form.elements.namedItem("side");
const cylinder = form.elements.namedItem("cylinder");
const NAMES = [
  ...["head_diameter", "count", "stem_diameter", "seat_angle", "seat_width", "throat_diameter"].map((key) => `valve-${key}`),
  "port-area",
];
// What each side had when another was chosen, so that going back to it brings that again.
const left = new Map();
let chosen = side.value;

const typed = () => Object.fromEntries(NAMES.map((name) => [name, form.elements.namedItem(name).value]));

// A test begun before may have been typed into: of that only what is blank is filled in.
let loaded = form.elements.namedItem("seen").value === "0" ? typed() : {};

const fill = (values) => {
  for (const [name, value] of Object.entries(values)) {
    const field = form.elements.namedItem(name);
    if (!field || field.value === value) continue;
    field.value = value;
    // bench.js saves it as if it had been typed.
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
};

const ask = async () => {
  const asked = new URLSearchParams({ side: side.value, cylinder: cylinder.value });
  const answer = await fetch(`${form.dataset.sizes}?${asked}`, { credentials: "same-origin", redirect: "error" });
  if (!answer.ok) throw new TypeError(`status ${answer.status}`);
  return answer.json();
};

const unanswered = () => {
  notes.textContent = gettext("The sizes of this side could not be loaded. Check valve, seat, throat and port, or press Load sizes.");
};

// The sizes asked for, once they are here: none where they could not be loaded, which is said; null
// where another choice was made meanwhile.
let asked = 0;
// The fields still hold the sizes of the side chosen before.
let awaited = false;

const sizes = async () => {
  const turn = (asked += 1);
  try {
    const found = await ask();
    if (turn !== asked) return null;
    notes.innerHTML = found.notes;
    return found.fields;
  } catch (fault) {
    if (!(fault instanceof TypeError)) throw fault;
    if (turn !== asked) return null;
    unanswered();
    return {};
  } finally {
    if (turn === asked) awaited = false;
  }
};

// What was typed while the sizes were on their way stays.
const fillUntouched = (values, before) => {
  const now = typed();
  fill(Object.fromEntries(Object.entries(values).filter(([name]) => now[name] === before[name])));
};

side.addEventListener("change", async () => {
  if (side.value === chosen) return;
  const before = typed();
  if (!awaited) left.set(chosen, before);
  chosen = side.value;
  awaited = true;
  const kept = left.get(chosen);
  const found = await sizes();
  if (!found) return;
  loaded = found;
  fillUntouched(kept || found, before);
});

// Of another cylinder only what was loaded before is replaced; what a person typed stays.
cylinder.addEventListener("change", async () => {
  const before = typed();
  const replaced = NAMES.filter((name) => awaited || !before[name] || before[name] === loaded[name]);
  const found = await sizes();
  if (!found) return;
  loaded = found;
  fillUntouched(Object.fromEntries(Object.entries(found).filter(([name]) => replaced.includes(name))), before);
});
