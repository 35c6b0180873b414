// The sizes of the side and cylinder chosen: loaded when either changes, nothing typed lost.
"use strict";

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
  notes.textContent = "The sizes of this side could not be loaded. Check valve, seat, throat and port, or press Load sizes.";
};

side.addEventListener("change", async () => {
  left.set(chosen, typed());
  chosen = side.value;
  try {
    const found = await ask();
    loaded = found.fields;
    notes.innerHTML = found.notes;
    fill(left.get(chosen) || loaded);
  } catch (fault) {
    if (!(fault instanceof TypeError)) throw fault;
    fill(left.get(chosen) || {});
    unanswered();
  }
});

// Of another cylinder only what was loaded before is replaced; what a person typed stays.
cylinder.addEventListener("change", async () => {
  try {
    const before = loaded;
    const found = await ask();
    const now = typed();
    loaded = found.fields;
    notes.innerHTML = found.notes;
    fill(Object.fromEntries(NAMES.filter((name) => now[name] === before[name] || !now[name]).map((name) => [name, loaded[name]])));
  } catch (fault) {
    if (!(fault instanceof TypeError)) throw fault;
    unanswered();
  }
});
