// The call slip by keyboard: Enter goes on, digits tick boxes, callers are found while typing, nothing typed is lost.
import { ask, askLater, form, lookingUp } from "./price.js";

const KEEP_EVERY = 3000;
const PRICED_BY = /^(kind_of_work|coordinates|km|promise_.*|vehicle|make|model)$/;
let laidOutAt = performance.now();
const KEYS = { F2: "#id_phone", F8: "#price-rows input, #item_q" };

// Enter goes on: the fields of the way through a call, without those written only now and then.
function way() {
  const fields = [...form.querySelectorAll("input, select, textarea, [data-one-stop] button, #take")];
  return fields.filter(
    (field) =>
      field.type !== "hidden" &&
      !field.closest(".aside, [data-aside], #price, .slip-end") &&
      field.checkVisibility() &&
      (field.type !== "radio" || field.checked || isFirstOfNone(field)) &&
      (!field.closest("[data-one-stop]") || field === firstIn(field.closest("[data-one-stop]"))),
  );
}

function isFirstOfNone(radio) {
  const group = [...form.elements[radio.name]];
  return group[0] === radio && !group.some((each) => each.checked);
}

const firstIn = (list) => list.querySelector("button");

function goOn(from) {
  const after = way().find((field) => from.compareDocumentPosition(field) & Node.DOCUMENT_POSITION_FOLLOWING && isAnotherStop(field, from));
  after?.focus();
  if (after?.matches("input:not([type=radio], [type=checkbox])")) after.select();
}

function isAnotherStop(field, from) {
  if (field.type === "radio" && field.name === from.name) return false;
  const stop = from.closest("[data-one-stop]");
  return !stop || !stop.contains(field);
}

form.addEventListener("keydown", (event) => {
  if (event.defaultPrevented || event.isComposing) return;
  if (event.key === "Enter" && !event.altKey && !event.shiftKey) return enter(event);
  if (/^[1-9]$/.test(event.key) && !event.ctrlKey && !event.metaKey && !event.altKey) return tick(event);
  if (event.key === "Escape" && event.target.closest(".caller-number")) closeFound();
});

async function enter(event) {
  if (event.ctrlKey || event.metaKey) {
    event.preventDefault();
    document.querySelector("#take").click();
    return;
  }
  const { target } = event;
  if (target.closest("button, summary, a") || (target.tagName === "SELECT" && target.closest(".slip-end"))) return;
  event.preventDefault();
  if (target.id === "id_phone") {
    // Quicker than the search: wait for it, or a known caller would be written down as a new one.
    if (!form.elements.customer.value && target.value !== lookedUp) await lookUp(target.value);
    const found = form.querySelectorAll("#caller-found [data-customer]");
    if (found.length === 1) return found[0].click();
    closeFound();
  }
  if (target.closest("#price-rows")) return nextInRows(target);
  if (target.id === "item_q") return form.querySelector("#items-found button")?.click();
  goOn(target);
}

function nextInRows(target) {
  const fields = [...form.querySelectorAll("#price-rows input:not([type=hidden]), #id_is_accepted")];
  fields[fields.indexOf(target) + 1]?.focus();
}

// A digit ticks that box of the group in which the focus is, or presses that button of a row of buttons.
function tick(event) {
  const group = event.target.closest("[data-numbered]");
  if (!group || event.target.matches("input:not([type=radio]), textarea, select")) return;
  const choice = group.querySelectorAll("input[type=radio], button")[Number(event.key) - 1];
  if (!choice) return;
  event.preventDefault();
  choice.focus();
  choice.click();
}

document.addEventListener("keydown", (event) => {
  const wanted = !event.ctrlKey && !event.metaKey && !event.altKey && !event.shiftKey && KEYS[event.key];
  const field = wanted && document.querySelector(wanted);
  if (!field) return;
  event.preventDefault();
  field.focus();
  field.select();
});

// Rows of buttons are one stop of the Tab key; arrows walk inside.
function makeOneStop() {
  for (const list of form.querySelectorAll("[data-one-stop]")) {
    list.querySelectorAll("button").forEach((button, number) => (button.tabIndex = number ? -1 : 0));
  }
}

// Callers are found while typing.
let looking;
form.addEventListener("input", (event) => {
  if (event.target.id !== "id_phone" || form.elements.customer.value) return;
  clearTimeout(looking);
  looking = setTimeout(() => lookUp(event.target.value), 120);
});

const lookForCallers = lookingUp(form.dataset.callers, "#asks-caller", "#caller-found", "q");
let lookedUp = "";
async function lookUp(text) {
  clearTimeout(looking);
  lookedUp = text;
  if (text.trim().length < 2) closeFound();
  else await lookForCallers(text);
  // Chosen while the answer was under way.
  if (form.elements.customer.value) closeFound();
}

