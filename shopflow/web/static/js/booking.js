// Booking in: what is on record shows while it is typed, and fields of a new record when asked for.
const form = document.querySelector("form.booking");
const PAUSE = 350;
const waiting = new Map();
const asked = new Map();

const numbersOf = (part, place) =>
  new URLSearchParams({
    place,
    casting_number: part.querySelector(`[name="heads-${place}-casting_number"]`).value,
    serial: part.querySelector(`[name="heads-${place}-serial"]`).value,
  });

const look = async (part, place) => {
  const numbers = numbersOf(part, place).toString();
  if (asked.get(part) === numbers) return;
  asked.set(part, numbers);
  try {
    const answer = await fetch(`${form.dataset.seen}?${numbers}`, { credentials: "same-origin", redirect: "error" });
    // A later question has gone out since: its answer is the one to show.
    if (!answer.ok || asked.get(part) !== numbers) return;
    const chosen = part.querySelector(".seen input:checked")?.value;
    part.querySelector(".seen").innerHTML = (await answer.json()).html;
    const same = Array.from(part.querySelectorAll(".seen input")).find((one) => one.value === chosen);
    if (same) same.checked = true;
  } catch (fault) {
    // Without an answer the button "Look on file" does the same.
    if (!(fault instanceof TypeError)) throw fault;
  }
};

for (const part of form.querySelectorAll(".head-part")) {
  part.addEventListener("input", (event) => {
    const found = /^heads-(\d+)-(casting_number|serial)$/.exec(event.target.name);
    if (!found) return;
    clearTimeout(waiting.get(part));
    waiting.set(part, setTimeout(() => look(part, found[1]), PAUSE));
  });
}

// Customers and engine types: the records that match, while their box is typed in.
const offer = async (box, spot) => {
  const text = box.value.trim();
  if (asked.get(spot) === text) return;
  asked.set(spot, text);
  try {
    const query = new URLSearchParams({ q: text });
    const answer = await fetch(`${spot.dataset.offers}?${query}`, { credentials: "same-origin", redirect: "error" });
    if (!answer.ok || asked.get(spot) !== text) return;
    const chosen = spot.querySelector("input:checked")?.value;
    spot.innerHTML = (await answer.json()).html;
    const same = Array.from(spot.querySelectorAll("input")).find((one) => one.value === chosen);
    if (same) same.checked = true;
  } catch (fault) {
    // Without an answer the button "Search records" does the same.
    if (!(fault instanceof TypeError)) throw fault;
  }
};

const show = (what, name) => {
  const fields = document.getElementById(`new-${what}`);
  fields.hidden = false;
  form.querySelector(`[data-ask="new-${what}"]`).hidden = true;
  const first = fields.querySelector("input");
  if (name && !first.value) first.value = name;
  return first;
};

for (const spot of form.querySelectorAll("[data-offers]")) {
  const part = spot.closest(".part");
  const box = part.querySelector("input[type=text]");
  box.addEventListener("input", () => {
    clearTimeout(waiting.get(spot));
    waiting.set(spot, setTimeout(() => offer(box, spot), PAUSE));
  });
  // "None of these" asks for the fields of a new record.
  spot.addEventListener("change", (event) => {
    if (event.target.value === "new") show(part.id, part.id === "customer" ? box.value.trim() : "");
    else document.getElementById(`new-${part.id}`).hidden = true;
  });
}
