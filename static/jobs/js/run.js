// A procedure, one step at a time. The page holds all steps, so it goes on without signal; marks wait in the queue.
import { fault, isHard, readMeasured } from "./measure.js";
import { allowSound, call, keepLight } from "./run-call.js";
import { Queue } from "./run-queue.js";

const MARKED = ["measured", "reason", "note", "immobilizer_light", "alarm_light"];
const root = document.querySelector("[data-run]");
const next = document.querySelector("[data-next]");
const title = document.title;
// The server's clock and this phone's may differ; what the server told is moved by as much.
const skew = Date.now() - Number(root.dataset.now) * 1000;
const number = (text) => (text === "" || text === undefined ? null : Number(text));
const told = (seconds) => (seconds ? Number(seconds) * 1000 + skew : null);

const steps = [...root.querySelectorAll("[data-step]")].map((section) => ({
  id: section.dataset.step,
  section,
  form: section.querySelector("form"),
  kind: section.dataset.kind,
  seconds: number(section.dataset.seconds),
  neverStops: "neverStops" in section.dataset,
  asksLight: "light" in section.dataset,
  limits: {
    unit: section.dataset.unit,
    low: number(section.dataset.low),
    high: number(section.dataset.high),
    hardLow: number(section.dataset.hardLow),
    hardHigh: number(section.dataset.hardHigh),
    isSupply: "supply" in section.dataset,
  },
  server: {
    done: told(section.dataset.doneAt),
    measured: number(section.dataset.measured),
    begun: told(section.dataset.begunAt),
    reason: section.dataset.begunReason ?? "",
  },
}));
let again = new URLSearchParams(location.search).get("step");
let seen = null;

const queue = new Queue({
  run: root.dataset.run,
  address: root.dataset.mark,
  token: root.querySelector("input[name=csrfmiddlewaretoken]").value,
  changed: () => draw(),
  refused: (words) => say(words),
});

// What is known of each step: from the server, and from this phone, which knows better when it began a wait.
function stand() {
  const bad = [];
  return steps.map((step) => {
    const mine = queue.marks.filter((mark) => mark.step === step.id);
    const done = mine.findLast((mark) => !mark.is_begin);
    const begun = mine.find((mark) => mark.is_begin);
    const state = {
      step,
      isDone: Boolean(done) || step.server.done !== null,
      measured: done?.value ?? step.server.measured,
      begun: begun?.at ?? step.server.begun,
      reason: begun?.reason ?? step.server.reason,
      bad: step.neverStops ? [...bad] : [],
    };
    const words = step.kind === "measure" && state.measured !== null && fault(state.measured, step.limits);
    if (words) bad.push({ step, words, isHard: isHard(state.measured, step.limits) });
    state.allBad = bad;
    return state;
  });
}

const shownOf = (states) =>
  (again && states.find((each) => each.step.id === again && each.step.kind === "measure")) || states.find((each) => !each.isDone);
const overAt = (state) => (state.begun === null ? null : state.begun + state.step.seconds * 1000);
const isHeld = (state) => state.bad.length > 0 && !state.reason;

function say(words) {
  const box = root.querySelector("[data-refused]");
  box.hidden = !words;
  box.querySelector("p").textContent = words;
  if (words) box.scrollIntoView({ block: "nearest" });
}

function draw() {
  const states = stand();
  const shown = shownOf(states);
  for (const { step } of states) step.section.hidden = step !== shown?.step;
  root.querySelector("[data-all-done]").hidden = Boolean(shown);
  document.querySelector("[data-where]").textContent = shown ? `Step ${states.indexOf(shown) + 1} of ${states.length}` : "All steps done";
  drawBad(states[0].allBad, shown);
  if (shown) drawStop(shown);
  drawBottom(shown);
  drawLines(states);
  drawSignal();
  tick();
  if (seen !== null && seen !== shown?.step.id) shown?.step.section.querySelector("h2").focus();
  seen = shown?.step.id ?? "";
}

function drawBad(bad, shown) {
  const rows = bad.filter(({ step }) => step !== shown?.step).map(({ step, words }) => {
    const row = document.createElement("div");
    row.className = "warning";
    const text = document.createElement("p");
    const strong = document.createElement("strong");
    strong.textContent = `${words}. `;
    const button = document.createElement("button");
    button.className = "button";
    button.type = "button";
    button.textContent = "Measure again";
    button.addEventListener("click", () => { again = step.id; say(""); draw(); });
    text.append(strong, button);
    row.append(text);
    return row;
  });
  root.querySelector("[data-bad]").replaceChildren(...rows);
}

function drawStop(state) {
  const stop = state.step.section.querySelector("[data-stop]");
  if (!stop) return;
  const isFinal = state.bad.some((each) => each.isHard);
  stop.hidden = !isHeld(state);
  stop.querySelector("[data-reason]").hidden = isFinal;
  stop.querySelector("[data-stop-words]").textContent = isFinal
    ? "The supply lies outside the limits of this procedure. Mend that and measure again."
    : "What was measured lies outside its limits, and this step cannot be interrupted.";
}

