// Disables the buttons of a form once it is sent, so that a second press sends nothing.
// A request that was stopped, or answered with a download, leaves the page as it is.
const GIVE_BACK_AFTER = 10000;

const buttonsOf = (form) =>
  Array.from(form.elements).filter((element) => element.matches("button, input[type=submit]"));

const disable = (form) => {
  form.setAttribute("aria-busy", "true");
  for (const button of buttonsOf(form)) {
    if (button.disabled) continue;
    button.disabled = true;
    button.dataset.sent = "";
  }
};

const giveBack = (form) => {
  form.removeAttribute("aria-busy");
  for (const button of buttonsOf(form)) {
    if (!("sent" in button.dataset)) continue;
    button.disabled = false;
    delete button.dataset.sent;
  }
};

document.addEventListener("submit", (event) => {
  const form = event.target;
  // A script that sends the form itself looks after its own buttons.
  if (event.defaultPrevented || form.method !== "post") return;
  // The button pressed is a part of what is sent: it is disabled once that is put together.
  setTimeout(() => disable(form));
  setTimeout(() => giveBack(form), GIVE_BACK_AFTER);
});

// The page comes back as it was left: from the back/forward cache, or after a failed request.
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[aria-busy]")) giveBack(form);
});
