// Minus and plus beside a number; without script the number is typed.
function ready(stepper) {
  stepper.querySelectorAll("[data-step]").forEach((button) => (button.hidden = false));
}

document.querySelectorAll("[data-stepper]").forEach(ready);
document.addEventListener("htmx:load", (event) => event.detail.elt.querySelectorAll("[data-stepper]").forEach(ready));

document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-step]");
  if (!button) return;
  const stepper = button.closest("[data-stepper]");
  const number = stepper.querySelector("input");
  const least = Number(stepper.dataset.least);
  const now = Number.parseInt(number.value, 10);
  number.value = Math.max(least, (Number.isNaN(now) ? least : now) + Number(button.dataset.step));
});
