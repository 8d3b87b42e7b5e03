// A year that the VIN suggests is put into the form's field by a press.
document.addEventListener("click", (event) => {
  const button = event.target.closest("[data-fill]");
  const field = button?.form?.elements[button.dataset.fill];
  if (!field) return;
  field.value = button.dataset.value;
  field.focus();
});