function closeFound() {
  document.querySelector("#caller-found")?.replaceChildren();
}

form.addEventListener("click", async (event) => {
  const caller = event.target.closest("#caller-found [data-customer]");
  const button = event.target.closest('button[name="do"]');
  if (caller) {
    event.preventDefault();
    clearTimeout(looking);
    await askWhole(`choose-${caller.dataset.customer}`);
    clearTimeout(looking);
    goOn(document.querySelector("#id_caller_name") ?? document.querySelector("#id_phone"));
  } else if (button?.value === "forget") {
    event.preventDefault();
    await askWhole("forget");
    document.querySelector(button.dataset.goto).focus();
  } else if (button && /^(place|when)-/.test(button.value)) {
    event.preventDefault();
    fill(button.dataset.minutes ? promiseOf(button) : button.dataset);
    goOn(document.querySelector(button.dataset.goto));
    askLater("price", 0);
  }
});

// The server does the same on a plain post; here the next key must not wait for it.
function fill(values) {
  for (const [name, value] of Object.entries(values)) {
    const field = form.elements[name];
    if (field) field.value = value;
  }
}

// From now, by the server's clock in the shop's zone, to the next five minutes, for so many minutes.
function promiseOf(button) {
  const { now, zone } = button.closest("[data-now]").dataset;
  const step = 5 * 60_000;
  const start = Math.ceil((now * 1000 + performance.now() - laidOutAt) / step) * step;
  const told = (time) => new Date(time).toLocaleString("sv-SE", { timeZone: zone }).split(" ");
  const [day, from] = told(start);
  const [, until] = told(start + button.dataset.minutes * 60_000);
  return { promise_day: day, promise_from: from.slice(0, 5), promise_until: until.slice(0, 5) };
}

const askWhole = (act) => ask(act, { target: "#slip" });

// A VIN is read while it is typed; a year that it offers is one press away.
let reading;
form.addEventListener("input", (event) => {
  if (event.target.id !== "id_vin") return;
  clearTimeout(reading);
  reading = setTimeout(() => readVin(event.target.value), 200);
});

const readVin = lookingUp(form.dataset.readVin, "#asks-vin", "#vin-read", "vin");

form.addEventListener("click", (event) => {
  const offer = event.target.closest("[data-fill]");
  const field = offer && form.elements[offer.dataset.fill];
  if (!field) return;
  field.value = offer.dataset.value;
  field.focus();
});

form.addEventListener("change", (event) => {
  if (PRICED_BY.test(event.target.name)) askLater("price", 0);
});

// The caution is said as well as shown.
form.addEventListener("change", (event) => {
  if (event.target.name !== "locked_in") return;
  document.querySelector("#locked-in").setAttribute("role", event.target.value === "nobody" ? "note" : "alert");
});

// What is typed is kept every few seconds, and once more as the page is left.
const say = (words) => (document.querySelector("#kept").textContent = words);
let keptAs = "";
let isSent = false;

const typed = () => {
  const data = new FormData(form);
  data.delete("do");
  return data;
};
const asText = (data) => new URLSearchParams([...data].filter(([name]) => !/^(csrf|line-|total|form_key)/.test(name))).toString();

async function keep() {
  const data = typed();
  const text = asText(data);
  if (isSent || text === keptAs) return;
  keptAs = text;
  try {
    const answer = await fetch(form.dataset.keep, { method: "POST", body: data, keepalive: true, redirect: "error" });
    if (!answer.ok) throw new Error(answer.status);
    say("Kept as typed.");
  } catch {
    keptAs = "";
    say("Not kept: no answer from the shop's computer. The call stays on this page.");
  }
}

function keepOnLeaving() {
  const data = typed();
  if (isSent || asText(data) === keptAs) return;
  navigator.sendBeacon(form.dataset.keep, data);
}

keptAs = asText(typed());
setInterval(keep, KEEP_EVERY);
window.addEventListener("pagehide", keepOnLeaving);
document.addEventListener("visibilitychange", () => document.hidden && keepOnLeaving());
window.addEventListener("submit", (event) => {
  if (event.target === form && !event.defaultPrevented) isSent = true;
});

// Back to a slip that was sent in: that call is a job by now, so begin with an empty one.
window.addEventListener("pageshow", (event) => {
  if (event.persisted && isSent) location.replace(form.getAttribute("action"));
});

document.addEventListener("htmx:afterSettle", (event) => {
  makeOneStop();
  if (event.detail.target.id === "slip") laidOutAt = performance.now();
});
makeOneStop();
if (!document.querySelector('[aria-invalid="true"]')) document.querySelector("#id_phone").focus();
