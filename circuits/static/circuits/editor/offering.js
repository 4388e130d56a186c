// Says what belongs into the cell that has the focus, and offers the words that fit there.

const MOST_OFFERED = 12;
const SOURCES = ["measured", "label on the part", "maker's data", "typical, from experience"];

export class Offers {
  constructor(bar, sheet, settings) {
    this.bar = bar;
    this.words = bar.querySelector(".prompt-words");
    this.chips = bar.querySelector(".chips");
    this.sheet = sheet;
    this.settings = settings;
    this.field = null;
    // The field keeps the focus while a word is taken.
    this.chips.addEventListener("pointerdown", (event) => event.preventDefault());
    this.chips.addEventListener("click", (event) => {
      if (event.target.closest("button")) this.take(event.target.closest("button").value);
    });
  }

  show(field) {
    this.field = field;
    const column = this.#column(field);
    const wrong = field.dataset.wrong;
    this.words.replaceChildren();
    if (wrong) {
      const told = document.createElement("strong");
      told.textContent = wrong;
      this.words.append(told);
    } else {
      this.words.textContent = this.#hint(field, column);
    }
    this.chips.replaceChildren(
      ...this.#fitting(field, column).map((word) => {
        const chip = document.createElement("button");
        chip.type = "button";
        chip.tabIndex = -1;
        chip.value = word;
        chip.textContent = word;
        return chip;
      }),
    );
    this.bar.hidden = false;
  }

  hide() {
    this.field = null;
    this.bar.hidden = true;
  }

  /** Take a word into the field as if it had been typed. */
  take(word) {
    const field = this.field;
    if (!field || !word) return;
    const column = this.#column(field);
    const adds = column?.key === "values" && field.value.trim();
    field.value = adds ? `${field.value.trimEnd()} ${word}` : word;
    field.dispatchEvent(new InputEvent("input", { bubbles: true }));
  }

  takeFirst() {
    const first = this.chips.querySelector("button");
    if (first) this.take(first.value);
    return Boolean(first);
  }

  /** Finish a fixed word as it is typed, once only one is left that begins so. */
  finish(field, event) {
    const choices = this.#choices(field, this.#column(field));
    const text = field.value;
    if (event.inputType !== "insertText" || event.isComposing || !text) return;
    if (field.selectionStart !== text.length || choices.includes(text)) return;
    const left = choices.filter((word) => word.startsWith(text));
    if (left.length !== 1) return;
    field.value = left[0];
    field.setSelectionRange(text.length, left[0].length);
    const { section, row, cell } = field.dataset;
    this.sheet.type(section, row, cell, field.value);
  }

  #column(field) {
    const { section, cell } = field.dataset;
    return this.settings.columns[section]?.find((column) => column.key === cell);
  }

  #kind(field) {
    const row = this.sheet.row(field.dataset.section, field.dataset.row);
    return this.settings.kinds[row?.cells.kind];
  }

  #hint(field, column) {
    const { section, cell } = field.dataset;
    if (cell.startsWith("states.")) {
      const kind = this.#kind(field);
      return kind ? `In this phase: ${[...kind.states, kind.example].join(", or ")}. Empty: as in its values.` : "";
    }
    const kind = cell === "values" && this.#kind(field);
    if (kind) {
      const others = kind.others ? `; if known: ${kind.others}` : "";
      return `Written like ${kind.example}${others}. ${column.hint}`;
    }
    const terminal = section === "connections" && this.#terminal(field);
    if (terminal) return terminal;
    return column?.hint ?? "";
  }

  #terminal(field) {
    const row = this.sheet.row("connections", field.dataset.row);
    const number = /(?:^|[/.\s,])(\d{2}[a-z]?|[BD][+-])$/.exec(row?.cells.node ?? "")?.[1];
    const words = this.settings.terminals[number];
    return words ? `${number}: ${words} (DIN 72552).` : "";
  }

  #choices(field, column) {
    const { section, cell } = field.dataset;
    if (cell.startsWith("states.")) return this.#kind(field)?.states ?? [];
    if (section === "vehicle") {
      const word = this.sheet.row("vehicle", field.dataset.row)?.cells.word;
      return { "drawn by": ["us", "maker"], volts: ["12 V", "24 V"] }[word] ?? [];
    }
    return column?.choices ?? [];
  }

  #fitting(field, column) {
    const { section, cell } = field.dataset;
    let words = this.#choices(field, column);
    const named = { zero: "connections", body: "connections", plus: "connections" };
    const word = section === "vehicle" ? this.sheet.row("vehicle", field.dataset.row)?.cells.word : "";
    const offer = column?.offers || named[word];
    if (offer) words = this.sheet.names(offer);
    if (cell === "source" && section === "parts") words = SOURCES;
    if (cell === "values") return field.value.trim() ? SOURCES.map((source) => `[${source}]`) : [];
    const text = field.value.trim();
    const begun = words.filter((each) => each.toLowerCase().startsWith(text.toLowerCase()) && each !== text);
    return begun.slice(0, MOST_OFFERED);
  }
}
