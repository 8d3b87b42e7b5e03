// Keeping the page as the day really is: parts are replaced only when they changed, and never under somebody's hands.
import { connection, listen } from "../../shop/js/live.js";
import { scroller } from "./day-page.js";

// News comes by itself; the clock (minutes late, the line at now) moves on with this, and it carries on without news.
const EVERY_MS = 20000;
const day = document.getElementById("day");
// Marks what the page asked for by itself, so that its answer never replaces a form that somebody is typing into.
const UNASKED = "X-Unasked";
let hands = 0;
let isBackground = false;

// While a visit is being carried nothing is replaced.
export const isBusy = () => hands > 0;
export function take() {
  hands += 1;
}
export function letGo() {
  hands = Math.max(0, hands - 1);
}

const address = () => day.dataset.url + (day.dataset.chosen ? `?job=${day.dataset.chosen}` : "");

export async function refresh({ chosen = false } = {}) {
  const headers = chosen ? {} : { [UNASKED]: "1" };
  await window.htmx.ajax("GET", address(), { source: day, swap: "none", headers });
}

export async function choose(number) {
  day.dataset.chosen = number;
  history.pushState(null, "", address());
  mark(number);
  await refresh({ chosen: true });
  const panel = document.getElementById("chosen");
  if (getComputedStyle(document.querySelector(".day-jumps")).display !== "none") panel.scrollIntoView();
  panel.querySelector(".day-scroll").scrollTop = 0;
}

function mark(number) {
  document.querySelectorAll(".visit-chosen").forEach((each) => each.classList.remove("visit-chosen"));
  document.querySelectorAll(".ticket-chosen").forEach((each) => each.classList.remove("ticket-chosen"));
  for (const each of document.querySelectorAll(`[data-job="${CSS.escape(number)}"]`)) {
    each.classList.add("call" in each.dataset ? "ticket-chosen" : "visit-chosen");
  }
}

// Sends what was dropped and answers whether it stands. A refusal comes back with the page as it really is.
export async function send(url, values) {
  // Only the last thing done can be taken back here.
  document.querySelectorAll(".toast:not(.toast-refused)").forEach((toast) => toast.remove());
  const sent = { ...values, day: day.dataset.day, job: day.dataset.chosen || "", by_hand: "1" };
  // Not from the element that fetches, where it would wait for a fetch under way.
  await window.htmx.ajax("POST", url, { source: document.getElementById("diary"), swap: "none", values: sent });
}

function isInUse(part) {
  if (part.querySelector("form[data-typed]")) return true;
  const active = document.activeElement;
  return part.contains(active) && active.matches("input:not([type=hidden]), select, textarea");
}

export function startRefreshing() {
  document.addEventListener("input", (event) => {
    const form = event.target.closest("#part-chosen form");
    if (form) form.dataset.typed = "";
  });

  document.addEventListener("htmx:oobBeforeSwap", (event) => {
    const { target, fragment } = event.detail;
    if (!target.classList?.contains("day-part")) return;
    const fresh = fragment.querySelector?.(`#${target.id}`) || fragment.firstElementChild;
    const isSame = fresh?.dataset.version === target.dataset.version;
    if (isBusy() && target.id !== "part-tally") event.detail.shouldSwap = false;
    else if (target.id !== "part-chosen") event.detail.shouldSwap = !isSame;
    else if (isBackground) event.detail.shouldSwap = !isSame && !isInUse(target);
  });

  // Several answers may be under way at once; each is taken in for what it was asked as.
  document.addEventListener("htmx:beforeSwap", (event) => {
    isBackground = UNASKED in (event.detail.requestConfig?.headers || {});
  });

  // A refused form comes back with its fault; the focus goes there.
  document.addEventListener("htmx:afterSettle", (event) => {
    if (event.detail.xhr?.status === 422) document.querySelector('#part-chosen [aria-invalid="true"]')?.focus();
  });

  // What comes while a visit is carried is not lost: the page looks again as soon as the hands are free.
  const look = () => {
    if (document.hidden) return;
    if (isBusy()) setTimeout(look, 300);
    else refresh();
  };
  listen(look);
  setInterval(() => connection.isLive && look(), EVERY_MS);
  document.addEventListener("visibilitychange", () => {
    if (!document.hidden && !isBusy()) refresh();
  });
}

export function keepInSight(element) {
  const pane = scroller().getBoundingClientRect();
  const box = element.getBoundingClientRect();
  if (box.top < pane.top + 60) scroller().scrollTop += box.top - pane.top - 60;
  else if (box.bottom > pane.bottom) scroller().scrollTop += box.bottom - pane.bottom + 8;
  if (box.left < pane.left + 56) scroller().scrollLeft += box.left - pane.left - 56;
  else if (box.right > pane.right) scroller().scrollLeft += box.right - pane.right + 8;
}
