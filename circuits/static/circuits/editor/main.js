// Puts the table, its keeping and its findings together on the page of a draft.

import { Sheet } from "./sheet.js";
import { Grid } from "./grid.js";
import { Offers } from "./offering.js";
import { Keeper } from "./keeping.js";
import { Findings } from "./findings.js";
import { offerDevices } from "./device.js";
import { takePastes } from "./pasting.js";
import { View } from "./seeing.js";
import { Renaming } from "./renaming.js";

const begun = JSON.parse(document.getElementById("begun").textContent);
const settings = JSON.parse(document.getElementById("table-settings").textContent);
const desk = document.querySelector(".desk");
const form = document.getElementById("draft-form");
const token = form.querySelector('[name="csrfmiddlewaretoken"]').value;
const text = form.querySelector('[name="text"]');
const note = form.querySelector('[name="note"]');
const tabs = { table: document.getElementById("tab-table"), text: document.getElementById("tab-text") };
const panels = { table: document.getElementById("panel-table"), text: document.getElementById("panel-text") };
const kept = document.querySelector("[data-kept] span");
const offer = document.querySelector("[data-offer]");

let shows = "table";

const sheet = new Sheet(settings.columns, Object.keys(settings.vehicle));
const grid = new Grid(panels.table, sheet, settings);
const offers = new Offers(document.querySelector("[data-prompt]"), sheet, settings);
const findings = new Findings(document.querySelector(".desk-side"), settings);
const view = new View(desk);
const keeper = new Keeper({
  address: desk.dataset.keep,
  token,
  storedAs: `copperlog-draft:${document.body.dataset.person}:circuit-${begun.key}`,
  version: begun.version,
  state: () => {
    if (shows === "text") return { body: { text: text.value, note: note.value }, ids: null };
    const { table, ids } = sheet.sent();
    return { body: { table, note: note.value }, ids };
  },
});

// ---- table and text

function turnTo(form) {
  shows = form;
  for (const [name, tab] of Object.entries(tabs)) {
    tab.setAttribute("aria-selected", String(name === form));
    tab.tabIndex = name === form ? 0 : -1;
    panels[name].hidden = name !== form;
  }
  offers.hide();
  stepsAllowed();
}

async function choose(wanted) {
  if (wanted === shows) return;
  const answer = await keeper.flush(wanted);
  if (!answer) return;
  if (wanted === "text") {
    text.value = answer.text;
    turnTo("text");
  } else {
    turnTo("table");
    sheet.load(answer.table, { undoable: true });
  }
  showFindings(answer.findings, wanted === "table" ? sheet.sent().ids : null);
}

for (const [name, tab] of Object.entries(tabs)) {
  tab.addEventListener("click", () => choose(name));
  tab.addEventListener("keydown", (event) => {
    if (!["ArrowLeft", "ArrowRight"].includes(event.key)) return;
    const other = name === "table" ? "text" : "table";
    choose(other).then(() => tabs[other].focus());
  });
}

// ---- findings

function showFindings(found, ids) {
  grid.mark(findings.show(found, ids, leadTo));
  if (offers.field?.isConnected) offers.show(offers.field);
}

function leadTo(finding, spot) {
  if (spot) {
    grid.focus(spot.section, spot.row, spot.cell);
    return;
  }
  if (shows === "table") {
    grid.focusFirst(finding.subject);
    return;
  }
  text.focus();
  if (!finding.line) return;
  const lines = text.value.split("\n");
  const at = lines.slice(0, finding.line - 1).join("\n").length + (finding.line > 1 ? 1 : 0);
  text.setSelectionRange(at + finding.column - 1, at + (lines[finding.line - 1] ?? "").length);
}

