// A name that was changed in its own row still stands in other rows: offers to write it there too.

const HEADS = { connections: "node", parts: "name", places: "key", phases: "key" };
// Where each kind of name is mentioned; `states` are a part's cells below the phases.
const MENTIONS = {
  connections: {
    vehicle: ["text"], parts: ["first", "second", "values", "states"],
    places: ["red", "black", "moves"], faces: ["cavities"], codes: ["watched", "enabled"],
  },
  parts: {
    vehicle: ["text"], parts: ["values", "states"], places: ["red", "moves"],
    codes: ["watched", "enabled"], compounds: ["faults"],
  },
  places: { codes: ["watched", "enabled"] },
  phases: { codes: ["phases"], parts: ["values"] },
};
// Of the vehicle's lines only these name things; the others are words.
const NAMING_LINES = new Set(["zero", "body", "plus", "shared", "goes on"]);

const escaped = (name) => name.replace(/[.*+?^${}()|[\]\\/-]/g, "\\$&");
const wholeName = (name) =>
  new RegExp(`(?<![\\p{L}\\p{N}_./+\\-])${escaped(name)}(?![\\p{L}\\p{N}_./+\\-])`, "gu");

export class Renaming {
  constructor(sheet, ask) {
    this.sheet = sheet;
    this.ask = ask;
    this.was = null;
  }

  /** The focus came to a field: if it is a name, remember how it was. */
  entered(field) {
    const { section, cell, row } = field.dataset;
    this.was = HEADS[section] === cell ? { section, row, name: field.value.trim() } : null;
  }

  /** A field was left changed: if other rows still have the old name, ask. */
  left(field) {
    const { section, row } = field.dataset;
    const was = this.was;
    const name = field.value.trim();
    if (!was || was.row !== row || was.section !== section) return;
    if (!was.name || !name || name === was.name) return;
    this.was = { ...was, name };
    // Another row still bears the old name, so what others say is of that one.
    if (this.#named(section).includes(was.name)) return;
    const found = this.#mentions(section, was.name).length;
    if (!found) return;
    const cells = found === 1 ? "One other cell says" : `${found} other cells say`;
    this.ask(`${cells} ${was.name}, which is ${name} by now.`, [
      ["Write it there too", () => this.everywhere(section, was.name, name)],
      ["Only here", () => {}],
    ]);
  }

  /** Write a new name wherever the old one is meant, as one step of undo. */
  everywhere(kind, old, name) {
    const pattern = wholeName(old);
    const places = new Set(this.#mentions(kind, old).map(({ row, cell }) => `${row} ${cell}`));
    this.sheet.rewrite((row, cell, text) =>
      places.has(`${row.id} ${cell}`) ? text.replace(pattern, () => name) : text);
  }

  #named(kind) {
    return this.sheet.names(kind);
  }

  #mentions(kind, name) {
    // A part and a connection may bear one name; what could mean either is left alone.
    const other = { parts: "connections", connections: "parts" }[kind];
    const isShared = other && this.#named(other).includes(name);
    const found = [];
    for (const [section, cells] of Object.entries(MENTIONS[kind])) {
      for (const row of this.sheet.section(section)?.rows ?? []) {
        if (row.whole || (section === "vehicle" && !NAMING_LINES.has(row.cells.word))) continue;
        for (const [cell, text] of textsOf(row, cells)) {
          const eitherMeant = isShared && MENTIONS[other][section]?.includes(cell.split(".")[0]);
          if (!eitherMeant && wholeName(name).test(text)) found.push({ row: row.id, cell });
        }
      }
    }
    return found;
  }
}

function textsOf(row, cells) {
  return cells.flatMap((cell) =>
    cell === "states"
      ? Object.entries(row.states).map(([phase, text]) => [`states.${phase}`, text])
      : [[cell, row.cells[cell] ?? ""]]);
}
