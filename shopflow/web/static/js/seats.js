// A seat's cuts: Enter goes to the next field, rows are added as they are needed, one cut carries
// the valve, and the drawing follows what is typed.
"use strict";

const form = document.querySelector("form.seat-form");
const table = form.querySelector("table.cuts");
const drawing = document.getElementById("seat-drawing");
const faults = document.getElementById("seat-faults");
const PAUSE = 350;
let waiting = null;
let asked = 0;
// Until a box is ticked or cleared by hand, the cut nearest to 45° carries the valve.
let chosen = table.querySelector("input[type=checkbox]:checked") !== null;
let suggested = null;

const rows = () => Array.from(table.tBodies[0].rows);
const texts = (row) => Array.from(row.querySelectorAll("input:not([type=checkbox])"));
const isEmpty = (row) => texts(row).every((field) => !field.value.trim());

function addRow() {
  if (rows().length >= Number(table.dataset.most)) return null;
  const last = rows()[rows().length - 1];
  const number = rows().length;
  const row = last.cloneNode(true);
  for (const note of row.querySelectorAll(".fault")) note.remove();
  for (const cell of row.querySelectorAll(".cell-faulty")) cell.classList.remove("cell-faulty");
  for (const field of row.querySelectorAll("input")) {
    field.name = field.name.replace(/-\d+-/, `-${number}-`);
    field.id = field.name;
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-describedby");
    if (field.type === "checkbox") field.checked = false;
    else field.setAttribute("value", "");
    if (field.type !== "checkbox") field.value = "";
  }
  for (const label of row.querySelectorAll("label")) {
    label.htmlFor = label.htmlFor.replace(/-\d+-/, `-${number}-`);
    const hidden = label.querySelector(".hidden");
    hidden.textContent = hidden.textContent.replace(/\d+/, String(number + 1));
  }
  last.after(row);
  return row;
}

function suggest(row) {
  const box = form.elements.namedItem(`cuts-${row}-is_contact`);
  if (chosen || !box) return;
  box.checked = true;
  suggested = box;
  draw();
}

function show(answer) {
  if (answer.contact !== null) suggest(answer.contact);
  if (answer.html) drawing.innerHTML = answer.html;
  faults.textContent = answer.faults.length ? answer.faults.join(" ") : "";
}

async function draw() {
  const turn = (asked += 1);
  const body = new FormData(form);
  // The form itself is sent once; a drawing is no sending of it.
  body.delete("idempotency_key");
  try {
    const answer = await fetch(form.dataset.preview, { method: "POST", body, credentials: "same-origin", redirect: "manual" });
    if (!answer.ok || turn !== asked) return;
    show(await answer.json());
  } catch {
    // Without a connection the last drawing stays; saving says what is wrong.
  }
}

function drawSoon() {
  clearTimeout(waiting);
  waiting = setTimeout(draw, PAUSE);
}

function next(field) {
  const fields = Array.from(form.querySelectorAll("input:not([type=hidden]):not([type=submit]):not([type=checkbox])"));
  const row = field.closest("tr");
  // An empty angle ends the list: Enter goes on to the valve.
  if (row && field === texts(row)[0] && isEmpty(row)) return form.elements.head_diameter;
  if (row && field === texts(row)[texts(row).length - 1] && row === rows()[rows().length - 1]) {
    const added = addRow();
    if (added) return texts(added)[0];
  }
  return fields[fields.indexOf(field) + 1] || form.querySelector("p.buttons .button-big");
}

form.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !event.target.matches("input:not([type=submit])")) return;
  event.preventDefault();
  const field = next(event.target);
  field.focus();
  if (field.select) field.select();
});

form.addEventListener("input", (event) => {
  if (suggested && !chosen && event.target.name.endsWith("-angle")) suggested.checked = false;
  drawSoon();
});
form.addEventListener("change", (event) => {
  if (!event.target.matches("input[type=checkbox]")) return;
  chosen = true;
  for (const other of table.querySelectorAll("input[type=checkbox]")) {
    if (event.target.checked && other !== event.target) other.checked = false;
  }
  drawSoon();
});

form.elements.more_cuts.addEventListener("click", (event) => {
  event.preventDefault();
  const added = addRow();
  if (added) texts(added)[0].focus();
});
form.elements.preview.remove();