keeper.addEventListener("kept", ({ detail: { answer, ids } }) => {
  const time = new Date(answer.at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  kept.textContent = keeper.isBehind ? "Not kept yet" : `Kept ${time}`;
  kept.parentElement.classList.remove("away");
  form.querySelector('[name="version"]').value = answer.version;
  view.follow(answer.works);
  showFindings(answer.findings, ids);
});
keeper.addEventListener("state", ({ detail }) => {
  kept.textContent = detail.words;
  kept.parentElement.classList.toggle("away", Boolean(detail.away));
});
keeper.addEventListener("moved", ({ detail }) => {
  ask(detail.detail, [
    ["Take what is there", () => { keeper.forget(); location.reload(); }],
    ["Keep what is here", () => keeper.overwrite(detail.version)],
  ]);
});

// ---- what this device kept

const moment = (at) => new Date(at).toLocaleString("en-GB", {
  day: "numeric", month: "short", hour: "2-digit", minute: "2-digit",
});

function ask(words, answers) {
  offer.querySelector("[data-offer-words]").textContent = words;
  offer.querySelector(".actions").replaceChildren(
    ...answers.map(([label, act]) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = label;
      button.addEventListener("click", () => { offer.hidden = true; act(); });
      return button;
    }),
  );
  offer.hidden = false;
}

function takeBack(stored) {
  note.value = stored.note ?? note.value;
  if (stored.table) {
    sheet.load(stored.table, { undoable: true });
  } else {
    text.value = stored.text;
    turnTo("text");
  }
  keeper.touch();
}

function offerUnsent() {
  const stored = keeper.unsent();
  if (!stored) return;
  if (stored.version === begun.version) {
    takeBack(stored);
    return;
  }
  ask(
    `On this device there is something from ${moment(stored.at)} that the server never got. Taken, it stands in place of what is below; Undo brings that back.`,
    [["Take it", () => takeBack(stored)], ["Leave it", () => keeper.forget()]],
  );
}

// ---- steps

const undo = document.querySelector("[data-undo]");
const redo = document.querySelector("[data-redo]");

function stepsAllowed() {
  undo.disabled = shows === "text" || !sheet.canUndo;
  redo.disabled = shows === "text" || !sheet.canRedo;
}

undo.addEventListener("click", () => sheet.undo());
redo.addEventListener("click", () => sheet.redo());
sheet.addEventListener("change", () => { keeper.touch(); stepsAllowed(); showTitle(); });
sheet.addEventListener("redraw", stepsAllowed);

function showTitle() {
  const row = sheet.section("vehicle").rows.find((each) => each.cells.word === "title");
  document.getElementById("title").textContent = row?.cells.text || "A circuit without a title";
}

// ---- typing

const renaming = new Renaming(sheet, ask);
grid.addEventListener("entered", ({ detail }) => { offers.show(detail); renaming.entered(detail); });
grid.addEventListener("left", ({ detail }) => renaming.left(detail));
grid.addEventListener("typed", ({ detail: { field, event } }) => {
  offers.finish(field, event);
  offers.show(field);
});
panels.table.addEventListener("keydown", (event) => {
  if (event.altKey && event.key === "ArrowRight" && offers.takeFirst()) event.preventDefault();
});
panels.table.addEventListener("focusout", (event) => {
  if (!panels.table.contains(event.relatedTarget)) offers.hide();
});
text.addEventListener("input", () => keeper.touch());
note.addEventListener("input", () => keeper.touch());
takePastes(panels.table, sheet, settings);
offerDevices(document.getElementById("device"), document.querySelector("[data-device]"), {
  sheet, settings, address: desk.dataset.pins, token,
});

// The form sends text; what is in the table becomes its text first.
form.addEventListener("submit", async (event) => {
  const by = event.submitter;
  if (by?.hasAttribute("data-throw") && !confirm("Throw this draft away for good?")) {
    event.preventDefault();
    return;
  }
  if (form.dataset.ready || by?.hasAttribute("data-throw")) {
    if (by?.hasAttribute("data-throw")) {
      view.end();
      keeper.forget();
    }
    return;
  }
  event.preventDefault();
  const answer = await keeper.flush("text");
  if (!answer) return;
  view.end();
  text.value = answer.text;
  form.dataset.ready = "yes";
  form.requestSubmit(by);
});

// ---- begin

for (const scripted of document.querySelectorAll("[data-scripted]")) scripted.hidden = false;
for (const unscripted of document.querySelectorAll("[data-unscripted]")) unscripted.hidden = true;
panels.text.setAttribute("role", "tabpanel");
panels.text.setAttribute("aria-labelledby", "tab-text");
sheet.load(begun.table);
turnTo("table");
showFindings(begun.findings, sheet.sent().ids);
view.follow(begun.works);
offerUnsent();
