// The usual unit stands beside a box until another one is typed in it.
const OWN = /[^\W\d]|[%°"']/;

function look({ target }) {
  const unit = target.closest?.(".with-unit")?.querySelector(".unit");
  if (unit) unit.hidden = OWN.test(target.value);
}

// Values that a program puts in are told of by "change" alone.
for (const kind of ["input", "change"]) document.addEventListener(kind, look);
