// The set-up on its one line follows the fields folded below it; readings come first once all is set.
const form = document.querySelector("form.bench");
const setUp = document.getElementById("set-up");
const brief = setUp.querySelector("summary");

const named = (kind, name) => brief.querySelector(`[data-${kind}="${CSS.escape(name)}"]`);

form.addEventListener("input", (event) => {
  const { name, value } = event.target;
  const part = named("part", name);
  if (!part) return;
  part.querySelector("[data-value]").textContent = value;
  part.hidden = !value.trim();
  const missing = named("missing", name);
  if (missing) missing.hidden = Boolean(value.trim());
});

// With nothing left to set up, the first reading that is still to be taken has the cursor; else the
// first condition that is missing and in sight.
const missing = Array.from(brief.querySelectorAll("[data-missing]:not([hidden])"), (mark) => form.elements.namedItem(mark.dataset.missing));
const unfilled = missing.find((field) => !field.closest("details:not([open])"));
if (unfilled && !setUp.open) unfilled.focus();
else if (!setUp.open) {
  const cells = Array.from(form.querySelectorAll("table.readings tbody tr"), (row) => row.querySelectorAll("input"));
  const next = cells.find(([lift, first]) => lift.value.trim() && !first.value.trim());
  if (next) next[1].focus();
}
