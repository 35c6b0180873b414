// The usual unit stands beside a box until another one is typed in it.
const OWN = /[^\W\d]|[%°"']/;

document.addEventListener("input", ({ target }) => {
  const unit = target.closest?.(".with-unit")?.querySelector(".unit");
  if (unit) unit.hidden = OWN.test(target.value);
});
