// The keyboard at the desk: one letter goes to a place, arrows go through a list, Escape closes.
const typing = (element) => element.closest("input, select, textarea, [contenteditable]");

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
  if (event.key === "Escape") return leave(event);
  if (event.key === "ArrowDown" || event.key === "ArrowUp") return walk(event);
  if (event.key.length === 1 && !typing(event.target) && !document.querySelector("dialog[open]")) press(event);
});

// `data-key="c"` on a link or button: that letter presses it, on a field: goes there.
function press(event) {
  const wanted = [...document.querySelectorAll(`[data-key="${CSS.escape(event.key.toLowerCase())}"]`)];
  const found = wanted.find((element) => element.checkVisibility());
  if (!found) return;
  event.preventDefault();
  if (typing(found)) found.focus();
  else found.click();
}

// `data-walk` on a list: arrow keys go from one link or button to the next; from a field with
// `data-walk-into="#list"` the down arrow enters the list.
function walk(event) {
  const down = event.key === "ArrowDown";
  const into = event.target.dataset.walkInto;
  if (into && down) return goTo(stepsIn(document.querySelector(into))[0], event);
  const list = event.target.closest("[data-walk]");
  if (!list || typing(event.target)) return;
  const steps = stepsIn(list);
  const next = steps.indexOf(event.target) + (down ? 1 : -1);
  if (next < 0) goTo(document.querySelector(`[data-walk-into="#${list.id}"]`), event);
  else goTo(steps[next], event);
}

function stepsIn(list) {
  return list ? [...list.querySelectorAll("a[href], button:not([disabled]), input[type=radio]")] : [];
}

function goTo(element, event) {
  if (!element) return;
  event.preventDefault();
  element.focus();
}

function leave(event) {
  const close = event.target.closest("[data-side]")?.querySelector("[data-close]");
  if (close) close.click();
}

// `data-opens="id"` shows that dialog; `data-close` inside one closes it.
document.addEventListener("click", (event) => {
  const opener = event.target.closest("[data-opens]");
  if (opener) document.getElementById(opener.dataset.opens)?.showModal();
  const closer = event.target.closest("dialog [data-close]");
  if (closer) closer.closest("dialog").close();
  if (event.target.closest("[data-print]")) window.print();
});
