// The day sheet at work: choosing a job, keeping the page fresh, and the two ways to place a visit.
import { startDragging } from "./day-drag.js";
import { startKeys } from "./day-keys.js";
import { choose, isBusy, refresh, send, startRefreshing } from "./day-fresh.js";
import { showNow } from "./day-page.js";

const day = document.getElementById("day");

if (day) {
  startDragging();
  startKeys();
  startRefreshing();
  showNow();
}

// A click on a call or a visit changes only the chosen job; the address stays one that can be kept and sent on.
document.addEventListener("click", (event) => {
  if (!day || event.defaultPrevented || event.ctrlKey || event.metaKey || event.shiftKey) return;
  const link = event.target.closest("a[data-job]");
  if (!link) return;
  event.preventDefault();
  if (!isBusy()) choose(link.dataset.job);
});

window.addEventListener("popstate", () => {
  if (!day) return;
  day.dataset.chosen = new URLSearchParams(location.search).get("job") || "";
  refresh({ chosen: true });
});

// Undo on a toast, without leaving the page.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!day || !form.closest(".toast")) return;
  event.preventDefault();
  send(form.getAttribute("action"), Object.fromEntries(new FormData(form)));
  form.closest(".toast").remove();
});
