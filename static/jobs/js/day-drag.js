// Placing a visit by pointer: mouse, pen or finger. A finger holds still a moment first, so that it can still scroll.
import { isBusy, letGo, send, take } from "./day-fresh.js";
import { columns, diary, drawGhost, facts, lift, pageMinutes, removeGhost, sayUsual, scroller, snapped, moment } from "./day-page.js";

const THRESHOLD = 6;
const HOLD_MS = 320;
const EDGE = 48;
const SMALLEST = 15;

let pressed = null;
let held = null;
let isDropped = false;

export function startDragging() {
  document.addEventListener("pointerdown", press);
  document.addEventListener("pointermove", move);
  document.addEventListener("pointerup", release);
  document.addEventListener("pointercancel", cancel);
  document.addEventListener("dragstart", (event) => event.target.closest?.("[data-job]") && event.preventDefault());
  // Once lifted, a finger carries instead of scrolling.
  document.addEventListener("touchmove", (event) => held && event.preventDefault(), { passive: false });
  document.addEventListener("contextmenu", (event) => (held || pressed?.byTouch) && event.preventDefault());
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || !held) return;
    event.preventDefault();
    cancel();
  }, true);
  // The click that ends a drag is not a choice.
  document.addEventListener("click", (event) => {
    if (!isDropped) return;
    event.preventDefault();
    event.stopPropagation();
    isDropped = false;
  }, true);
}

function press(event) {
  isDropped = false;
  const element = event.target.closest("[data-call], .visit[data-can]");
  if (!element || event.button !== 0 || isBusy() || !diary()) return;
  const foot = event.target.closest("[data-foot]");
  const carried = facts(element);
  if (!foot && carried.can !== "move") return;
  pressed = { carried, isEnd: Boolean(foot), x: event.clientX, y: event.clientY, id: event.pointerId, byTouch: event.pointerType === "touch" };
  const box = element.getBoundingClientRect();
  pressed.grip = carried.visit && !foot ? event.clientY - box.top : 0;
  if (pressed.byTouch && !foot) pressed.timer = setTimeout(() => pressed && pickUp(), HOLD_MS);
}

function move(event) {
  if (pressed && !held && event.pointerId === pressed.id) {
    const far = Math.hypot(event.clientX - pressed.x, event.clientY - pressed.y) > THRESHOLD;
    if (!far) return;
    if (pressed.byTouch && !pressed.isEnd) return forget();
    pickUp();
  }
  if (!held || event.pointerId !== held.id) return;
  held.x = event.clientX;
  held.y = event.clientY;
  follow();
}

function pickUp() {
  clearTimeout(pressed.timer);
  held = pressed;
  pressed = null;
  take();
  lift(held.carried);
  document.getSelection()?.removeAllRanges();
  if (held.byTouch) navigator.vibrate?.(15);
  held.roll = setInterval(rollAtEdges, 40);
}

function rowHeight() {
  const column = columns()[0].getBoundingClientRect();
  return column.height / pageMinutes();
}

function follow() {
  const { carried } = held;
  const over = columns().find((each) => {
    const box = each.getBoundingClientRect();
    return held.x >= box.left && held.x < box.right;
  });
  const pane = scroller().getBoundingClientRect();
  const isInside = held.y >= pane.top && held.y <= pane.bottom && held.x >= pane.left && held.x <= pane.right;
  if (held.isEnd) return stretch();
  if (!over || !isInside) {
    held.place = null;
    return hideGhost();
  }
  const minute = (held.y - held.grip - over.getBoundingClientRect().top) / rowHeight();
  const start = Math.max(0, Math.min(snapped(minute), pageMinutes() - Math.min(carried.length, pageMinutes())));
  held.place = { column: over, start, length: carried.length };
  drawGhost(carried, held.place);
}

function stretch() {
  const { carried } = held;
  const minute = (held.y - carried.column.getBoundingClientRect().top) / rowHeight();
  const end = Math.min(snapped(minute), pageMinutes());
  const length = Math.max(SMALLEST, end - carried.start);
  held.place = { column: carried.column, start: carried.start, length, isSameStart: true };
  drawGhost(carried, held.place);
}

function hideGhost() {
  document.querySelectorAll(".visit-ghost").forEach((ghost) => ghost.remove());
  sayUsual();
}

function rollAtEdges() {
  const pane = scroller();
  const box = pane.getBoundingClientRect();
  if (held.x === undefined || held.x < box.left || held.x > box.right) return;
  const before = [pane.scrollTop, pane.scrollLeft];
  if (held.y < box.top + EDGE) pane.scrollTop -= 10;
  else if (held.y > box.bottom - EDGE) pane.scrollTop += 10;
  if (held.place && held.x < box.left + EDGE) pane.scrollLeft -= 10;
  else if (held.x > box.right - EDGE) pane.scrollLeft += 10;
  if (before[0] !== pane.scrollTop || before[1] !== pane.scrollLeft) follow();
}

function release(event) {
  forget();
  if (!held || event.pointerId !== held.id) return;
  const { carried, place } = held;
  isDropped = true;
  setTimeout(() => (isDropped = false), 0);
  end();
  if (place && !isUnchanged(carried, place)) drop(carried, place);
  else removeGhost();
}

function isUnchanged(carried, place) {
  return carried.visit && place.column === carried.column && place.start === carried.start && place.length === carried.length;
}

export async function drop(carried, place) {
  const url = carried.visit ? `/visits/${carried.visit}/move` : `/jobs/${carried.job}/book`;
  const values = { technician: place.column.dataset.technician, start: moment(place.start), minutes: place.length };
  if (carried.visit) values.seen = carried.seen;
  document.querySelector(".visit-ghost")?.classList.add("visit-sent");
  try {
    await send(url, values);
  } finally {
    removeGhost();
    sayUsual();
  }
}

function forget() {
  if (pressed) clearTimeout(pressed.timer);
  pressed = null;
}

function cancel() {
  forget();
  if (!held) return;
  isDropped = true;
  end();
  removeGhost();
}

function end() {
  clearInterval(held.roll);
  held = null;
  letGo();
  sayUsual();
}
