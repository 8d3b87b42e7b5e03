// The round keeps itself fresh: what the office changes shows without a touch.
import { connection, listen } from "../../shop/js/live.js";

const EVERY_MS = 60000;

async function look() {
  if (document.hidden) return;
  const answer = await fetch(location.href, { headers: { Accept: "text/html" } }).catch(() => null);
  if (!answer?.ok || answer.redirected) return;
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html");
  for (const part of ["#main", ".bottom-bar"]) {
    const [old, now] = [document.querySelector(part), fresh.querySelector(part)];
    if (old && now && !old.contains(document.activeElement)) old.replaceWith(document.importNode(now, true));
    else if (now && !old) document.querySelector("#main").after(document.importNode(now, true));
    else if (old && !now) old.remove();
  }
}

listen(look);
setInterval(() => connection.isLive && look(), EVERY_MS);
