// Marks made on this phone, kept until the server has them. They are sent one after the other, in the order made; each
// carries an id made here, so that one sent twice is taken in once. No codes and no cuts are among them.
const RETRY_MS = 5000;

function newId() {
  // randomUUID needs a secure page; a shop may well use plain http inside its own walls.
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

export class Queue {
  // `changed` is told after every change; `trouble` is "", "signal", "signed-out" or "gone"; `refused` gets words.
  constructor({ run, address, token, changed, refused }) {
    Object.assign(this, { key: `procedure-run-${run}`, address, token, changed, refused, trouble: "", sending: null });
    this.kept = this.#read();
    this.#forgetOthers();
    setInterval(() => this.waiting && this.send(), RETRY_MS);
    window.addEventListener("online", () => this.send());
    document.addEventListener("visibilitychange", () => document.hidden || this.send());
  }

  get marks() {
    return this.kept.marks;
  }

  get waiting() {
    return this.marks.filter((mark) => !mark.isSent).length;
  }

  add(facts) {
    this.marks.push({ id: newId(), at: Date.now(), isSent: false, ...facts });
    this.save();
    this.changed();
    return this.send();
  }

  save() {
    try {
      localStorage.setItem(this.key, JSON.stringify(this.kept));
    } catch {
      // Full or forbidden: the marks still go out from memory.
    }
  }

  // Whoever asks while a sending is under way waits for that one.
  send() {
    this.sending ??= this.#sendAll().finally(() => {
      this.sending = null;
      this.changed();
    });
    return this.sending;
  }

  get isSending() {
    return this.sending !== null;
  }

  async #sendAll() {
    for (let mark = this.#next(); mark && (await this.#sendOne(mark)); mark = this.#next());
  }

  #next() {
    return this.marks.find((mark) => !mark.isSent);
  }

  async #sendOne(mark, isSecondTry = false) {
    const answer = await this.#post(mark).catch(() => null);
    if (!answer || answer.status >= 500) return this.#wait("signal");
    if (answer.type === "opaqueredirect") return this.#wait("signed-out");
    // Signing in again makes an old page's token stale.
    if (answer.status === 403 && !isSecondTry && (await this.#renewToken())) return this.#sendOne(mark, true);
    if (answer.status === 403) return this.#wait("signed-out");
    if (answer.status === 422) {
      this.marks.splice(this.marks.indexOf(mark), 1);
      this.refused((await answer.json()).words, mark);
    } else if (answer.ok) mark.isSent = true;
    else return this.#wait("gone");
    this.trouble = "";
    this.save();
    this.changed();
    return true;
  }

  #wait(trouble) {
    this.trouble = trouble;
    return false;
  }

  #post(mark) {
    const body = new URLSearchParams({ csrfmiddlewaretoken: this.token, client_id: mark.id, step: mark.step });
    for (const name of ["is_begin", "measured", "reason", "note", "immobilizer_light", "alarm_light"]) {
      if (mark[name]) body.set(name, mark[name]);
    }
    body.set("ago", String(Math.max(0, (Date.now() - mark.at) / 1000)));
    return fetch(this.address, { method: "POST", body, redirect: "manual", headers: { "X-Queue": "1" } });
  }

  async #renewToken() {
    const answer = await fetch(location.href, { redirect: "manual" }).catch(() => null);
    if (!answer?.ok) return false;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const token = page.querySelector("input[name=csrfmiddlewaretoken]")?.value;
    if (token) this.token = token;
    return Boolean(token);
  }

  #read() {
    try {
      const kept = JSON.parse(localStorage.getItem(this.key));
      if (Array.isArray(kept?.marks)) return kept;
    } catch {
      // Nothing that can be read: begin anew; the server has what was sent.
    }
    return { marks: [], called: [] };
  }

  // Runs long over leave nothing behind, unless something of them was never sent.
  #forgetOthers() {
    try {
      for (const key of Object.keys(localStorage)) {
        if (!key.startsWith("procedure-run-") || key === this.key) continue;
        const { marks } = JSON.parse(localStorage.getItem(key));
        if (marks.every((mark) => mark.isSent)) localStorage.removeItem(key);
      }
    } catch {
      // Left as it is.
    }
  }
}
