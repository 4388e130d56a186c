// Slide along a fault's severity, and find a fault by typing. The form works without this script;
// with it the slider writes what it stands for into the field, and htmx fetches the readings.
"use strict";

(() => {
  const form = document.getElementById("what-if");
  const list = form.querySelector("select[name=fault]");
  const field = form.querySelector("input[name=severity]");
  const slide = document.getElementById("slide");
  const told = document.getElementById("told");
  const find = document.getElementById("find-fault");
  const found = document.getElementById("found-faults");

  for (const element of form.querySelectorAll("[data-needs-script]")) element.hidden = false;

  // ---- the slider: stop 0 is healthy, then numbers evenly by their logarithms, then the end

  const scale = () => document.querySelector("[data-scale]")?.dataset;

  const written = (number, unit, digits) => {
    const steps = unit === "ohm"
      ? [[1e6, "MOhm"], [1e3, "kOhm"], [1, "Ohm"], [1e-3, "mOhm"]]
      : unit === "%" ? [[1e-2, "%"]] : [[1, unit], [1e-3, `m${unit}`]];
    const [size, word] = steps.find(([least]) => number >= least * 0.9995) ?? steps.at(-1);
    return `${Number((number / size).toPrecision(digits))} ${word}`;
  };

  const wordsAt = (stop) => {
    const { mildest, worst, last, end, unit } = scale();
    const numbers = Number(last) - (end ? 1 : 0);
    if (stop <= 0) return "healthy";
    if (stop >= Number(last)) return end;
    // Rounded like all others, the mildest could fall below what the fault can be.
    const digits = stop === 1 ? 6 : 3;
    return written(mildest * (worst / mildest) ** ((stop - 1) / (numbers - 1)), unit, digits);
  };

  const follow = () => {
    const now = scale();
    slide.disabled = !now;
    if (!now) return;
    slide.max = now.last;
    if (document.activeElement !== slide) slide.value = now.stop;
    slide.setAttribute("aria-valuetext", now.words);
  };

  const change = (element) => element.dispatchEvent(new Event("change", { bubbles: true }));

  slide.addEventListener("input", () => {
    field.value = wordsAt(Number(slide.value));
    slide.setAttribute("aria-valuetext", field.value || "as bad as it can be");
  });

  for (const button of form.querySelectorAll("button[name=severity]")) {
    button.addEventListener("click", (event) => {
      event.preventDefault();
      field.value = button.value;
      if (scale()) slide.value = button.value === "healthy" ? 0 : slide.max;
      change(field);
    });
  }

  // Another fault has another scale: begin at its end.
  list.addEventListener("change", () => { field.value = ""; });

  document.addEventListener("htmx:afterSwap", (event) => {
    if (event.target.id !== "readings") return;
    follow();
    told.textContent = scale()?.told ?? "";
  });

  // ---- finding: what does not match leaves the list, but never what is chosen

  const groups = [...list.querySelectorAll("optgroup")].map((group) => ({
    group,
    options: [...group.children].map((option) => ({
      option,
      words: `${group.label} ${option.textContent} ${option.value}`.toLowerCase(),
    })),
  }));

  const narrow = () => {
    const words = find.value.toLowerCase().split(/\s+/).filter(Boolean);
    let count = 0;
    for (const { group, options } of groups) {
      const kept = options.filter(({ option, words: own }) => {
        const matches = words.every((word) => own.includes(word));
        count += matches ? 1 : 0;
        return matches || option.selected;
      });
      group.replaceChildren(...kept.map(({ option }) => option));
      if (kept.length) list.append(group);
      else group.remove();
    }
    found.textContent = words.length ? count === 1 ? "1 fault matches" : `${count} faults match` : "";
  };

  find.addEventListener("input", (event) => {
    event.stopPropagation();
    narrow();
  });
  find.addEventListener("change", (event) => event.stopPropagation());
  find.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" && event.key !== "ArrowDown") return;
    event.preventDefault();
    list.focus();
    const first = list.querySelector("optgroup option");
    if (event.key !== "Enter" || !first || !find.value.trim()) return;
    list.value = first.value;
    change(list);
  });

  follow();
})();
