// Shows what the circuit makes beside the table: its drawing, what its places read, what an
// inspection finds, what it changes in the revision it began from. Each is asked for once the
// typing rests, and an older question is dropped.

export class View {
  constructor(root) {
    this.panels = [
      [root.querySelector("[data-seen]"), "seen"],
      [root.querySelector("[data-inspected]"), "inspected"],
      [root.querySelector("[data-changed]"), "changed"],
    ].filter(([panel]) => panel);
    this.stale = root.querySelector("[data-stale]");
    this.asking = null;
    this.hasShown = false;
    this.hasEnded = false;
  }

  /** Show the circuit as the server has it now, if it can be solved. */
  async follow(works) {
    this.asking?.abort();
    if (this.hasEnded) return;
    this.stale.hidden = works || !this.hasShown;
    for (const [panel] of this.panels) panel.classList.toggle("stale", !works);
    if (!works) return;
    this.asking = new AbortController();
    const { signal } = this.asking;
    try {
      for (const [panel, name] of this.panels) {
        const response = await fetch(panel.dataset[name], { signal, redirect: "manual" });
        if (!response.ok) return;
        const answer = await response.text();
        if (signal.aborted) return;
        this.#put(panel, answer);
      }
      this.hasShown = true;
    } catch {
      // A newer question has taken its place, or the server is away, which the keeper tells.
    }
  }

  /** Ask no more: the draft is on its way to being published or thrown away. */
  end() {
    this.asking?.abort();
    this.hasEnded = true;
  }

  // What the reader has scrolled to stays where it is.
  #put(panel, answer) {
    const scrolled = [...panel.querySelectorAll(".wide")].map((box) => [box.scrollLeft, box.scrollTop]);
    const open = [...panel.querySelectorAll("details")].map((fold) => fold.open);
    panel.innerHTML = answer;
    panel.querySelectorAll(".wide").forEach((box, at) => {
      [box.scrollLeft, box.scrollTop] = scrolled[at] ?? [0, 0];
    });
    panel.querySelectorAll("details").forEach((fold, at) => { fold.open = open[at] ?? fold.open; });
  }
}
