// A block from a spreadsheet fills cells to the right and below of where it is pasted.

/** Return the lines of a block, each cut into cells; a single word is no block. */
export function cutBlock(text) {
  const clean = text.replace(/\r\n?/g, "\n").replace(/\n+$/, "");
  if (!/[\t\n]/.test(clean)) return null;
  return quotedCells(clean).map((line) => line.map((cell) => cell.replace(/\s+/g, " ").trim()));
}

// Spreadsheets put a cell that holds a tab or a line break in quotes, with its own quotes doubled.
function quotedCells(text) {
  const lines = [[""]];
  let quoted = false;
  for (let at = 0; at < text.length; at += 1) {
    const sign = text[at];
    const cell = lines.at(-1).at(-1);
    const put = (word) => { lines.at(-1)[lines.at(-1).length - 1] = word; };
    if (sign === '"' && quoted && text[at + 1] === '"') {
      put(`${cell}"`);
      at += 1;
    } else if (sign === '"' && (quoted || cell === "")) quoted = !quoted;
    else if (sign === "\t" && !quoted) lines.at(-1).push("");
    else if (sign === "\n" && !quoted) lines.push([""]);
    else put(cell + sign);
  }
  return lines;
}

/** Return the keys of the columns that a line names, or null if it is no line of headings. */
function headings(line, columns) {
  const keys = line.map((cell) => {
    const said = cell.toLowerCase();
    return columns.find(({ label }) =>
      said && [said, `${said},`].includes(label.toLowerCase().slice(0, said.length + 1)))?.key;
  });
  return keys.length > 1 && keys.every(Boolean) ? keys : null;
}

export function takePastes(root, sheet, settings) {
  root.addEventListener("paste", (event) => {
    const { section, row, cell } = event.target.dataset ?? {};
    if (!row || section === "vehicle") return;
    const block = cutBlock(event.clipboardData.getData("text/plain"));
    if (!block) return;
    event.preventDefault();
    const isState = cell.startsWith("states.");
    const columns = settings.columns[section];
    const named = isState ? null : headings(block[0], columns);
    if (named) {
      sheet.fill(section, row, named, block.slice(1));
      return;
    }
    const cells = isState
      ? [...sheet.phases().map((phase) => `states.${phase.id}`), "states.otherwise"]
      : columns.map((column) => column.key);
    sheet.fill(section, row, cells.slice(cells.indexOf(cell)), block);
  });
}
