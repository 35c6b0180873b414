// A table typed in by columns: Enter goes down, then to the top of the next column. At the top of a
// column left empty it goes to the button that saves, where the form has one.
const table = document.querySelector("table.readings");

const cells = () =>
  Array.from(table.querySelectorAll("tbody tr"), (row) => Array.from(row.querySelectorAll("input")));

// A column ends with the last row that has a first cell filled; the first one at an empty cell.
const after = (cell) => {
  const rows = cells();
  const save = table.closest("form")?.querySelector("[name=save]");
  const row = rows.findIndex((inputs) => inputs.includes(cell));
  const column = rows[row].indexOf(cell);
  const below = rows[row + 1];
  const isUnused = column > 0 && rows.every((inputs) => !inputs[column].value.trim());
  if (save && row === 0 && isUnused) return save;
  const empty = column > 0 ? below && !below[0].value.trim() : row > 0 && !cell.value.trim();
  const last = !below || empty;
  if (!last) return below[column];
  return rows[0][Math.min(column + 1, rows[0].length - 1)];
};

table.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !event.target.matches("input")) return;
  event.preventDefault();
  const next = after(event.target);
  next.focus();
  next.select?.();
});
