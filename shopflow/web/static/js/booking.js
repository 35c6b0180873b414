// Booking in: what is on file of a casting shows while its numbers are typed.
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
