// Charts: read a point by pointer, finger or arrow keys; switch what is drawn in place.
import { gettext } from "./texts.js";

const HINT = gettext("Point at a curve, tap it, or press the arrow keys here, to read its values.");
const NEAR = 40;

function pointsOf(svg) {
  return Array.from(svg.querySelectorAll(".point"));
}

// Each curve's points in order, the curves as they were drawn.
function curvesOf(svg) {
  const curves = new Map();
  for (const point of pointsOf(svg)) {
    const key = point.dataset.curve;
    if (!curves.has(key)) curves.set(key, []);
    curves.get(key).push(point);
  }
  return Array.from(curves.values());
}

function show(chart, point) {
  for (const other of chart.box.querySelectorAll(".point.read")) other.classList.remove("read");
  point.classList.add("read");
  const words = point.querySelector("title").textContent;
  if (chart.words === words) return;
  chart.words = words;
  chart.readout.textContent = words;
  if (!point.dataset.link) return;
  const link = document.createElement("a");
  link.href = point.dataset.link;
  link.textContent = gettext("Open this test");
  chart.readout.append(". ", link);
}

function nearest(svg, event) {
  let found = null;
  let least = Infinity;
  for (const point of pointsOf(svg)) {
    const box = point.lastElementChild.getBoundingClientRect();
    const away = Math.hypot(
      box.x + box.width / 2 - event.clientX,
      box.y + box.height / 2 - event.clientY
    );
    if (away < least) [found, least] = [point, away];
  }
  return { point: found, away: least };
}

// The curve's point that lies nearest along the axis to one of another curve.
function beside(curve, point) {
  const away = (other) => Math.abs(other.dataset.x - point.dataset.x);
  return curve.reduce((best, other) => (away(other) < away(best) ? other : best));
}

function stepped(svg, key) {
  const curves = curvesOf(svg);
  const read = svg.querySelector(".point.read");
  if (!read) return curves[0][0];
  const row = curves.findIndex((curve) => curve.includes(read));
  const place = curves[row].indexOf(read);
  const last = curves[row].length - 1;
  switch (key) {
    case "ArrowRight": return curves[row][Math.min(place + 1, last)];
    case "ArrowLeft": return curves[row][Math.max(place - 1, 0)];
    case "Home": return curves[row][0];
    case "End": return curves[row][last];
    case "ArrowUp": return beside(curves[(row + 1) % curves.length], read);
    case "ArrowDown": return beside(curves[(row + curves.length - 1) % curves.length], read);
    default: return null;
  }
}

// A box holds the same chart drawn for a wide and for a narrow place, of which one is shown.
function shownIn(box) {
  const drawings = Array.from(box.querySelectorAll("svg.chart"));
  return drawings.find((svg) => svg.getClientRects().length) ?? drawings[0];
}

function makeReadable(box) {
  const reader = document.createElement("div");
  const readout = document.createElement("p");
  const chart = { box, readout, words: HINT };
  reader.className = "chart-reader";
  reader.tabIndex = 0;
  reader.setAttribute("role", "application");
  const title = box.querySelector("title").textContent;
  reader.setAttribute("aria-label", gettext("{title}: left and right arrows along a curve, up and down to another", { title }));
  readout.className = "readout";
  readout.setAttribute("aria-live", "polite");
  readout.textContent = HINT;
  box.replaceWith(reader);
  reader.append(box);
  reader.after(readout);
  reader.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const svg = shownIn(box);
    const read = svg.querySelector(".point.read");
    if (event.key === "Enter" && read?.dataset.link) location.assign(read.dataset.link);
    const point = stepped(svg, event.key);
    if (!point || !event.key.match(/^(Arrow|Home|End)/)) return;
    event.preventDefault();
    show(chart, point);
  });
  reader.addEventListener("pointermove", (event) => {
    const { point, away } = nearest(shownIn(box), event);
    if (event.pointerType !== "touch" && away < NEAR) show(chart, point);
  });
  reader.addEventListener("click", (event) => show(chart, nearest(shownIn(box), event).point));
}

function makeAllReadable() {
  for (const box of document.querySelectorAll(".chart-box")) {
    if (!box.closest(".chart-reader") && box.querySelector(".point")) makeReadable(box);
  }
}

// Another quantity is drawn in the page that is there: only what it changes is replaced.
async function swap(form) {
  const address = `${location.pathname}?${new URLSearchParams(new FormData(form))}`;
  const shown = document.getElementById(form.dataset.swaps);
  const opened = Array.from(shown.querySelectorAll("details[open]"), (one) => one.closest("figure")?.id);
  try {
    const answer = await fetch(address, { credentials: "same-origin" });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = page.getElementById(form.dataset.swaps);
    if (!answer.ok || !fresh) throw new Error("not a page of charts");
    for (const id of opened) {
      const table = id && fresh.querySelector(`#${id} details`);
      if (table) table.open = true;
    }
    shown.replaceWith(document.adoptNode(fresh));
    // Links that lead to this page again must ask for what is drawn now.
    for (const old of document.querySelectorAll("[data-follows]")) {
      const renewed = page.getElementById(old.id);
      if (renewed) old.replaceWith(document.adoptNode(renewed));
    }
    history.replaceState(null, "", address);
  } catch {
    // The plain form does the same with a new page, and says what is wrong.
    form.submit();
  }
}

for (const form of document.querySelectorAll("form.chart-switch")) {
  form.querySelector("button").closest(".field").hidden = true;
  form.addEventListener("change", () => swap(form));
}

makeAllReadable();
new MutationObserver(makeAllReadable).observe(document.getElementById("main"), {
  childList: true,
  subtree: true,
});
