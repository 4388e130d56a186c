// Draws the sheet as tables of fields, and moves about in them by keyboard.

import { OTHERS, isBlank } from "./sheet.js";

const TITLES = {
  vehicle: "Vehicle and circuit",
  connections: "Connections",
  phases: "Phases",
  parts: "Parts",
  states: "Parts by phase",
  places: "Places to measure",
  faces: "Connector faces",
  codes: "Fault codes",
  compounds: "Compound faults",
  hazards: "Hazards",
  notes: "Notes",
};
const EACH = {
  connections: "connection", phases: "phase", parts: "part", places: "place", codes: "code line",
  compounds: "compound fault", hazards: "hazard", faces: "face",
};
const LEADS = {
  connections: "Every point at which ends meet. Name a pin by its part and number: K1/87, X12/4.",
  phases: "In the order a vehicle goes through them, because relays remember.",
  parts: "What lies between two connections: wires and fuses as well as what they feed.",
  states: "What differs by phase. An empty cell: as in the values above.",
  places: "Where a lead or a clamp goes.",
  faces: "A connector as it is seen from one side; the other side is drawn by itself.",
  codes: "In the rows below a code: when it sets.",
  compounds: "Several faults at once that the trade has a name for, such as a worn-out battery.",
  hazards: "Said beside every step where somebody puts a lead on.",
};

const element = (tag, attributes = {}, ...children) => {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== false && value !== null && value !== undefined) made.setAttribute(name, value);
  }
  made.append(...children);
  return made;
};

