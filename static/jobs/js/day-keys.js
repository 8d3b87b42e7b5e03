// Placing a visit by keyboard: B on a call, M on a visit, arrows, + and −, Enter or Escape.
import { drop } from "./day-drag.js";
import { isBusy, keepInSight, letGo, take } from "./day-fresh.js";
import { columns, diary, drawGhost, facts, lift, likelyStart, pageMinutes, removeGhost, say, sayUsual, SNAP, snapped } from "./day-page.js";

let placing = null;

const STEPS = {
  ArrowUp: (place) => ({ ...place, start: earlier(place.start) }),
  ArrowDown: (place) => ({ ...place, start: later(place.start) }),
  ArrowLeft: (place) => ({ ...place, column: beside(place.column, -1) }),
  ArrowRight: (place) => ({ ...place, column: beside(place.column, 1) }),
  "+": (place) => ({ ...place, length: snapped(place.length) + SNAP }),
  "=": (place) => ({ ...place, length: snapped(place.length) + SNAP }),
  "-": (place) => ({ ...place, length: Math.max(SNAP, snapped(place.length) - SNAP) }),
};

const earlier = (minute) => Math.ceil(minute / SNAP) * SNAP - SNAP;
const later = (minute) => Math.floor(minute / SNAP) * SNAP + SNAP;

function beside(column, step) {
  const all = columns();
  return all[Math.min(Math.max(all.indexOf(column) + step, 0), all.length - 1)];
}

export function startKeys() {
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    if (placing) return place(event);
    const element = document.activeElement?.closest("[data-call], .visit[data-visit]") || chosen();
    if (!element || isBusy() || !diary()) return;
    const key = event.key.toLowerCase();
    if (key === "b" && "call" in element.dataset) begin(event, element);
    else if (key === "m" && element.dataset.visit) begin(event, element);
    else if (event.key.startsWith("Arrow")) walk(event, element);
  }, true);
  document.addEventListener("focusin", (event) => placing && event.target !== placing.carried.element && leave());
}

// With the focus nowhere, as after a call is taken, the keys are for the chosen one.
function chosen() {
  if (document.activeElement && document.activeElement !== document.body) return null;
  return document.querySelector(".ticket-chosen[data-call], .visit-chosen[data-visit]");
}

function begin(event, element) {
  event.preventDefault();
  event.stopPropagation();
  const carried = facts(element);
  if (!carried.can) return say(`Job ${carried.job} can no longer be moved.`, true);
  const column = carried.column || columns().find((each) => each.dataset.from !== undefined) || columns()[0];
  const start = carried.visit ? carried.start : likelyStart(carried);
  placing = { carried, place: { column, start, length: carried.length, isSameStart: true }, onlyEnd: carried.can === "end" };
  take();
  lift(carried);
  draw();
}

function place(event) {
  event.stopPropagation();
  if (event.key === "Tab") return leave();
  event.preventDefault();
  if (event.key === "Escape") return leave();
  if (event.key === "Enter") return finish();
  const step = STEPS[event.key];
  if (!step) return;
  if (placing.onlyEnd && event.key.startsWith("Arrow")) return say("This visit is under way: only its end can change, with + and −.", true);
  const wanted = step(placing.place);
  const last = Math.max(pageMinutes() - wanted.length, 0);
  if (wanted.start !== placing.place.start) wanted.isSameStart = false;
  placing.place = { ...wanted, start: placing.onlyEnd ? wanted.start : Math.max(0, Math.min(wanted.start, last)) };
  draw();
}

function draw() {
  drawGhost(placing.carried, placing.place);
  const ghost = document.querySelector(".visit-ghost");
  if (ghost) keepInSight(ghost);
}

async function finish() {
  const { carried, place: chosen } = placing;
  end();
  await drop(carried, chosen);
  const now = document.querySelector(`.visit[data-job="${CSS.escape(carried.job)}"]`);
  (now || document.getElementById(carried.element.id))?.focus();
}

function leave() {
  const { carried } = placing;
  end();
  removeGhost();
  sayUsual(`Left job ${carried.job} where it was.`);
}

function end() {
  placing = null;
  letGo();
}

// Arrow keys go from block to block: up and down in a column, left and right to the nearest in time.
function walk(event, element) {
  const column = element.closest(".diary-column");
  const isCall = "call" in element.dataset;
  if (isCall && event.key === "ArrowRight") return goTo(event, firstInDiary());
  if (isCall) return goTo(event, sibling([...document.querySelectorAll("[data-call]")], element, event.key));
  if (!column) return;
  if (event.key === "ArrowUp" || event.key === "ArrowDown") {
    return goTo(event, sibling(blocks(column), element, event.key));
  }
  goTo(event, nearest(column, element, event.key === "ArrowLeft" ? -1 : 1));
}

const blocks = (column) => [...column.querySelectorAll(".visit[data-visit]")];
const firstInDiary = () => document.querySelector(".visit[data-visit]");

function sibling(list, element, key) {
  return list[list.indexOf(element) + (key === "ArrowUp" ? -1 : key === "ArrowDown" ? 1 : list.length)];
}

function nearest(column, element, step) {
  const all = columns();
  const start = Number(element.dataset.start);
  for (let at = all.indexOf(column) + step; at >= 0 && at < all.length; at += step) {
    const found = blocks(all[at]).sort((a, b) => Math.abs(a.dataset.start - start) - Math.abs(b.dataset.start - start));
    if (found.length) return found[0];
  }
  return step < 0 ? document.querySelector("[data-call]") : null;
}

function goTo(event, element) {
  if (!element) return;
  event.preventDefault();
  event.stopPropagation();
  element.focus({ preventScroll: true });
  if (element.dataset.visit) keepInSight(element);
  else element.scrollIntoView({ block: "nearest" });
}
