// "/" puts the cursor into the search box, from anywhere but a field being typed in, for whoever
// has not turned it off (WCAG 2.2, 2.1.4).
document.addEventListener("keydown", (event) => {
  const box = document.querySelector("#search[aria-keyshortcuts]");
  const typing = event.target.closest("input, textarea, select, [contenteditable]");
  if (!box || typing || event.key !== "/" || event.ctrlKey || event.altKey || event.metaKey) return;
  event.preventDefault();
  box.focus();
  box.select();
});

// A menu of the bar closes when one goes elsewhere or presses Escape.
for (const menu of document.querySelectorAll(".bar-person, .bar-all")) {
  document.addEventListener("click", (event) => {
    if (!menu.contains(event.target)) menu.open = false;
  });
  menu.addEventListener("keydown", (event) => {
    if (event.key !== "Escape") return;
    menu.open = false;
    menu.querySelector("summary").focus();
  });
}