function drawBottom(shown) {
  const end = document.querySelector("[data-end-main]");
  end.hidden = Boolean(shown);
  if (!next) return;
  next.hidden = !shown;
  if (!shown) return;
  next.setAttribute("form", shown.step.form.id);
  const isWaiting = shown.step.kind === "wait" && overAt(shown) !== null && Date.now() < overAt(shown);
  next.disabled = isWaiting || (isHeld(shown) && shown.bad.some((each) => each.isHard));
  next.textContent = shown.step.kind !== "wait" ? "Done" : shown.begun === null ? "Start the wait" : isWaiting ? "Wait" : "Done";
}

function drawLines(states) {
  for (const { step, isDone, measured } of states) {
    const words = !isDone ? "" : step.kind === "measure" && measured !== null ? `${measured} ${step.limits.unit}` : "Done";
    root.querySelector(`[data-line="${step.id}"] [data-line-mark]`).textContent = words;
  }
}

function drawSignal() {
  const line = document.querySelector("#signal");
  const count = queue.waiting;
  const steps = `${count} step${count === 1 ? "" : "s"}`;
  const isBusy = queue.isSending && !queue.trouble;
  const words = !count || (isBusy && count === 1) ? "" : isBusy ? `Sending ${steps}` : {
    signal: `${steps} waiting for signal`,
    "signed-out": `${steps} waiting: you are signed out. `,
    gone: `${steps} cannot be sent: this visit is yours no more. Call the office.`,
  }[queue.trouble] ?? "";
  if (line.textContent.trim() === words.trim() && queue.trouble !== "signed-out") return;
  line.textContent = words;
  if (!words || queue.trouble !== "signed-out") return;
  const link = document.createElement("a");
  link.href = root.dataset.signIn;
  link.textContent = "Sign in again";
  line.append(link);
}

const clock = (ms) => {
  const all = Math.ceil(ms / 1000);
  const [hours, minutes, seconds] = [Math.floor(all / 3600), Math.floor(all / 60) % 60, String(all % 60).padStart(2, "0")];
  return hours ? `${hours}:${String(minutes).padStart(2, "0")}:${seconds}` : `${minutes}:${seconds}`;
};

function overWords(ms) {
  const minutes = Math.floor(ms / 60000);
  if (minutes < 1) return "Over";
  return minutes < 60 ? `Over since ${minutes} min` : `Over since ${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}

// The wait ends at a moment, whatever this page slept through meanwhile.
function tick() {
  const shown = shownOf(stand());
  const until = shown?.step.kind === "wait" ? overAt(shown) : null;
  if (until === null) {
    document.title = title;
    if (shown?.step.kind === "wait") shown.step.section.querySelector("[data-clock]").textContent = clock(shown.step.seconds * 1000);
    return;
  }
  const left = until - Date.now();
  const [face, over] = ["[data-clock]", "[data-over]"].map((name) => shown.step.section.querySelector(name));
  face.textContent = clock(Math.max(0, left));
  over.hidden = left > 0;
  over.textContent = left > 0 ? "" : overWords(-left);
  document.title = left > 0 ? `${clock(left)} · ${title}` : `${overWords(-left)} · ${title}`;
  if (left > 0) return;
  if (next.disabled || next.textContent === "Wait") drawBottom(shown);
  if (queue.kept.called.includes(shown.step.id)) return;
  queue.kept.called.push(shown.step.id);
  queue.save();
  call();
}

// What is typed is checked here, since the server may be out of reach; it checks again.
function check(state, facts) {
  const { step } = state;
  if (isHeld(state) && (state.bad.some((each) => each.isHard) || !facts.reason)) return "Measure again, or say why you go on.";
  if (facts.is_begin) return "";
  if (step.kind === "measure") {
    const read = readMeasured(facts.measured, step.limits);
    if (read.doubt) return read.doubt;
    facts.value = read.value;
  }
  if (step.asksLight && !facts.immobilizer_light) return "Say what the immobilizer's light does.";
  return "";
}

function submit(event) {
  event.preventDefault();
  const state = shownOf(stand());
  if (!state || state.step.form !== event.target || next.disabled) return;
  const sent = new FormData(event.target);
  const facts = { step: state.step.id, ...Object.fromEntries(MARKED.map((name) => [name, String(sent.get(name) ?? "").trim()])) };
  if (state.step.kind === "wait" && state.begun === null) facts.is_begin = "1";
  const words = check(state, facts);
  say(words);
  if (words) {
    event.target.querySelector(".run-value, [name=reason]")?.focus();
    return;
  }
  allowSound();
  if (facts.is_begin) keepLight();
  again = null;
  event.target.reset();
  event.target.querySelectorAll("details[open]").forEach((fold) => { fold.open = false; });
  queue.add(facts);
}

// The end is written down by the server, so everything before it must have arrived.
async function end(event) {
  event.preventDefault();
  const { href } = event.currentTarget;
  await queue.send();
  const answer = queue.waiting ? null : await fetch(href, { method: "HEAD", redirect: "manual" }).catch(() => null);
  if (answer) location.assign(href);
  else say("Without signal the end cannot be kept yet. The steps are safe on this phone.");
}

for (const step of steps) step.form.addEventListener("submit", submit);
for (const link of document.querySelectorAll("[data-end]")) link.addEventListener("click", end);
setInterval(tick, 250);
document.addEventListener("visibilitychange", tick);
draw();
queue.send();
