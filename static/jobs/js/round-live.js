// The round keeps itself fresh: what the office changes shows without a touch. A part that did not change is left alone,
// so that nothing moves under a thumb.
import { connection, listen } from "../../shop/js/live.js";

const EVERY_MS = 60000;
const PARTS = ["#main", ".bottom-bar"];
// Different on every load, and no news.
const KEYS = "input[name=form_key], input[name=csrfmiddlewaretoken]";

function plain(part) {
  const copy = part.cloneNode(true);
  copy.querySelectorAll(KEYS).forEach((each) => each.remove());
  copy.querySelectorAll("details").forEach((each) => each.removeAttribute("open"));
  copy.querySelector("#live-line")?.remove();
  return copy.innerHTML;
}

function replace(old, fresh) {
  if (plain(old) === plain(fresh) || old.matches(":active") || old.querySelector(":active")) return;
  const opened = [...old.querySelectorAll("details")].map((each) => each.open);
  const made = document.importNode(fresh, true);
  made.querySelectorAll("details").forEach((each, place) => (each.open = opened[place] || each.open));
  old.replaceWith(made);
}

async function look() {
  if (document.hidden) return;
  const answer = await fetch(location.href, { headers: { Accept: "text/html" } }).catch(() => null);
  if (!answer?.ok || answer.redirected) return;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const part of PARTS) {
    const [old, fresh] = [document.querySelector(part), page.querySelector(part)];
    if (old && fresh) replace(old, fresh);
    else if (fresh) document.querySelector("#main").after(document.importNode(fresh, true));
    else old?.remove();
  }
}

listen(look);
setInterval(() => connection.isLive && look(), EVERY_MS);