export class Grid extends EventTarget {
  constructor(root, sheet, settings) {
    super();
    this.root = root;
    this.sheet = sheet;
    this.settings = settings;
    this.showsAllStates = false;
    // On a phone a row is a card that shows what is filled in; touched once, it shows all its fields.
    this.opened = new Set();
    this.wrong = new Map();
    sheet.addEventListener("redraw", () => this.draw());
    sheet.addEventListener("grown", () => this.draw());
    root.addEventListener("input", (event) => this.#typed(event));
    root.addEventListener("change", (event) => this.#left(event));
    root.addEventListener("focusin", (event) => this.#entered(event));
    root.addEventListener("keydown", (event) => this.#pressed(event));
    root.addEventListener("click", (event) => this.#clicked(event));
  }

  // ---- drawing

  draw() {
    const there = this.#focused();
    this.root.replaceChildren(
      this.#vehicle(),
      this.#rows("connections"),
      this.#rows("phases"),
      this.#rows("parts"),
      this.#states(),
      this.#rows("places"),
      this.#rows("faces"),
      this.#rows("codes"),
      this.#rows("compounds"),
      this.#rows("hazards"),
      ...this.sheet.others().map((section) => this.#lines(section)),
      this.#notes(),
    );
    this.#marked();
    if (there) this.focus(there.section, there.row, there.cell, there.selection);
  }

  #frame(name, title, ...children) {
    const head = element("h2", { id: `section-${name}` }, title);
    const lead = LEADS[name] ? [element("p", { class: "silent" }, LEADS[name])] : [];
    return element(
      "section",
      { class: "section sheet-section", "data-of": name },
      head, ...lead, ...children,
    );
  }

  #vehicle() {
    const rows = this.sheet.section("vehicle").rows.map((row) => {
      if (row.whole) return this.#wholeLine("vehicle", row);
      const word = row.cells.word;
      const id = `vehicle-${row.id}`;
      const hint = this.settings.vehicle[word];
      const field = this.#field("vehicle", row, "text", { id });
      if (hint) field.setAttribute("aria-describedby", `${id}-hint`);
      return element(
        "div", { class: "field" },
        element("label", { for: id }, word[0].toUpperCase() + word.slice(1)),
        field,
        ...(hint ? [element("p", { class: "hint", id: `${id}-hint` }, hint)] : []),
        ...(row.cells.remark ? [this.#field("vehicle", row, "remark", { label: `Remark, ${word}` })] : []),
      );
    });
    return this.#frame("vehicle", TITLES.vehicle, element("div", { class: "vehicle-words" }, ...rows));
  }

  #rows(name) {
    const columns = this.settings.columns[name];
    const rows = this.sheet.section(name).rows;
    const body = rows.map((row, at) => {
      if (row.whole) {
        return element("tr", { class: "whole-line" },
          element("td", { colspan: columns.length }, this.#wholeLine(name, row)), this.#tools(name, row));
      }
      const cells = columns.map((column) =>
        this.#cell(column.label, column.broad,
          this.#field(name, row, column.key, { label: `${column.label}, ${EACH[name]} ${at + 1}` })),
      );
      return this.#card(row, isBlank(row), ...cells, this.#tools(name, row));
    });
    const heads = columns.map((column) =>
      element("th", { scope: "col", class: column.broad ? "broad" : null }, column.label));
    const table = element("table", { class: `cells cells-${name}` },
      element("thead", {}, element("tr", {}, ...heads, element("td"))),
      element("tbody", {}, ...body));
    return this.#frame(name, TITLES[name], this.#wide(TITLES[name], table), ...this.#helps(name));
  }

  #cell(label, isBroad, field) {
    const look = [isBroad && "broad", !field.value && "is-empty"].filter(Boolean).join(" ");
    return element("td", { "data-label": label, class: look || null }, field);
  }

  #card(row, isFresh, ...cells) {
    const look = [isFresh && "fresh", this.opened.has(row.id) && "is-open"].filter(Boolean).join(" ");
    return element("tr", { class: look || null, "data-card": row.id }, ...cells);
  }

  #open(inside) {
    const card = inside.closest?.("[data-card]");
    if (!card) return;
    this.opened.add(card.dataset.card);
    card.classList.add("is-open");
  }

  #wide(words, table) {
    return element("div", { class: "wide", role: "region", "aria-label": words }, table);
  }

  // The button stays the same one while its words change, so that a click on it is never lost.
  #helps(name) {
    if (name !== "connections") return [];
    this.addMissing = element("button", { type: "button", "data-add-missing": "" });
    this.#countMissing();
    return [this.addMissing];
  }

  #countMissing() {
    const missing = this.sheet.missingConnections();
    const some = missing.slice(0, 4).join(", ") + (missing.length > 4 ? " …" : "");
    this.addMissing.hidden = !missing.length;
    this.addMissing.textContent = `Add the ${missing.length} that parts name: ${some}`;
  }

  #states() {
    const phases = this.sheet.phases();
    const parts = this.sheet.section("parts").rows.filter((row) => !row.whole && row.cells.name);
    const differing = parts.filter((row) =>
      this.settings.kinds[row.cells.kind]?.switches || Object.values(row.states).some(Boolean));
    const shown = this.showsAllStates ? parts : differing;
    const columns = [
      ...phases.map((phase) => [phase.id, phase.cells.key || "?", phase.cells.words]),
      [OTHERS, "the others", "the phases that are not named"],
    ];
    const body = shown.map((row) =>
      this.#card(row, false,
        element("th", { scope: "row" }, row.cells.name,
          element("span", { class: "note" }, [row.cells.kind, row.cells.values].filter(Boolean).join(", "))),
        ...columns.map(([id, key]) =>
          this.#cell(key, false,
            this.#field("parts", row, `states.${id}`, { label: `${row.cells.name}, ${key}` })))));
    const heads = columns.map(([, key, words]) =>
      element("th", { scope: "col" }, key, ...(words ? [element("span", { class: "note" }, words)] : [])));
    const table = element("table", { class: "cells cells-states" },
      element("thead", {}, element("tr", {}, element("th", { scope: "col" }, "Part"), ...heads)),
      element("tbody", {}, ...body));
    const all = element("button", { type: "button", "data-all-states": "", "aria-pressed": String(this.showsAllStates) },
      this.showsAllStates ? "Show only what differs" : "Show all parts");
    const what = shown.length
      ? this.#wide(TITLES.states, table)
      : element("p", { class: "silent" }, "No switch, driver or rule yet, and nothing that differs by phase.");
    return this.#frame("states", TITLES.states, what, ...(parts.length ? [all] : []));
  }

  #notes() {
    const section = this.sheet.section("notes");
    const area = element("textarea", {
      rows: 5, "data-section": "notes", "data-text": "", "aria-labelledby": "section-notes",
    });
    area.value = section.text;
    return this.#frame("notes", TITLES.notes, area);
  }

  #lines(section) {
    const name = section.name || "before";
    const rows = section.rows.map((row) => this.#wholeLine(section.name, row));
    const title = section.name ? `[${section.name}], as text` : "Lines before the first section";
    return this.#frame(name, title, ...rows);
  }

  #wholeLine(name, row) {
    const label = row.line.startsWith("#") ? "Remark on a line of its own" : "A line as it stands";
    return this.#field(name, row, "line", { label, text: row.line });
  }

