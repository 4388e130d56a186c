// Rows of a form that can grow: readings and fault codes. Without this script the same buttons ask
// the server for a longer form; with it the row appears at once and the keyboard goes on.
"use strict";

(() => {
  const prepare = (list) => {
    const prefix = list.dataset.rows;
    const template = list.querySelector(":scope > template");
    const total = document.getElementById(`id_${prefix}-TOTAL_FORMS`);
    const body = list.querySelector("[data-rows-body]");
    const rows = () => [...body.querySelectorAll("[data-row]")];
    const field = (row, name) => row.querySelector(`[name$="-${name}"]`);

    const add = () => {
      const last = rows().at(-1);
      const holder = document.createElement("template");
      holder.innerHTML = template.innerHTML
        .replaceAll("__prefix__", total.value)
        .replaceAll("__number__", rows().length + 1);
      const row = holder.content.querySelector("[data-row]");
      body.append(row);
      total.value = Number(total.value) + 1;
      if (last) carryOver(last, row);
      if (window.htmx) window.htmx.process(row);
      return row;
    };

    // The next reading is mostly taken in the same phase, at the place after the last one.
    const carryOver = (last, row) => {
      for (const name of ["phase", "symptom_present", "stage"]) {
        if (field(last, name) && field(row, name)) field(row, name).value = field(last, name).value;
      }
      const from = field(last, "place");
      const to = field(row, "place");
      if (!from || !to || !from.value) return;
      const next = from.selectedIndex + 1;
      if (next < to.options.length) to.selectedIndex = next;
    };

    const remove = (row) => {
      const neighbour = row.nextElementSibling ?? row.previousElementSibling;
      const mark = field(row, "DELETE");
      if (mark) mark.checked = true;
      row.hidden = true;
      row.removeAttribute("data-row");
      for (const input of row.querySelectorAll("input, select, textarea")) {
        if (input !== mark) input.required = false;
      }
      (neighbour?.querySelector("[data-row-value]") ?? list.querySelector("[data-add-row]")).focus();
    };

    list.addEventListener("click", (event) => {
      const adder = event.target.closest("[data-add-row]");
      const remover = event.target.closest("[data-remove-row]");
      if (adder) {
        event.preventDefault();
        const row = add();
        (row.querySelector("select, input") ?? row).focus();
      } else if (remover) {
        event.preventDefault();
        remove(remover.closest("[data-row]"));
      }
    });

    list.addEventListener("keydown", (event) => {
      if (event.key !== "Enter" || event.ctrlKey || event.metaKey || event.isComposing) return;
      if (!event.target.matches("[data-row-value]")) return;
      event.preventDefault();
      const row = event.target.closest("[data-row]");
      const next = rows()[rows().indexOf(row) + 1] ?? add();
      next.querySelector("[data-row-value]").focus();
    });
  };

  const prepareAll = (root) => {
    for (const list of root.querySelectorAll("[data-rows]:not([data-ready])")) {
      list.dataset.ready = "";
      prepare(list);
    }
  };

  prepareAll(document);
  // A circuit chosen on the way brings its own places: the rows are drawn anew by the server.
  document.addEventListener("htmx:afterSettle", () => prepareAll(document));
})();
