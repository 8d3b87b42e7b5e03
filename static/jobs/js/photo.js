// Shows the photo before it is kept. Nothing is sent until the button is pressed.
const form = document.querySelector("[data-photo]");
const seen = document.querySelector("[data-photo-seen]");
let shown = "";

form?.querySelector("input[type=file]").addEventListener("change", (event) => {
  if (shown) URL.revokeObjectURL(shown);
  const [file] = event.target.files;
  shown = file ? URL.createObjectURL(file) : "";
  seen.hidden = !shown;
  if (shown) seen.src = shown;
  else seen.removeAttribute("src");
});

seen?.addEventListener("error", () => (seen.hidden = true));
