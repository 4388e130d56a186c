// Lists what is to be mended beside the circuit; each leads to its cell or its line.

const WORDS = {
  vehicle: "Vehicle", connections: "Connections", phases: "Phases", parts: "Parts",
  places: "Places", faces: "Faces", codes: "Codes", compounds: "Compound faults", hazards: "Hazards",
};

export class Findings {
  constructor(root, settings) {
    this.list = root.querySelector("[data-findings]");
    this.counts = document.querySelectorAll("[data-count]");
    this.clean = root.querySelector("[data-clean]");
    this.settings = settings;
  }

  /** Show findings; `lead` goes to one, and cells to be marked are returned. */
  show(findings, ids, lead) {
    const wrong = new Map();
    for (const count of this.counts) count.textContent = findings.length;
    this.clean.hidden = findings.length > 0;
    this.list.replaceChildren(
      ...findings.map((finding) => {
        const spot = this.#spot(finding, ids);
        if (spot) wrong.set(`${spot.section} ${spot.row} ${spot.cell}`, `${finding.problem} ${finding.mend}`);
        return this.#line(finding, spot, lead);
      }),
    );
    return wrong;
  }

  #spot(finding, ids) {
    if (!ids || finding.row === null) return null;
    const section = ids[finding.section];
    const row = section?.rows[finding.row];
    const columns = this.settings.columns[section?.name] ?? [];
    const first = section?.name === "vehicle" ? "text" : columns[0]?.key ?? "line";
    return row ? { section: section.name, row, cell: finding.cell || first } : null;
  }

  #line(finding, spot, lead) {
    const item = document.createElement("li");
    const said = document.createElement("span");
    said.append(`${finding.problem} `, finding.mend);
    const where = document.createElement("strong");
    where.textContent = `${this.#where(finding, spot)} `;
    if (spot || finding.line || WORDS[finding.subject]) {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "plain lead-on";
      button.append(where, said);
      button.addEventListener("click", () => lead(finding, spot));
      item.append(button);
    } else {
      item.append(where, said);
    }
    return item;
  }

  #where(finding, spot) {
    if (!spot) {
      const line = finding.line ? `Line ${finding.line}, column ${finding.column}: ` : "";
      return line + (WORDS[finding.subject] ?? finding.subject ?? "");
    }
    const column = (this.settings.columns[spot.section] ?? []).find(({ key }) => key === spot.cell);
    return [WORDS[spot.section], finding.subject, spot.section !== "vehicle" && column?.label]
      .filter(Boolean).join(" · ");
  }
}
