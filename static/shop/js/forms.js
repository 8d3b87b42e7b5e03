// A form sent once is not sent again while its answer is under way, and a form that stays on the page gets a new key.
const KEY = 'input[name="form_key"]';

function newKey() {
  // randomUUID needs a secure page; a shop may well use plain http inside its own walls.
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

function hold(form) {
  form.dataset.sent = "";
  form.querySelectorAll("button:not([type=button])").forEach((button) => button.setAttribute("aria-disabled", "true"));
}

function release(form) {
  delete form.dataset.sent;
  form.querySelectorAll("[aria-disabled]").forEach((button) => button.removeAttribute("aria-disabled"));
}

// Bound on the window, so that a page's own checks may cancel the sending first.
window.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return;
  if ("sent" in form.dataset) event.preventDefault();
  else hold(form);
});

// htmx would queue a second sending and do it with a new key; it is dropped here. Requests that a form makes
// while it is being filled in (a draft kept, a price looked up) are not its sending and pass.
const isSending = (trigger) => trigger?.type === "submit" || trigger?.type === "click";

document.addEventListener("htmx:confirm", (event) => {
  const form = event.target.closest("form");
  if (form && "sent" in form.dataset && isSending(event.detail.triggeringEvent)) event.preventDefault();
});

document.addEventListener("htmx:beforeRequest", (event) => {
  const form = event.target.closest("form");
  const { verb, triggeringEvent } = event.detail.requestConfig;
  if (form && verb === "post" && isSending(triggeringEvent)) hold(form);
});

document.addEventListener("htmx:afterRequest", (event) => {
  const form = event.target.closest?.("form");
  if (!form || !isSending(event.detail.requestConfig.triggeringEvent)) return;
  if (event.detail.xhr?.getResponseHeader("HX-Redirect")) return;
  release(form);
  const key = event.detail.successful && form.querySelector(KEY);
  if (key) key.value = newKey();
});

// Coming back by the browser's back button finds the page as it was left.
window.addEventListener("pageshow", () => document.querySelectorAll("form[data-sent]").forEach(release));

// After a refusal the first field at fault has the focus.
function focusFault(within) {
  within.querySelector('[aria-invalid="true"]')?.focus();
}
document.addEventListener("DOMContentLoaded", () => focusFault(document));
document.addEventListener("htmx:afterSettle", (event) => {
  if (event.detail.xhr?.status === 422) focusFault(event.detail.elt);
});

// A filter that sends itself when a choice changes; typed words wait for Enter or the button.
document.addEventListener("change", (event) => {
  if (event.target.matches("form[data-send-on-change] select, form[data-send-on-change] input[type=date]")) {
    event.target.form.requestSubmit();
  }
});
