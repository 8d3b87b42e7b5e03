// A price that follows what is typed. Works inside any form[data-priced] that holds #price; its buttons named "do" work
// without a script too, as plain posts.
const WAIT = 250;

export const form = document.querySelector("form[data-priced]");
let edits = 0;
let later;

// Asks the server for a part of the page with everything typed so far. One ask follows another, so that none undoes what
// an earlier one brought; of refreshings that wait, one is enough. Sent from an element outside the form, so that the form
// itself can be sent at any moment.
let line = Promise.resolve();
const waiting = new Map();
export function ask(act, options = {}) {
  const isRefresh = /^(price|total)$/.test(act) && !options.goTo;
  if (isRefresh && waiting.has(act)) return waiting.get(act);
  line = line.then(() => {
    if (isRefresh) waiting.delete(act);
    return send(act, options);
  });
  if (isRefresh) waiting.set(act, line);
  return line;
}

async function send(act, { target = "#price", swap = "innerHTML", goTo = "" }) {
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
  } catch {
    // No answer: the toasts say so, and what was typed stays.
    return;
  } finally {
    document.removeEventListener("htmx:beforeSwap", keep);
  }
  const total = form.elements.total?.value;
  if (total !== heard) hearAgain(total);
  if (goTo) document.querySelector(goTo)?.focus();
}

// A yes is to the price that was told: when the price changes, the yes has to be said again.
let heard = form.elements.total?.value;
function hearAgain(total) {
  heard = total;
  const yes = form.elements.is_accepted;
  if (yes?.checked) yes.click();
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

// Looks something up for what stands in a field; while an answer is under way only the newest text waits.
export function lookingUp(address, source, target, name) {
  let isBusy = false;
  let newest;
  return async function look(text) {
    newest = text;
    if (isBusy) return;
    isBusy = true;
    while (newest !== undefined) {
      const values = { [name]: newest };
      newest = undefined;
      await htmx.ajax("GET", address, { source, target, swap: "innerHTML", values }).catch(() => {});
    }
    isBusy = false;
  };
}

const items = form.querySelector("#item_q").dataset.items;
const lookForItems = lookingUp(items, "#asks-item", "#items-found", "q");
let lookingFor;
function findItems(field) {
  clearTimeout(lookingFor);
  lookingFor = setTimeout(() => lookForItems(field.value), 120);
}
