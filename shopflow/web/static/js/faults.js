// Faults the server found in a form that a script sent, put where the server's own page has them.
const clear = (form) => {
  for (const note of form.querySelectorAll(".fault, .faults")) note.remove();
  for (const field of form.querySelectorAll("[aria-invalid=true]")) {
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-describedby");
  }
  for (const name of ["field-faulty", "cell-faulty"]) {
    for (const spot of form.querySelectorAll(`.${name}`)) spot.classList.remove(name);
  }
};

const element = (name, kind, words) => {
  const made = document.createElement(name);
  made.className = kind;
  made.textContent = words;
  return made;
};

// Where the server's page has a field's hint and faults: between its label and itself.
const notesOf = (field) => {
  const notes = field.closest(".field").querySelector(".notes");
  if (notes) return notes;
  field.before(element("div", "notes", ""));
  return field.previousElementSibling;
};

const atField = (field, words) => {
  const note = element("p", "fault", words);
  note.id = `${field.id}-fault`;
  field.setAttribute("aria-invalid", "true");
  field.setAttribute("aria-describedby", note.id);
  const cell = field.closest("td");
  (cell || field.closest(".field")).classList.add(cell ? "cell-faulty" : "field-faulty");
  if (cell) field.after(note);
  else notesOf(field).append(note);
  // A field that is folded away is unfolded.
  const folded = field.closest("details");
  if (folded) folded.open = true;
  const hidden = field.closest("[hidden]");
  if (hidden) hidden.hidden = false;
};

// `faults` has the message of each field by its name, those of the whole form under "".
export const showFaults = (form, refusal, faults) => {
  clear(form);
  const summary = element("div", "faults", "");
  summary.setAttribute("role", "alert");
  summary.append(element("p", "", refusal));
  let first = null;
  for (const [name, words] of Object.entries(faults)) {
    const field = name && form.elements.namedItem(name);
    if (field && field.id) {
      atField(field, words);
      first ||= field;
    } else summary.append(element("p", "", words));
  }
  form.prepend(summary);
  (first || summary).scrollIntoView({ block: "center" });
  if (first) first.focus();
};

export const clearFaults = clear;
