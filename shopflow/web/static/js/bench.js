// Bench entry: the figures are worked out as one types. Keys are columns.js.
"use strict";

const form = document.querySelector("form.bench");
const shown = document.getElementById("worked-out");
let waiting = null;
let asked = 0;

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
