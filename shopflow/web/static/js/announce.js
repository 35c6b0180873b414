// A message that is there when the page opens is read to nobody: it is put in once the page is read.
const lines = Array.from(document.querySelectorAll(".announced [role=status]"), (line) => [line, line.textContent]);
for (const [line] of lines) line.style.minHeight = `${line.offsetHeight}px`;
for (const [line] of lines) line.textContent = "";
setTimeout(() => {
  for (const [line, words] of lines) line.textContent = words;
}, 150);
