// Signing in again on the page itself, so that what was typed there stays.
import { gettext } from "./texts.js";

const dialog = document.getElementById("sign-in-again");

// Every form of the page carries the new token from now on.
const takeOver = (token) => {
  for (const field of document.querySelectorAll("input[name=csrf_token]")) field.value = token;
};

const standing = async () => {
  const answer = await fetch(dialog.dataset.standing, { credentials: "same-origin", cache: "no-store" });
  if (!answer.ok) throw new Error(`status ${answer.status}`);
  return answer.json();
};

const send = async (form) => {
  takeOver((await standing()).csrf_token);
  const answer = await fetch(form.action, {
    method: "POST",
    body: new FormData(form),
    credentials: "same-origin",
  });
  const said = await answer.json();
  // Signing in begins a session with a token of its own.
  if (!said.fault) takeOver((await standing()).csrf_token);
  return said;
};

const asked = () =>
  new Promise((resolve) => {
    const form = dialog.querySelector("form");
    const fault = dialog.querySelector("[role=alert]");
    const submitted = async (event) => {
      if (event.submitter && event.submitter.value === "cancel") return;
      event.preventDefault();
      let answer;
      try {
        answer = await send(form);
      } catch {
        answer = { fault: gettext("No connection. Try again when the network is back.") };
      }
      fault.textContent = answer.fault || "";
      fault.hidden = !answer.fault;
      if (answer.fault) return;
      form.querySelector("[type=password]").value = "";
      dialog.close("signed in");
    };
    const closed = () => {
      form.removeEventListener("submit", submitted);
      resolve(dialog.returnValue === "signed in");
    };
    dialog.returnValue = "";
    form.addEventListener("submit", submitted);
    dialog.addEventListener("close", closed, { once: true });
    dialog.showModal();
  });

let asking = null;

// True once somebody is signed in and the page's token is good: at once where they signed in
// elsewhere meanwhile, else after they did so here. False where they closed the dialog.
export const signedInAgain = async () => {
  const now = await standing();
  takeOver(now.csrf_token);
  if (now.who) return true;
  asking ||= asked().finally(() => {
    asking = null;
  });
  return asking;
};