  #field(section, row, cell, { label = null, id = null, text = null } = {}) {
    const field = element("input", {
      type: "text", autocomplete: "off", autocapitalize: "off", spellcheck: "false",
      id, "aria-label": label, "data-section": section, "data-row": row.id, "data-cell": cell,
    });
    field.value = text ?? (cell.startsWith("states.") ? row.states[cell.slice(7)] : row.cells[cell]) ?? "";
    return field;
  }

  #tools(name, row) {
    const button = element("button", {
      type: "button", class: "plain row-tool", tabindex: "-1", "data-remove": row.id, "data-from": name,
      "aria-label": `Take out ${Object.values(row.cells)[0] || "this row"}`,
    }, "×");
    return element("td", { class: "row-end" }, ...(isBlank(row) ? [] : [button]));
  }

  // ---- what is wrong

  /** Mark the cells that have something to mend: `${section} ${row} ${cell}` -> id of its words. */
  mark(wrong) {
    this.wrong = wrong;
    this.#marked();
  }

  #marked() {
    for (const field of this.root.querySelectorAll("[data-row]")) {
      const { section, row, cell } = field.dataset;
      const words = this.wrong.get(`${section} ${row} ${cell}`);
      field.toggleAttribute("aria-invalid", false);
      if (words) field.setAttribute("aria-invalid", "true");
      if (words) field.dataset.wrong = words;
      else delete field.dataset.wrong;
    }
  }

  // ---- where one is

  focus(section, row, cell, selection = null) {
    const fields = [...this.root.querySelectorAll("[data-row]")].filter(
      (field) => field.dataset.section === section && field.dataset.row === row);
    const field = fields.find((each) => each.dataset.cell === cell) ?? fields[0];
    if (!field) return false;
    this.#open(field);
    field.focus();
    if (selection) field.setSelectionRange(...selection);
    return true;
  }

  /** Go to the first field of a section, where something is missing in it as a whole. */
  focusFirst(section) {
    const field = this.root.querySelector(`[data-of="${CSS.escape(section)}"] [data-row]`);
    if (field) this.focus(section, field.dataset.row, field.dataset.cell);
  }

  #focused() {
    const field = document.activeElement;
    if (!this.root.contains(field) || !field.dataset.row) return null;
    const { section, row, cell } = field.dataset;
    return { section, row, cell, selection: [field.selectionStart, field.selectionEnd] };
  }

  #entered(event) {
    if (!event.target.dataset.row) return;
    this.#open(event.target);
    this.dispatchEvent(new CustomEvent("entered", { detail: event.target }));
  }

  // ---- typing

  #typed(event) {
    const field = event.target;
    const { section, row, cell } = field.dataset;
    if (field.dataset.text !== undefined) this.sheet.typeText(section, field.value);
    else if (row) this.sheet.type(section, row, cell, field.value);
    if (row) this.dispatchEvent(new CustomEvent("typed", { detail: { field: this.current(field), event } }));
  }

  /** Return the field that stands where this one stood before a redraw. */
  current(field) {
    if (field.isConnected) return field;
    return this.root.contains(document.activeElement) ? document.activeElement : field;
  }

  #left(event) {
    this.sheet.leaveCell();
    if (event.target.dataset.row) this.dispatchEvent(new CustomEvent("left", { detail: event.target }));
    const { section, cell } = event.target.dataset;
    if (section === "phases" || (section === "parts" && !cell?.startsWith("states."))) {
      // What follows from phases and parts is drawn once the focus has come to rest.
      setTimeout(() => this.#drawWhatFollows());
    }
  }

  #drawWhatFollows() {
    this.#countMissing();
    const old = this.root.querySelector('[data-of="states"]');
    const fresh = this.#states();
    if (old.isEqualNode(fresh)) return;
    const there = old.contains(document.activeElement) ? this.#focused() : null;
    old.replaceWith(fresh);
    this.#marked();
    if (there) this.focus(there.section, there.row, there.cell, there.selection);
  }

  // ---- moving

  #pressed(event) {
    const field = event.target;
    const ctrl = event.ctrlKey || event.metaKey;
    if (event.isComposing) return;
    if (ctrl && !event.altKey && ["z", "y"].includes(event.key.toLowerCase())) {
      event.preventDefault();
      if (event.key.toLowerCase() === "y" || event.shiftKey) this.sheet.redo();
      else this.sheet.undo();
      return;
    }
    if (!field.dataset.row || ctrl) return;
    if (event.altKey) return this.#changedRows(event, field);
    const steps = {
      ArrowUp: () => this.#vertical(field, -1),
      ArrowDown: () => this.#vertical(field, 1),
      ArrowLeft: () => this.#atEnd(field, 0) && this.#sideways(field, -1),
      ArrowRight: () => this.#atEnd(field, field.value.length) && this.#sideways(field, 1),
      Enter: () => this.#nextRow(field),
    };
    if (!event.shiftKey && steps[event.key]?.()) event.preventDefault();
  }

  #changedRows(event, field) {
    const { section, row, cell } = field.dataset;
    if (section === "vehicle" || cell.startsWith("states.")) return;
    const at = this.sheet.section(section).rows.findIndex((each) => each.id === row);
    if (event.key === "Enter") {
      this.focus(section, this.sheet.insertBelow(section, row), "");
    } else if (event.key === "Delete") {
      this.sheet.remove(section, row);
      const rows = this.sheet.section(section).rows;
      this.focus(section, rows[Math.min(at, rows.length - 1)].id, cell);
    } else if (event.key === "ArrowUp" || event.key === "ArrowDown") {
      this.sheet.move(section, row, event.key === "ArrowUp" ? -1 : 1);
    } else {
      return;
    }
    event.preventDefault();
  }

  #lineOf(field) {
    return field.closest("tr, .vehicle-words, .sheet-section");
  }

  #atEnd(field, at) {
    return field.selectionStart === at && field.selectionEnd === at;
  }

  #sideways(field, by) {
    const fields = [...this.#lineOf(field).querySelectorAll("[data-row]")];
    return this.#to(fields[fields.indexOf(field) + by]);
  }

  #vertical(field, by) {
    const line = this.#lineOf(field);
    if (line.tagName !== "TR") return this.#sideways(field, by);
    const next = by > 0 ? line.nextElementSibling : line.previousElementSibling;
    if (!next) return false;
    const same = [...next.querySelectorAll("[data-row]")];
    return this.#to(same.find((each) => each.dataset.cell === field.dataset.cell) ?? same[0]);
  }

  #nextRow(field) {
    const line = this.#lineOf(field);
    if (line.tagName !== "TR") return this.#sideways(field, 1);
    return this.#to(line.nextElementSibling?.querySelector("[data-row]"));
  }

  #to(field) {
    if (!field) return false;
    this.#open(field);
    field.focus();
    field.select();
    return true;
  }

  #clicked(event) {
    const button = event.target.closest("button");
    if (!button) return this.#open(event.target);
    if (button.dataset.remove) this.sheet.remove(button.dataset.from, button.dataset.remove);
    if (button.dataset.allStates !== undefined) {
      this.showsAllStates = !this.showsAllStates;
      this.draw();
      this.root.querySelector("[data-all-states]").focus();
    }
    if (button.dataset.addMissing !== undefined) {
      const rows = this.sheet.missingConnections().map((node) => ({
        cells: { node, kind: "pin", label: "", remark: "" },
      }));
      this.sheet.append("connections", rows);
      this.focus("connections", this.sheet.section("connections").rows.at(-1 - rows.length)?.id, "label");
    }
  }
}
