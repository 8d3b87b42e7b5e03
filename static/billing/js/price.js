// A price that follows what is typed. Works inside any form[data-priced] that holds #price; its buttons named "do" work
// without a script too, as plain posts.
const WAIT = 250;

export const form = document.querySelector("form[data-priced]");
let edits = 0;
let later;

// Asks the server for a part of the page with everything typed so far. Sent from an element outside the form, so that
// the form itself can be sent at any moment.
export async function ask(act, { target = "#price", swap = "innerHTML", goTo = "" } = {}) {
  clearTimeout(later);
  const values = Object.fromEntries(new FormData(form));
  values.do = act;
  const asked = edits;
  const asks = document.querySelector("#asks");
  const keep = (event) => {
    // Typed on while the answer was under way: the answer is stale, and what was typed stays.
    if (edits === asked || event.detail.target.id !== target.slice(1) || target === "#price-sum") return;
    event.detail.shouldSwap = false;
    askLater("price");
  };
  document.addEventListener("htmx:beforeSwap", keep);
  try {
    await htmx.ajax("POST", form.getAttribute("action") || location.pathname, { source: asks, target, swap, values });
  } finally {
    document.removeEventListener("htmx:beforeSwap", keep);
  }
  if (goTo) document.querySelector(goTo)?.focus();
}

export function askLater(act, wait = WAIT) {
  clearTimeout(later);
  later = setTimeout(() => ask(act, act === "total" ? { target: "#price-sum" } : {}), wait);
}

const inRows = (element) => element.closest("#price-rows");
const isBlank = (element) => element.closest(".price-row-blank");

form.addEventListener("input", (event) => {
  if (event.target.id === "item_q") return findItems(event.target);
  if (!inRows(event.target)) return;
  edits += 1;
  if (!isBlank(event.target)) askLater("total");
});

// A line added by hand becomes a line like the others as soon as it has a price.
form.addEventListener("change", (event) => {
  const blank = isBlank(event.target);
  if (!blank || !event.target.name.endsWith("-price") || !event.target.value.trim()) return;
  const number = Number(event.target.name.split("-")[1]) + 1;
  ask("price", { goTo: `#id_line-${number}-text` });
});

form.addEventListener("click", (event) => {
  const button = event.target.closest('button[name="do"]');
  if (!button || !/^(line-|price$)/.test(button.value)) return;
  event.preventDefault();
  ask(button.value, { goTo: button.dataset.goto });
});

let lookingFor;
function findItems(field) {
  clearTimeout(lookingFor);
  lookingFor = setTimeout(() => {
    htmx.ajax("GET", field.dataset.items, {
      source: document.querySelector("#asks-item"),
      target: "#items-found",
      swap: "innerHTML",
      values: { q: field.value },
    });
  }, 120);
}
