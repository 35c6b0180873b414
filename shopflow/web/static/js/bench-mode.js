// Bench mode: the keypad for gloves, Enter through the set-up, and the room that the curve has.
const form = document.querySelector("form.bench");
const pad = document.getElementById("keypad");
const toggle = document.getElementById("keypad-switch");
const chart = document.querySelector(".bench-chart");
const STORE = "bench keypad";
const isTouch = matchMedia("(pointer: coarse)").matches;
const TYPED = "table.readings input, .to-fill input";
let cell = null;

const cells = () => form.querySelectorAll("table.readings input");

function chosen() {
  try {
    return localStorage.getItem(STORE);
  } catch {
    return null;
  }
}

// With the keypad on screen the device's own keyboard stays away; a real one types as ever.
function show(on) {
  pad.hidden = !on;
  toggle.setAttribute("aria-expanded", String(on));
  for (const input of cells()) input.inputMode = on ? "none" : "decimal";
  measure();
}

// The server draws the curve in the size there is, so that its letters keep theirs.
function measure() {
  const beside = chart.getBoundingClientRect().top < window.innerHeight / 2;
  const room = window.innerHeight - Math.max(chart.getBoundingClientRect().top, 0) - 130;
  form.elements.chart_width.value = Math.round(chart.clientWidth - 20);
  form.elements.chart_height.value = Math.round(Math.max(room, beside ? 320 : 300));
}

function type(key) {
  const field = document.activeElement.matches(TYPED) ? document.activeElement : cell;
  if (key === "next" && document.activeElement.name === "save") {
    document.activeElement.click();
    return;
  }
  if (!field) return;
  field.focus();
  if (key === "next") {
    field.dispatchEvent(new KeyboardEvent("keydown", { key: "Enter", bubbles: true, cancelable: true }));
    return;
  }
  const [start, end] = [field.selectionStart, field.selectionEnd];
  if (key !== "back") field.setRangeText(key, start, end, "end");
  else if (start === end) field.setRangeText("", Math.max(start - 1, 0), end, "end");
  else field.setRangeText("", start, end, "end");
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

// A tap on the keypad leaves the cursor where it is.
pad.addEventListener("pointerdown", (event) => event.preventDefault());
pad.addEventListener("click", (event) => {
  const key = event.target.closest("button");
  if (key) type(key.dataset.key);
});

form.addEventListener("focusin", (event) => {
  if (event.target.matches(TYPED)) cell = event.target;
});

// Enter in the set-up goes to the next field; only Save test saves.
form.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !event.target.matches("input:not([type=submit]), select") || event.target.closest("table.readings")) return;
  event.preventDefault();
  const fields = Array.from(form.querySelectorAll("input, select, textarea")).filter((field) => field.type !== "hidden" && !field.closest("details:not([open])"));
  fields[fields.indexOf(event.target) + 1]?.focus();
});

// The heading follows the port where it is changed in the set-up.
form.addEventListener("input", (event) => {
  const follower = form.querySelector(`[data-follows="${CSS.escape(event.target.name)}"]`);
  if (!follower) return;
  follower.textContent = event.target.matches("select") ? event.target.selectedOptions[0].textContent : event.target.value;
});

toggle.addEventListener("click", () => {
  show(pad.hidden);
  try {
    localStorage.setItem(STORE, pad.hidden ? "off" : "on");
  } catch {
    // The choice lasts as long as the page.
  }
});
window.addEventListener("resize", measure);

toggle.hidden = false;
show(chosen() ? chosen() === "on" : isTouch);
