// The circuit as rows of cells, with undo. Rows are never changed in place: a change makes new
// ones, so that every earlier state of the sheet stays as it was.

const ORDER = [
  "vehicle", "connections", "phases", "parts", "places", "faces", "codes", "compounds",
  "hazards", "notes",
];
const MOST_UNDONE = 300;
export const OTHERS = "otherwise";

let lastId = 0;
const freshId = () => `r${++lastId}`;

export class Sheet extends EventTarget {
  constructor(columns, words) {
    super();
    this.columns = columns;
    this.vehicleWords = words;
    this.sections = [];
    this.past = [];
    this.future = [];
    this.typingIn = "";
  }

  // ---- in and out

  /** Take a table as the server sends it; earlier states stay reachable by undo. */
  load(table, { undoable = false } = {}) {
    const before = this.sections;
    const phases = [];
    const sections = table.sections.map((section) => ({ ...section, rows: [...section.rows] }));
    for (const name of ORDER) {
      if (!sections.some((section) => section.name === name)) {
        sections.push({ name, rows: [], text: "" });
      }
    }
    for (const section of sections) {
      if (section.name === "vehicle") this.#completeVehicle(section);
      section.rows = section.rows.map((row) => ({ ...row, id: freshId() }));
      if (section.name === "phases") {
        for (const row of section.rows) if (!row.whole) phases.push([row.cells.key, row.id]);
      }
    }
    // Cells below a phase belong to its row, so that a phase can be renamed.
    const phaseIds = new Map([...phases, [OTHERS, OTHERS]]);
    for (const section of sections) {
      section.rows = section.rows.map((row) => {
        const states = {};
        for (const [phase, text] of row.states) {
          if (phaseIds.has(phase)) states[phaseIds.get(phase)] = text;
        }
        const kept = { ...row, states };
        return { ...kept, stood: this.#said(kept, phases) };
      });
    }
    this.sections = sections.map((section) => this.#withFreshRow(section));
    if (undoable) this.#remember(before);
    else this.past = this.future = [];
    this.typingIn = "";
    this.dispatchEvent(new Event("redraw"));
  }

  /** Return the table as the server takes it, and the ids of its rows for what it answers. */
  sent() {
    const phases = this.phases().map((row) => [row.cells.key ?? "", row.id]);
    const table = {
      sections: this.sections.map((section) => ({
        name: section.name,
        text: section.text,
        rows: section.rows.map((row) => this.#sentRow(row, phases)),
      })),
    };
    const ids = this.sections.map((section) => ({
      name: section.name,
      rows: section.rows.map((row) => row.id),
    }));
    return { table, ids };
  }

  #sentRow(row, phases) {
    const same = row.whole || row.stood === this.#said(row, phases);
    return {
      cells: row.cells,
      states: this.#statesOf(row, phases),
      line: same ? row.line : "",
      whole: row.whole,
      gap: row.gap,
    };
  }

  #statesOf(row, phases) {
    return [...phases, [OTHERS, OTHERS]]
      .filter(([, id]) => row.states[id])
      .map(([key, id]) => [key, row.states[id]]);
  }

  #said(row, phases) {
    const cells = Object.entries(row.cells).filter(([, text]) => text).sort();
    return JSON.stringify([cells, this.#statesOf(row, phases)]);
  }

  #completeVehicle(section) {
    const there = new Set(section.rows.map((row) => row.cells.word));
    const missing = this.vehicleWords.filter((word) => !there.has(word));
    const rows = missing.map((word) => ({ ...blankRow({ word, text: "", remark: "" }), states: [] }));
    const place = (row) => (row.whole ? -1 : this.vehicleWords.indexOf(row.cells.word));
    // What is missing comes last, so that the lines that are there keep their order.
    section.rows = [...section.rows, ...rows.sort((a, b) => place(a) - place(b))];
  }

  // ---- reading

  section(name) {
    return this.sections.find((section) => section.name === name);
  }

  others() {
    return this.sections.filter((section) => !ORDER.includes(section.name));
  }

  row(name, id) {
    return this.section(name)?.rows.find((row) => row.id === id);
  }

  phases() {
    return this.section("phases").rows.filter((row) => !row.whole && !isBlank(row));
  }

  names(offer) {
    const [section, key] = {
      connections: ["connections", "node"],
      parts: ["parts", "name"],
      phases: ["phases", "key"],
      places: ["places", "key"],
    }[offer] ?? [];
    if (!section) return [];
    return this.section(section).rows.map((row) => row.cells[key] ?? "").filter(Boolean);
  }

  /** Return the connections that parts name and that are not listed. */
  missingConnections() {
    const listed = new Set(this.names("connections"));
    const named = this.section("parts").rows.flatMap((row) => [
      row.cells.first ?? "",
      ...(row.cells.second ?? "").split(/\s+-\s+/),
    ]);
    return [...new Set(named.filter((name) => name && !listed.has(name) && !/\s/.test(name)))];
  }

  // ---- writing

  /** Type into a cell; typing on in the same cell is one step of undo. */
  type(name, id, cell, text) {
    this.#change(`${name} ${id} ${cell}`, (section) => {
      if (section.name !== name) return section;
      return { ...section, rows: section.rows.map((row) => typed(row, id, cell, text)) };
    });
  }

  /** Give every cell its text anew by `write(row, cell, text)`, as one step of undo. */
  rewrite(write) {
    this.#change("", (section) => ({
      ...section,
      rows: section.rows.map((row) => (row.whole ? row : rewritten(row, write))),
    }), { redraw: true });
  }

  typeText(name, text) {
    this.#change(`${name} text`, (section) =>
      section.name === name ? { ...section, text } : section,
    );
  }

  /** Fill a block of cells, row by row from a row on; rows are added where they run out. */
  fill(name, id, cells, block) {
    this.#change("", (section) => {
      if (section.name !== name) return section;
      const rows = [...section.rows];
      let at = rows.findIndex((row) => row.id === id);
      for (const line of block) {
        while (at < rows.length && rows[at].whole) at += 1;
        if (at >= rows.length) rows.push(this.blank(name));
        line.slice(0, cells.length).forEach((text, index) => {
          rows[at] = typed(rows[at], rows[at].id, cells[index], text);
        });
        at += 1;
      }
      return { ...section, rows };
    }, { redraw: true });
  }

  insertBelow(name, id) {
    const fresh = this.blank(name);
    this.#change("", (section) => {
      if (section.name !== name) return section;
      const at = section.rows.findIndex((row) => row.id === id);
      return { ...section, rows: section.rows.toSpliced(at + 1, 0, fresh) };
    }, { redraw: true });
    return fresh.id;
  }

  append(name, rows) {
    const fresh = rows.map((row) => ({ ...this.blank(name), ...row, id: freshId(), states: {} }));
    this.#change("", (section) => {
      if (section.name !== name) return section;
      const kept = section.rows.filter((row) => row.whole || !isBlank(row));
      return { ...section, rows: [...kept, ...fresh] };
    }, { redraw: true });
  }

  /** Do several changes as one step of undo. */
  together(changes) {
    const before = this.sections;
    const past = this.past;
    changes();
    this.past = past;
    this.#remember(before);
  }

  remove(name, id) {
    this.#change("", (section) => {
      if (section.name !== name) return section;
      return { ...section, rows: section.rows.filter((row) => row.id !== id) };
    }, { redraw: true });
  }

  move(name, id, by) {
    this.#change("", (section) => {
      if (section.name !== name) return section;
      const at = section.rows.findIndex((row) => row.id === id);
      const to = at + by;
      if (to < 0 || to >= section.rows.length || isBlank(section.rows[at])) return section;
      const rows = [...section.rows];
      [rows[at], rows[to]] = [rows[to], rows[at]];
      return { ...section, rows };
    }, { redraw: true });
  }

  blank(name) {
    const keys = (this.columns[name] ?? []).map((column) => column.key);
    return { ...blankRow(Object.fromEntries(keys.map((key) => [key, ""]))), id: freshId() };
  }

  // ---- undo

  get canUndo() {
    return this.past.length > 0;
  }

  get canRedo() {
    return this.future.length > 0;
  }

  undo() {
    if (!this.canUndo) return;
    this.future = [...this.future, this.sections];
    this.sections = this.past.at(-1);
    this.past = this.past.slice(0, -1);
    this.#stepped();
  }

  redo() {
    if (!this.canRedo) return;
    this.past = [...this.past, this.sections];
    this.sections = this.future.at(-1);
    this.future = this.future.slice(0, -1);
    this.#stepped();
  }

  /** The cell is left: what is typed into it next is a step of its own. */
  leaveCell() {
    this.typingIn = "";
  }

  #stepped() {
    this.typingIn = "";
    this.dispatchEvent(new Event("redraw"));
    this.dispatchEvent(new Event("change"));
  }

  #remember(before) {
    this.past = [...this.past.slice(1 - MOST_UNDONE), before];
    this.future = [];
  }

  #change(typingIn, change, { redraw = false } = {}) {
    const before = this.sections;
    this.sections = this.sections.map((section) => this.#withFreshRow(change(section)));
    if (!typingIn || typingIn !== this.typingIn) this.#remember(before);
    this.typingIn = typingIn;
    const grown = this.sections.some((section, at) => section.rows.length > before[at].rows.length);
    if (redraw) this.dispatchEvent(new Event("redraw"));
    else if (grown) this.dispatchEvent(new Event("grown"));
    this.dispatchEvent(new Event("change"));
  }

  /** Every section but the vehicle ends with a row to type into. */
  #withFreshRow(section) {
    if (!this.columns[section.name] || section.name === "vehicle") return section;
    const last = section.rows.at(-1);
    if (last && !last.whole && isBlank(last)) return section;
    return { ...section, rows: [...section.rows, this.blank(section.name)] };
  }
}

const blankRow = (cells) => ({ cells, states: {}, line: "", whole: false, gap: 0 });

export const isBlank = (row) =>
  row.whole
    ? !row.line.trim()
    : ![...Object.values(row.cells), ...Object.values(row.states)].some((text) => text.trim());

function rewritten(row, write) {
  const anew = (cells, prefix) =>
    Object.fromEntries(
      Object.entries(cells).map(([cell, text]) => [cell, write(row, `${prefix}${cell}`, text)]),
    );
  return { ...row, cells: anew(row.cells, ""), states: anew(row.states, "states.") };
}

function typed(row, id, cell, text) {
  if (row.id !== id) return row;
  if (row.whole) return { ...row, line: text };
  if (cell.startsWith("states.")) {
    return { ...row, states: { ...row.states, [cell.slice(7)]: text } };
  }
  return { ...row, cells: { ...row.cells, [cell]: text } };
}
