// News from the shop's computer while a page is open: `listen(heard)` calls `heard` soon after something changed anywhere,
// and once after every gap in which something may have been missed. A lost connection is said in words and mended by itself.
const SOON_MS = 120;
const AGAIN_MS = 3000;
// A hidden page lets go: browsers allow few connections to one place, and nobody is looking.
const HIDDEN_MS = 20000;

export const connection = { isLive: false };

export function listen(heard) {
  let source = null;
  let soon = 0;
  let again = 0;
  let hiding = 0;

  const tell = () => {
    clearTimeout(soon);
    soon = setTimeout(heard, SOON_MS);
  };
  const say = (isLive) => {
    connection.isLive = isLive;
    // Looked up each time: the page around it may have been replaced.
    const line = document.getElementById("live-line");
    if (line) line.hidden = isLive;
  };
  const close = () => {
    clearTimeout(again);
    source?.close();
    source = null;
    connection.isLive = false;
  };
  const open = () => {
    close();
    source = new EventSource("/live");
    source.onopen = () => say(true);
    source.onmessage = tell;
    source.onerror = () => {
      say(false);
      // The browser tries again by itself, except after an answer that is no stream.
      if (source?.readyState === EventSource.CLOSED) again = setTimeout(open, AGAIN_MS);
    };
  };

  document.addEventListener("visibilitychange", () => {
    clearTimeout(hiding);
    if (document.hidden) hiding = setTimeout(close, HIDDEN_MS);
    else if (!source) open();
  });
  window.addEventListener("pagehide", close);
  window.addEventListener("pageshow", (event) => event.persisted && open());
  open();
}
