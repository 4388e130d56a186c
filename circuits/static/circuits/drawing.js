"use strict";
// The phases as a slider: the links work by themselves; here they change the drawing in place, and
// the arrow keys go from one to the next. A connection in the drawing leads to its path.
(() => {
  const shown = () => document.querySelector("[data-shown]");
  const links = () => [...document.querySelectorAll(".phase-slider a")];
  let latest = 0;

  async function show(href, keepFocus) {
    const turn = ++latest;
    const scrolled = [...document.querySelectorAll(".drawn-sheet")].map((each) => [each.scrollLeft, each.scrollTop]);
    const answer = await fetch(href, { headers: { "X-Requested-With": "fetch" } });
    if (!answer.ok) { window.location.assign(href); return; }
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const fresh = page.querySelector("[data-shown]");
    if (turn !== latest || !fresh) { return; }
    shown().replaceWith(fresh);
    history.replaceState(null, "", href);
    document.querySelectorAll('input[name="phase"]').forEach((field) => {
      field.value = new URL(href, window.location.href).searchParams.get("phase") || "";
    });
    document.querySelectorAll(".drawn-sheet").forEach((each, number) => {
      if (scrolled[number]) { each.scrollTo(...scrolled[number]); }
    });
    const current = document.querySelector(".phase-slider a[aria-current]");
    current?.scrollIntoView({ block: "nearest", inline: "nearest" });
    if (keepFocus) { current?.focus({ preventScroll: true }); }
  }

  document.addEventListener("click", (event) => {
    const link = event.target.closest?.(".phase-slider a");
    if (link && !event.ctrlKey && !event.metaKey && !event.shiftKey && event.button === 0) {
      event.preventDefault();
      show(link.href, true);
      return;
    }
    const net = event.target.closest?.(".schematic .d-net");
    const pin = document.getElementById("id_pin");
    if (net && pin) {
      pin.value = net.dataset.net;
      pin.form.requestSubmit();
    }
  });

  document.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    const link = event.target.closest?.(".phase-slider a");
    if (!step || !link) { return; }
    const all = links();
    const next = all[all.indexOf(link) + step];
    event.preventDefault();
    if (next) { show(next.href, true); }
  });
})();
