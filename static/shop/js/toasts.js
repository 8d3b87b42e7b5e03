// What was done, said at the foot of the page, with a way to take it back.
const SHOWN_MS = 9000;
const LOST_SIGNAL = "No answer from the shop's computer. Nothing was lost: try again.";
const WENT_WRONG = "That did not work. Nothing was changed: try again, or load the page anew.";
const NOT_YOURS = "This is not open to you. Nothing was changed.";
const GONE = "This is no longer there. Load the page anew to see how things stand.";

const region = () => document.getElementById("toasts");

function showToast({ words, undo = "", refused = false }) {
  const made = document.getElementById("toast-pattern").content.cloneNode(true);
  const toast = made.querySelector(".toast");
  toast.querySelector("p").textContent = words;
  toast.classList.toggle("toast-refused", refused);
  const form = toast.querySelector("form");
  if (undo) form.action = undo;
  else form.remove();
  region().append(made);
  leaveInTime(toast);
}

function leaveInTime(toast) {
  // A refusal stays until it is closed; so does a toast that is being read or used.
  if (toast.classList.contains("toast-refused")) return;
  setTimeout(() => {
    if (toast.matches(":hover, :focus-within")) leaveInTime(toast);
    else toast.remove();
  }, SHOWN_MS);
}

document.addEventListener("DOMContentLoaded", () => document.querySelectorAll(".toast").forEach(leaveInTime));
document.addEventListener("click", (event) => {
  const close = event.target.closest("[data-toast-close]");
  if (close) close.closest(".toast").remove();
});
document.addEventListener("toasts", (event) => event.detail.toasts.forEach(showToast));
document.addEventListener("htmx:sendError", () => showToast({ words: LOST_SIGNAL, refused: true }));
document.addEventListener("htmx:timeout", () => showToast({ words: LOST_SIGNAL, refused: true }));
document.addEventListener("htmx:responseError", (event) => {
  const words = { 403: NOT_YOURS, 404: GONE }[event.detail.xhr.status] || WENT_WRONG;
  showToast({ words, refused: true });
});
// For other modules of ours: document.dispatchEvent(new CustomEvent("toasts", { detail: { toasts: [{ words }] } }))
