// Reading the drawn page: what stands where, and what a place for a visit would break.
export const SNAP = 15;
const ROW = 5;

export const diary = () => document.querySelector(".diary");
export const scroller = () => document.getElementById("diary-scroll");
export const columns = () => [...document.querySelectorAll(".diary-column")];
const number = (element, name) => (element.dataset[name] === undefined ? null : Number(element.dataset[name]));
export const pageMinutes = () => Number(diary().dataset.rows) * ROW;

export function facts(element) {
  // What is carried: a waiting call, or a visit of the diary.
  const column = element.closest(".diary-column");
  const mine = [...element.querySelectorAll(".visit-kind, .ticket-body strong")].map((each) => each.textContent.trim());
  return {
    element,
    job: element.dataset.job,
    visit: element.dataset.visit || null,
    kind: mine[0] || "",
    can: "call" in element.dataset ? "move" : element.dataset.can || "",
    seen: element.dataset.seen || "",
    column,
    start: number(element, "start"),
    length: number(element, "length"),
    until: number(element, "until"),
  };
}

// The clock of the wall for a minute of the page: read off the printed hours, which know when the clocks change.
export function clock(minute) {
  const row = Math.floor(minute / ROW);
  const hours = [...document.querySelectorAll(".diary-hour")];
  const hour = hours.findLast((each) => Number(each.dataset.at) <= row) || hours[0];
  const printed = Number(hour.firstChild.textContent);
  const past = minute - Number(hour.dataset.at) * ROW;
  const total = ((printed * 60 + past) % 1440 + 1440) % 1440;
  return `${String(Math.floor(total / 60)).padStart(2, "0")}:${String(total % 60).padStart(2, "0")}`;
}

export const moment = (minute) => new Date(Number(diary().dataset.startMs) + minute * 60000).toISOString();
export const snapped = (minute) => Math.round(minute / SNAP) * SNAP;

// Where to begin when a waiting call is taken up by key: its promise, else the next quarter of an hour.
export function likelyStart(carried) {
  const from = number(carried.element, "from");
  const now = number(diary(), "now");
  const soonest = now === null ? 0 : Math.ceil(now / SNAP) * SNAP;
  const start = from === null ? soonest : Math.max(soonest, from);
  return Math.max(0, Math.min(snapped(start), pageMinutes() - carried.length));
}

// Hints only: the server decides. Each is said before anything is dropped.
export function breaks(carried, place) {
  const end = place.start + place.length;
  const said = [];
  for (const other of place.column.querySelectorAll(".visit[data-visit]")) {
    if (other.dataset.visit === carried.visit) continue;
    const start = Number(other.dataset.start);
    if (place.start < start + Number(other.dataset.length) && start < end) said.push(`overlaps job ${other.dataset.job}`);
  }
  const from = number(place.column, "from");
  const until = number(place.column, "until");
  if (from === null) said.push("not on shift");
  else if (place.start < from) said.push("before the shift");
  else if (end > until) said.push(`ends ${end - until} min after the shift`);
  if (carried.until !== null && place.start > carried.until) said.push(`${place.start - carried.until} min after the promise`);
  const now = number(diary(), "now");
  if (now !== null && place.start < now - SNAP && !place.isSameStart) said.push("in the past");
  return said;
}

export function describe(place) {
  return `${place.column.dataset.name}, ${clock(place.start)} to ${clock(place.start + place.length)}`;
}

// The dashed block where the visit would stand.
export function drawGhost(carried, place) {
  const ghost = document.querySelector(".visit-ghost") || document.createElement("div");
  const broken = breaks(carried, place);
  ghost.className = `visit visit-ghost${broken.length ? " visit-refused" : ""}`;
  const first = Math.max(0, Math.round(place.start / ROW));
  ghost.dataset.at = first;
  ghost.dataset.for = Math.max(1, Math.round((place.start + place.length) / ROW) - first);
  const times = document.createElement("strong");
  times.textContent = `${clock(place.start)}–${clock(place.start + place.length)}`;
  const what = document.createElement("span");
  what.textContent = [`${carried.job} ${carried.kind}`, ...broken].join(", ");
  ghost.replaceChildren(times, what);
  if (ghost.parentElement !== place.column) place.column.append(ghost);
  say(broken.length ? `${describe(place)}: ${broken.join(", ")}.` : `${describe(place)}.`, broken.length > 0);
}

export function removeGhost() {
  document.querySelectorAll(".visit-ghost").forEach((ghost) => ghost.remove());
  document.querySelectorAll(".visit-lifted, .call-lifted").forEach((each) => {
    each.classList.remove("visit-lifted", "call-lifted");
  });
}

export function lift(carried) {
  carried.element.classList.add(carried.visit ? "visit-lifted" : "call-lifted");
}

const saying = document.getElementById("say");
const usual = saying?.innerHTML;

export function say(words, isBroken = false) {
  if (saying.textContent === words) return;
  saying.textContent = words;
  saying.classList.add("day-say-now");
  saying.classList.toggle("day-say-breaks", isBroken);
  document.getElementById("say-aloud").textContent = words;
}

export function sayUsual(aloud = "") {
  saying.innerHTML = usual;
  saying.classList.remove("day-say-now", "day-say-breaks");
  document.getElementById("say-aloud").textContent = aloud;
}

// Opens the page with the hour now in sight.
export function showNow() {
  const line = document.querySelector(".diary-hours .now-line");
  if (!line) return;
  const pane = scroller();
  const top = line.getBoundingClientRect().top - pane.getBoundingClientRect().top;
  pane.scrollTop += top - pane.clientHeight / 3;
}
