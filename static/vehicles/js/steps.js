// A row that was just added or moved is where the focus goes on; without this the page begins at its top again.
const form = document.querySelector("#procedure");
const KEY = "step-acted-on";

form.addEventListener("submit", (event) => {
  const [verb, number] = (event.submitter?.value ?? "").split("-");
  const at = { add: Number(number) + 1, up: Number(number) - 1, down: Number(number) + 1, remove: Number(number) - 1 }[verb];
  if (at === undefined) sessionStorage.removeItem(KEY);
  else sessionStorage.setItem(KEY, String(Math.max(1, at)));
});

const wrong = form.querySelector('[aria-invalid="true"]');
const acted = sessionStorage.getItem(KEY);
sessionStorage.removeItem(KEY);
if (wrong && !acted) wrong.focus();
else if (acted) document.getElementById(`${acted}-words`)?.focus();
