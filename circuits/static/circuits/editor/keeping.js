// Keeps what is typed: at once on this device, and a moment later on the server, which answers
// what is wrong with it. What the server has not yet taken survives a closed browser.

const WAIT = 500;
const WAIT_AGAIN = 5000;

export class Keeper extends EventTarget {
  constructor({ address, token, storedAs, version, state }) {
    super();
    Object.assign(this, { address, token, storedAs, version, state });
    this.changed = 0;
    this.taken = 0;
    this.timer = 0;
    this.stopped = false;
    this.sending = null;
    window.addEventListener("online", () => this.flush());
    window.addEventListener("pagehide", () => this.#storeHere());
  }

  get isBehind() {
    return this.changed > this.taken;
  }

  /** Something was typed. */
  touch() {
    this.changed += 1;
    this.#storeHere();
    this.dispatchEvent(new CustomEvent("state", { detail: { words: "Not kept yet" } }));
    this.#later(WAIT);
  }

  /** Return what this device kept and the server never took, if there is any. */
  unsent() {
    const stored = localStorage.getItem(this.storedAs);
    return stored ? JSON.parse(stored) : null;
  }

  forget() {
    localStorage.removeItem(this.storedAs);
  }

  /** Send what is typed now; answers what the server says, or null if it could not be reached. */
  async flush(want = "") {
    clearTimeout(this.timer);
    while (this.sending) await this.sending;
    if (this.stopped || (!this.isBehind && !want)) return null;
    this.sending = this.#send(want);
    const answer = await this.sending;
    this.sending = null;
    if (this.isBehind && !this.stopped) this.#later(answer ? WAIT : WAIT_AGAIN);
    return answer;
  }

  /** Keep what is here, over what another window kept. */
  async overwrite(version) {
    this.version = version;
    this.stopped = false;
    this.changed += 1;
    return this.flush();
  }

  #later(wait) {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.flush(), wait);
  }

  #storeHere() {
    if (!this.isBehind) return;
    const { body } = this.state();
    try {
      const kept = { ...body, version: this.version, at: new Date().toISOString() };
      localStorage.setItem(this.storedAs, JSON.stringify(kept));
    } catch {
      // The device has no room; the server keeps it all the same.
    }
  }

  async #send(want) {
    const upTo = this.changed;
    const { body, ids } = this.state();
    let response;
    try {
      response = await fetch(this.address, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": this.token },
        body: JSON.stringify({ ...body, version: this.version, want }),
        redirect: "manual",
      });
    } catch {
      this.#away("The server cannot be reached. What you type is kept on this device");
      return null;
    }
    if (response.status === 409) {
      const answer = await response.json();
      this.stopped = true;
      this.dispatchEvent(new CustomEvent("moved", { detail: answer }));
      return null;
    }
    if (!response.ok) {
      const json = response.headers.get("Content-Type")?.startsWith("application/json");
      const detail = json ? (await response.json()).detail : "";
      const signedOut = response.type === "opaqueredirect" || response.status === 403;
      this.#away(
        signedOut
          ? "You are signed out: sign in in another window. What you type is kept on this device"
          : detail || "The server could not keep it. What you type is kept on this device",
      );
      return null;
    }
    const answer = await response.json();
    this.version = answer.version;
    this.taken = upTo;
    if (!this.isBehind) this.forget();
    this.dispatchEvent(new CustomEvent("kept", { detail: { answer, ids } }));
    return answer;
  }

  #away(words) {
    this.dispatchEvent(new CustomEvent("state", { detail: { words, away: true } }));
  }
}
