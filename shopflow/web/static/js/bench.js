// Bench entry: Enter goes down the column, and the figures are worked out as one types.
"use strict";

const form = document.querySelector("form.bench");
const shown = document.getElementById("worked-out");
let waiting = null;
let asked = 0;

function cells() {
  return Array.from(form.querySelectorAll("table.readings tbody tr"), (row) =>
    Array.from(row.querySelectorAll("input"))
  );
}

// Where Enter leads: down the column, then to the top of the next run.
function after(cell) {
  const rows = cells();
  const row = rows.findIndex((inputs) => inputs.includes(cell));
  const column = rows[row].indexOf(cell);
  const below = rows[row + 1];
  const last = !below || (column > 0 && !below[0].value.trim());
  if (!last) return below[column];
  return rows[0][Math.min(column + 1, rows[0].length - 1)];
}

async function workOut() {
  const mine = ++asked;
  try {
    const answer = await fetch(form.dataset.workedOut, {
      method: "POST",
      body: new FormData(form),
      credentials: "same-origin",
    });
    const text = await answer.text();
    // A slow answer must not replace a newer one.
    if (answer.ok && mine === asked) shown.innerHTML = text;
  } catch {
    // Without the network the page keeps what was typed; saving says what is wrong.
  }
}

form.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !event.target.matches("table.readings input")) return;
  event.preventDefault();
  const next = after(event.target);
  next.focus();
  next.select();
});

// What is typed is kept in this tab until the session is on file: a reload loses nothing.
const draft = `bench ${location.pathname}`;

function keepDraft() {
  const typed = Array.from(new FormData(form)).filter(
    ([name, value]) => name !== "csrf_token" && typeof value === "string"
  );
  sessionStorage.setItem(draft, JSON.stringify(typed));
}

function restoreDraft() {
  const typed = JSON.parse(sessionStorage.getItem(draft) || "null");
  // A page with faults, or one set up for another bench, holds what was meant already.
  if (!typed || location.search || form.querySelector("[role='alert']")) return;
  for (const [name, value] of typed) {
    const field = form.elements.namedItem(name);
    if (field) field.value = value;
  }
  workOut();
}

form.addEventListener("input", () => {
  keepDraft();
  clearTimeout(waiting);
  waiting = setTimeout(workOut, 250);
});

form.addEventListener("submit", (event) => {
  if (event.submitter && event.submitter.name === "save") sessionStorage.removeItem(draft);
});

restoreDraft();
